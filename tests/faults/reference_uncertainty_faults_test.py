"""Deliberate faults of what a reference's uncertainty is made of: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

COMPONENTS = "daemon/metrology/reference_components.hpp"
BUDGET = ["daemon/metrology/budget.cpp"]
DISTORTION = "daemon/metrology/distortion.cpp"
CAPABILITY = "daemon/bench/bench_uncertainty.cpp"


class ReferenceUncertainty(fault.Faults):
    FAULTS = [
        Fault("short form drops the drift", COMPONENTS,
              'inventory.add("drift of the area", range.area_drift, inputs.range.area_drift);',
              'if (!inputs.range.short_form) inventory.add("drift of the area", range.area_drift, '
              'inputs.range.area_drift);', "metrology", "ShortForm.*", BUDGET),
        Fault("short form drops local gravity", COMPONENTS,
              'inventory.add("local gravity", range.gravity_m_s2, inputs.site.gravity_m_s2);',
              'if (!inputs.range.short_form) inventory.add("local gravity", range.gravity_m_s2, '
              'inputs.site.gravity_m_s2);', "metrology", "ShortForm.*", BUDGET),
        Fault("short form counts twice what it covers", COMPONENTS,
              'add_unless_covered("effective area", range.area_m2, inputs.range.area_m2);',
              'inventory.add("effective area", range.area_m2, inputs.range.area_m2);', "metrology", "ShortForm.*",
              BUDGET),
        Fault("masses correlated by one whatever is stated", COMPONENTS, "common.u *= std::sqrt(r);", "common.u *= 1.0;",
              "metrology", "MassCorrelation.*", BUDGET),
        Fault("own part of a correlated mass dropped", COMPONENTS, "own.u *= std::sqrt(1 - r);", "own.u *= 0.0;",
              "metrology", "MassCorrelation.*", BUDGET),
        Fault("share of the standard uncertainty, not of the variance", "daemon/metrology/budget.cpp",
              "one.contribution_pa * one.contribution_pa / variance", "std::abs(one.contribution_pa) / out.u_pa",
              "metrology", "Budget.Shares*"),
        Fault("expanded by two whatever is known", "daemon/metrology/reference_pressure.cpp",
              "out.k = usual_coverage_factor(out.dof);", "out.k = 2;", "metrology", "Budget.Expands*"),
        Fault("piston shrinks the other way", DISTORTION, "(3 * piston.poisson - 1)", "(1 - 3 * piston.poisson)",
              "metrology", "Distortion.*"),
        Fault("materials swapped", DISTORTION, "(2 * cylinder.youngs_modulus_pa)", "(2 * piston.youngs_modulus_pa)",
              "metrology", "Distortion.*"),
        Fault("smaller of two capabilities", CAPABILITY, "std::max(least_pa, (range.constant_pa", "std::min(least_pa, (range.constant_pa", "bench",
              "Capability.*"),
        Fault("capability without its coverage factor", CAPABILITY, "magnitude_pa) / range.k * reported_k",
              "magnitude_pa) / 2 * reported_k", "bench", "Capability.*"),
    ]


if __name__ == "__main__":
    unittest.main()
