"""Deliberate faults of the physics and of the wire's numbers: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

EQUATION = "daemon/metrology/pressure_equation.hpp"


class Physics(fault.Faults):
    FAULTS = [
        Fault("sign of the buoyancy", EQUATION, "mass * (1.0 - air_density_kg_m3 / piece.density_kg_m3)",
              "mass * (1.0 + air_density_kg_m3 / piece.density_kg_m3)", "metrology", "PressureEquation.*",
              ["tests/metrology/pressure_equation_test.cpp"]),
        Fault("lambda dropped", EQUATION, "forces.distortion_per_pa = in.distortion_per_pa;",
              "forces.distortion_per_pa = Scalar{};", "metrology", "PressureEquation.*",
              ["tests/metrology/pressure_equation_test.cpp"]),
        Fault("sign of the head", EQUATION, "gravity_m_s2 *\n           stretch.height_m;", "gravity_m_s2 *\n           -stretch.height_m;",
              "metrology", "PressureEquation.*", ["tests/metrology/pressure_equation_test.cpp"]),
        Fault("conventional mass taken as true", EQUATION,
              "piece.conventional ? true_mass_kg(stated, piece.density_kg_m3) : stated", "stated",
              "metrology", "ConventionalMass.*", ["tests/metrology/conventional_mass_test.cpp"]),
        Fault("slope bound without correlation", "daemon/acquisition/line_judgement.hpp",
              "std::sqrt(variance * (1 + r) / (fit.sxx_s2 * (1 - r)))", "std::sqrt(variance / fit.sxx_s2)", "acquisition",
              "Window.*:Simulation.ADriftAtTheLimit*",
              ["daemon/acquisition/window_statistics.cpp"]),
        Fault("hold skipped", "daemon/acquisition/stillness_detector.cpp", "if (at_us - *passing_since_us_ >= hold_us_)",
              "if (at_us - *passing_since_us_ >= 0)", "acquisition", "Detector.*"),
        Fault("word order swapped", "drivers/register_words.cpp",
              "const bool words_swapped = order == ByteOrder::cdab || order == ByteOrder::dcba;",
              "const bool words_swapped = order == ByteOrder::abcd || order == ByteOrder::badc;", "drivers",
              "Decode*"),
    ]


if __name__ == "__main__":
    unittest.main()
