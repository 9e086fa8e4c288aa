"""Deliberate faults of the bench, its float ledger and its marks: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

MARK, LEDGER, COMMANDS = "daemon/bench/mark.cpp", "daemon/bench/ledger.cpp", "daemon/bench/commands.cpp"
APPLY = "daemon/bench/apply.cpp"
DECIDER, LIVE = "daemon/decider/decider.cpp", "daemon/decider/live_channel.hpp"


class Ledger(fault.Faults):
    FAULTS = [
        Fault("head sign of the bench file", "daemon/bench/bench_fluid.cpp",
              "{std::pair{down, 1.0}, std::pair{up, -1.0}}", "{std::pair{down, -1.0}, std::pair{up, 1.0}}", "bench",
              "DemoBench.*:BenchFile.*:Mark.*"),
        Fault("settle guard ignored", MARK, "std::max(ground.from_us + micros(state.bench->balance.settle_guard_s),",
              "std::max(ground.from_us,", "bench",
              "Guard.*"),
        Fault("expiry ignored", COMMANDS, "interval != nullptr && now_us >= interval->expires_us)",
              "interval != nullptr && now_us < 0)", "bench", "Ledger.Expiry*"),
        Fault("mark across the expiry of a float accepted", MARK, "if (to_us + window.largest_timing_us > ground.until_us)",
              "if (false)", "bench", "Guard.AWindowEnds*"),
        Fault("window goes on across the end of a float", MARK, "interval->number == permit.interval)", "true)", "bench",
              "Guard.NoWindow*"),
        Fault("void not recorded on a loss", LEDGER, "        mark.status = MarkStatus::voided;\n        mark.void_because",
              "        mark.void_because", "bench", "Ledger.ALoss*"),
        Fault("loss guard ignored", LEDGER, "const Micros guard_us = micros(state.bench->balance.loss_guard_s);",
              "const Micros guard_us = 0;", "bench", "Ledger.ALoss*"),
        Fault("stale press accepted", COMMANDS, "constexpr Micros stale_us = 2'000'000;",
              "constexpr Micros stale_us = 2'000'000'000'000;", "bench", "Press.*"),
        Fault("sighting brackets later windows", LEDGER,
              "mark.status == MarkStatus::provisional && mark.taken.to_us + mark.taken.timing_us <= fact.pressed_us",
              "mark.status == MarkStatus::provisional", "bench", "Ledger.ASighting*"),
        Fault("restart takes a float for lost", LEDGER, "end(state, *interval, IntervalEnd::unknown, at_us);",
              "fold(state, at_us, FloatLost{{}, at_us});", "bench", "Ledger.ARestart*"),
        Fault("overshoot not flagged", MARK, "if (approach.beyond_pa(mark.mean_pa) >", "if (-1.0 >", "bench", "Approach.*"),
        Fault("marks without surroundings", MARK, 'if (!conditions.stated) return "nobody stated the surroundings";', "",
              "bench", "Surroundings.*"),
    ]


class Zeros(fault.Faults):
    FAULTS = [
        Fault("line opened at any step", COMMANDS, "    if (now == nullptr || now->kind != StepKind::vent)\n", "    if (false)\n",
              "bench", "Zero.IsOpened*"),
        Fault("line still open after a restart", APPLY,
              "stayed.\n    state.vented.reset();\n", "stayed.\n", "bench",
              "Zero.TheLine*"),
        Fault("line still open when the statement is taken back", APPLY, "    state.vented = before.vented;\n", "", "bench",
              "Zero.TheLine*"),
        Fault("line still open when a load is stated", LEDGER,
              "    state.load = std::move(load);\n    state.vented.reset();\n", "    state.load = std::move(load);\n", "bench",
              "Zero.TheLine*"),
        Fault("standing zero read again", COMMANDS, "            mark.status == MarkStatus::vented)", "            false)",
              "bench", "Zero.IsReadAgain*"),
        Fault("zero waits for a second look", APPLY, "zero ? MarkStatus::vented : MarkStatus::provisional",
              "zero ? MarkStatus::provisional : MarkStatus::provisional", "bench", "Zero.IsTheHead*"),
        Fault("dial read as soon as a wired instrument", MARK, "std::max(reading.wait_s, reading.wait_dial_s)",
              "reading.wait_s", "bench", "MethodRun.ADial*"),
        Fault("wait of the point before taken for that of a zero", "daemon/bench/runs.cpp",
              "now->kind == StepKind::raise || now->kind == StepKind::vent);", "now->kind == StepKind::raise);", "bench",
              "Methods/RunOf.*"),
        Fault("wait goes on under another load", "daemon/bench/runs.cpp",
              "        run->reached_us.reset(); // under another load it is another pressure\n", "", "bench", "Wait.BeginsAgain*"),
        Fault("wait goes on over a restart", APPLY,
              "        run->reached_us.reset();\n", "",
              "bench", "Wait.BeginsAgain*"),
        Fault("replay plans loads again", "daemon/bench/bench_sequences.cpp", "if (kept != bench_.planned_loads.end() &&",
              "if (false &&", "bench", "MethodRun.AReplay*"),
        Fault("winding before the one press forgotten", "daemon/bench/ledger.cpp",
              "state.load->pressed_us == fact.pressed_us", "false", "decider", "Queries.WindingBefore*"),
        Fault("the past of an approach is not taken", DECIDER, "    for (const double value_pa : values_pa)\n",
              "    for (const double value_pa : std::vector<double>())\n", "decider", "Queries.WindingBefore*"),
        Fault("the deciding thread reads the past", DECIDER, "post(disk_, [this, alive = alive_, channel,",
              "post(io_, [this, alive = alive_, channel,", "decider", "Queries.WindingBefore*"),
        Fault("the deciding thread reads the journal", DECIDER, "disk_, [this, alive = alive_, path = journal_path_",
              "io_, [this, alive = alive_, path = journal_path_", "decider", "FullDisk.WhatIs*"),
        Fault("faults of a kind are not counted", DECIDER, "again ? known->count + 1 : 1", "1", "decider", "Decider.TheFrameCarries*"),
        Fault("an old reading is one of now", LIVE, "now_us - latest_good->at_us <= acquisition::longest_silence_us(poll_s)", "true",
              "decider", "Decider.AReadingThat*", ["tests/decider/decider_test.cpp"]),
        Fault("no step to clamp anew", "daemon/bench/steps.cpp", "if (series.reclamp_before) reclamp(number);", "", "bench",
              "Methods/RunOf.*"),
    ]


if __name__ == "__main__":
    unittest.main()
