"""Deliberate faults of the checks before a run: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

CHECKS = "daemon/bench/checks.cpp"
RUNS = "daemon/bench/runs.cpp"


class Checks(fault.Faults):
    FAULTS = [
        Fault("a short warm-up passes", CHECKS, "result.passed = *powered_s >= *result.limit;", "result.passed = true;",
              "bench", "Checks.*"),
        Fault("tilted the other way is level", CHECKS, "std::abs(*tilt_rad) <= *result.limit",
              "*tilt_rad <= *result.limit", "bench", "Checks.*"),
        Fault("any number of turns", CHECKS, "*turns <= purge.most_turns", "*turns <= 1e9", "bench", "Checks.*"),
        Fault("a rise is no fall", CHECKS, "} else if (std::abs(fall_pa) > leak.drop_pa) {",
              "} else if (fall_pa > leak.drop_pa) {", "bench", "Checks.*"),
        Fault("wherever the pressure stands", CHECKS,
              "if (seen.mean_pa < 0.8 * leak.at_pa || seen.mean_pa > 1.1 * leak.at_pa) {", "if (seen.mean_pa < 0) {",
              "bench", "Checks.*"),
        Fault("noise hides a leak", CHECKS, "} else if (unsure_pa > leak.drop_pa) {", "} else if (false) {", "bench",
              "Checks.*"),
        Fault("a third of the watch is missing", CHECKS, "if (covered < 0.8)", "if (covered < 0)", "bench", "Checks.*"),
        Fault("the head forgotten at zero", CHECKS, "*shown_pa - reference_vented(state, *found).at_instrument_pa",
              "*shown_pa", "bench", "Checks.*"),
        Fault("a good check can be passed over too", CHECKS,
              "if (standing_failure(*run, run->step) == nullptr) return", "if (false) return",
              "bench", "Checks.*"),
        Fault("a failed check goes on", RUNS, "open_needs(*run, *step).empty();", "true;", "bench", "Checks.*"),
        Fault("a preload without its float", RUNS,
              "if (step != nullptr && step->check == CheckKind::preload && !float_agrees(state, *step))", "if (false)",
              "bench", "Checks.*"),
        Fault("absolute readings held against gauge ratings", "daemon/bench/reference.cpp",
              "return reading_pa - air.pressure_pa.value;", "return reading_pa;", "bench", "Ratings.*"),
    ]


if __name__ == "__main__":
    unittest.main()
