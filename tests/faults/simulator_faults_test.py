"""Deliberate faults of the simulated bench: a truth that is wrong would judge the service wrongly."""
import unittest

from faults import fault
from faults.fault import Fault

OIL = "simulator/hydraulics.cpp"
GAUGE = "simulator/gauge.cpp"
HAND = "simulator/hand.cpp"
FORCES = "simulator/force_balance.cpp"


class Simulated(fault.Faults):
    FAULTS = [
        Fault("the gap seeps though the line is shut off", OIL, "shut_off_ ? 0 : range.area_m2", "range.area_m2",
              "simulator", "ShutOffLine.*"),
        Fault("a piston that the line does not see floats", OIL, "return !shut_off_ && piston() == PistonState::floating",
              "return piston() == PistonState::floating", "simulator", "ShutOffLine.*"),
        Fault("the line is never opened again", OIL, "valves_ = i;\n        shut_off_ = false;", "valves_ = i;", "simulator",
              "ShutOffLine.*"),
        Fault("a leak that does not know the pressure", OIL, "circuit_.leak_m3_per_pa_s * pressure_pa_",
              "circuit_.leak_m3_per_pa_s * 4e7", "simulator", "ShutOffLine.*"),
        Fault("tightening leaves the leak", OIL, "circuit_.leak_m3_per_pa_s = 0;", "", "simulator", "ShutOffLine.*"),
        Fault("air by gauge pressure", OIL, "const double linear = spring * room_pa + circuit_.trapped_air_m3 - oil;",
              "const double linear = spring * room_pa - oil;", "simulator", "ShutOffLine.*"),
        Fault("no warming up", GAUGE, "cold_pa_ *= std::exp(-hydraulic_s / character_.warm_up_s)", "cold_pa_ *= 1",
              "simulator", "Gauge.*"),
        Fault("cold again at every start", GAUGE, "std::exp(-character.powered_s / character.warm_up_s)", "1", "simulator",
              "Gauge.*"),
        Fault("clamped anew as before", GAUGE, "++times_clamped_;", "", "simulator", "Gauge.*"),
        Fault("a shift of the zero alone", GAUGE, "(clamped_top_pa_ - clamped_zero_pa_) * part_of_span", "0 * part_of_span",
              "simulator", "Gauge.*"),
        Fault("discs taken from below", HAND, "lifts.off.push_back(head.back());\n        head.pop_back();",
              "lifts.off.push_back(head[stays]);\n        head.erase(head.begin() + static_cast<std::ptrdiff_t>(stays));",
              "simulator", "HandTest.*"),
        Fault("the pressure turns back under a lighter load", HAND, "oil.hold(pressure_pa);", "", "simulator", "HandTest.*"),
        Fault("buoyancy of air in the bell", FORCES, "if (!truth.bell_pa) return truth.air_density_kg_m3;",
              "return truth.air_density_kg_m3;", "simulator", "SimulatedGas.*"),
        Fault("an absolute instrument counts from the air", FORCES, "if (counting.from_air) return gauge_pa;",
              "return gauge_pa;", "simulator", "SimulatedGas.*"),
        Fault("a column of gas at gauge pressure", FORCES, "gas_column_pa(*truth.gas, gauge_pa + truth.air.pressure_pa,",
              "gas_column_pa(*truth.gas, gauge_pa,", "simulator", "SimulatedGas.*"),
        Fault("a zero under a shut line is a zero", "simulator/judge.cpp",
              "if (zero && !course.was_open(from_us, to_us))", "if (false)", "simulator", "JudgeTest.*"),
        Fault("any floating piston will do", HAND, "sight.piston != PistonState::floating || sight.other_piston",
              "sight.piston != PistonState::floating", "simulator", "HandTest.*"),
    ]


if __name__ == "__main__":
    unittest.main()
