"""Deliberate faults of gas, of the evacuated bell, and of what instruments count from: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

LINE = "daemon/metrology/line.hpp"
VALUES = "daemon/metrology/reference_values.hpp"
COMPONENTS = "daemon/metrology/reference_components.hpp"
AMBIENT = "daemon/bench/ambient.cpp"
BY_VENTED = ["tests/metrology/vented_line_test.cpp", "daemon/metrology/vented_line.cpp", "daemon/metrology/budget.cpp"]
TESTS = "tests/metrology/gas_test.cpp"
BY_RESULT = [TESTS, "daemon/metrology/reference_pressure.cpp"]


class Gas(fault.Faults):
    FAULTS = [
        Fault("density of the gas at gauge pressure", LINE,
              "const Scalar absolute_pa = around.is_gauge ? pressure_pa + ambient_pa : pressure_pa;",
              "const Scalar absolute_pa = pressure_pa;", "metrology", "GasHead.*", [TESTS]),
        Fault("column of air not taken off", LINE, "pressure_pa += around.is_gauge ? gains_pa - air_gains_pa : gains_pa;",
              "pressure_pa += gains_pa;", "metrology", "GasHead.*", [TESTS]),
        Fault("barometer forgotten", LINE, "absolute_pa = is_gauge ? pressure_pa + ambient_pa : pressure_pa;",
              "absolute_pa = pressure_pa;", "metrology", "CountedFrom.*", BY_RESULT),
        Fault("sealed reference added", LINE, "absolute_pa - sealed_reference_pa",
              "absolute_pa + sealed_reference_pa", "metrology", "CountedFrom.*", BY_RESULT),
        Fault("the barometer's level forgotten", "daemon/metrology/air_density.hpp",
              "const Scalar gain = exp(density / read_pa * gravity_m_s2 * barometer_height_m);",
              "const Scalar gain = exp(0.0 * density / read_pa * gravity_m_s2 * barometer_height_m);", "metrology",
              "VentedLine.*", BY_VENTED),
        Fault("the uncertainty of the barometer's level forgotten", COMPONENTS,
              'inventory.add("level of the barometer", values.barometer_height_m, air.barometer_height_m);', "",
              "metrology", "VentedLine.*", BY_VENTED),
        Fault("a vented line without its head", "daemon/metrology/vented_line.hpp",
              "way.through(segment, around, Scalar{});", "(void)segment;", "metrology", "VentedLine.*", BY_VENTED),
        Fault("a vented line begins in vacuum", "daemon/metrology/vented_line.hpp",
              "way.ambient_pa = values.air.pressure_pa;", "way.ambient_pa = Scalar{};", "metrology", "VentedLine.*",
              BY_VENTED),
        Fault("a zero counts as the balance does", AMBIENT,
              "const auto line = vented ? metrology::PressureKind::gauge : bench.balance.mode;",
              "const auto line = bench.balance.mode;", "bench", "AmbientPressure.*"),
        Fault("the bench file's pressure is a reading", "daemon/bench/apply.cpp",
              "to.pressure_read_us = to.by_person ? std::optional(at_us) : std::nullopt;",
              "to.pressure_read_us = at_us;", "bench", "AmbientPressure.*"),
        Fault("any statement reads the barometer", "daemon/bench/apply.cpp",
              "if (fact.air_pressure_pa) to.pressure_read_us", "if (true) to.pressure_read_us", "bench",
              "AmbientPressure.*"),
        Fault("a reading of the barometer never grows old", AMBIENT,
              "return read_us && now_us - *read_us <= micros(state.bench->surroundings.air_pressure_valid_s);",
              "return read_us.has_value();", "bench", "AmbientPressure.*"),
        Fault("the air may change as it likes", AMBIENT, "if (std::abs(change_pa) > limits.air_pressure_drift_pa)",
              "if (false)", "bench", "AmbientPressure.*"),
        Fault("gauge instruments wait for the barometer too", AMBIENT,
              "if (!rests_on_ambient(*state.bench, instrument, vented)) return {};", "", "bench", "AmbientPressure.*"),
        Fault("a certificate without its barometer", "daemon/bench/standards.cpp",
              'if (rests_on_ambient) needed.push_back("barometer");', "", "bench", "AmbientPressure.*"),
        Fault("an approach under another day's air", "daemon/bench/mark.cpp",
              "if (rests_on_ambient(*state.bench, instrument, false) && !run->air.empty())", "if (false)", "bench",
              "AmbientPressure.*"),
        Fault("a zero check without the barometer", "daemon/bench/checks.cpp",
              "ambient_obstacle(state, instrument, true, press.now_us); !why.empty())",
              "std::string(); !why.empty())", "bench", "AmbientPressure.*"),
        Fault("a run puts a good reading aside", "daemon/bench/commands.cpp",
              "if (!barometer_is_current(state, press.now_us)) stated", "stated", "bench", "AmbientPressure.*"),
        Fault("buoyancy of the air in the bell", VALUES, "values.mode == PressureKind::absolute\n            ? dry_air",
              "false\n            ? dry_air", "metrology", "AbsoluteMode.*", BY_RESULT),
        Fault("residual pressure forgotten", "daemon/metrology/pressure_equation.hpp",
              "forces) + in.residual_pressure_pa;", "forces);", "metrology", "AbsoluteMode.*", BY_RESULT),
        Fault("second virial coefficient dropped", "daemon/metrology/gas.hpp", "ideal_mol_m3 * (b + ",
              "ideal_mol_m3 * (0.0 * b + ", "metrology", "GasDensity.*", [TESTS]),
    ]


if __name__ == "__main__":
    unittest.main()
