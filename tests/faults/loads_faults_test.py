"""Deliberate faults of the plan of loads and of the advice on a wrong load: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

PLAN = "daemon/metrology/loads/load_plan.cpp"
WRONG = "daemon/metrology/loads/wrong_load.cpp"
LOADS = "daemon/bench/planned_loads.cpp"


class Loads(fault.Faults):
    FAULTS = [
        Fault("the way back down is free", PLAN, "cost = cost + lifting(top);\n            }", "}", "loads",
              "LoadPlan.*"),
        Fault("lifts counted and mass forgotten", PLAN, "return {1, order_.lifted[place], 0};", "return {1, 0, 0};",
              "loads", "LoadPlan.*"),
        Fault("the tolerance left out", PLAN, "+ micrograms(point.tolerance_kg);", ";", "loads", "LoadPlan.*"),
        Fault("small below big", "daemon/metrology/loads/stack_order.cpp",
              "discs[a].lifted_kg > discs[b].lifted_kg", "discs[a].lifted_kg < discs[b].lifted_kg", "loads", "LoadPlan.*"),
        Fault("discs of other ranges used", "daemon/metrology/loads/near_loads.cpp",
              "if (range >= kind.serves.size() || kind.serves[range]) kinds.push_back(kind);", "kinds.push_back(kind);",
              "loads", "LoadPlan.*"),
        Fault("the nearest from below only", "daemon/metrology/loads/near_loads.cpp",
              "if (at < small_.size()) offer(one, small_[at]);", "", "loads", "LoadPlan.*"),
        Fault("a disc taken out from under others", "daemon/metrology/loads/disc_moves.cpp",
              "for (std::size_t i = from.size(); i-- > stays;)", "for (std::size_t i = stays; i < from.size(); ++i)",
              "loads", "DiscMoves.*"),
        Fault("the rating forgotten", LOADS,
              "std::min(of.highest_pa * (1 + range_slack), bench.weakest().rating_pa)", "of.highest_pa * (1 + range_slack)",
              "loads", "PlannedLoads.*"),
        Fault("the rule of the stopped pistons forgotten", LOADS, "if (least_kg >= 0)", "if (least_kg >= 1e9)", "loads",
              "PlannedLoads.*"),
        Fault("a missing disc makes more pressure", WRONG,
              "with(-load.discs_kg[i]), prior);", "with(load.discs_kg[i]), prior);", "loads", "WrongLoad.*"),
        Fault("what was moved does not count", WRONG, "load.moved[i] ? moved_disc : other_disc", "other_disc", "loads",
              "WrongLoad.*"),
        Fault("channels need not agree", WRONG, "if (3 * common.agreeing < 2 * channels.size() || !(weights > 0))",
              "if (!(weights > 0))", "loads", "CommonOffset.*"),
        Fault("an interval explains as well as a figure", WRONG, "prior * within / (to_pa - from_pa)", "prior * within",
              "loads", "WrongLoad.*"),
        Fault("leak and gap taken for each other", "daemon/metrology/loads/lost_float.cpp",
              "gap_m3_per_s / (evidence.compressibility_per_pa * drift)",
              "evidence.compressibility_per_pa * drift / gap_m3_per_s", "loads", "LostFloat.*"),
        Fault("more spin is worse", "daemon/metrology/loads/balance_health.cpp",
              "sign == HealthSign::spin_time ? ratio < 1 / factor : ratio > factor", "ratio > factor", "loads", "Health.*"),
    ]


if __name__ == "__main__":
    unittest.main()
