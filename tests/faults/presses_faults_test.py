"""Deliberate faults of what is pressed against the readings, and of advice as data: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

CONTRADICTION, COMMANDS = "daemon/bench/contradiction.cpp", "daemon/bench/commands.cpp"
CHECKS, APPLY, SUSPICION = "daemon/bench/checks.cpp", "daemon/bench/apply.cpp", "daemon/bench/suspicion.cpp"
ADVICE, FRAME, DECIDER = "daemon/decider/advice.cpp", "daemon/decider/frame.cpp", "daemon/decider/decider.cpp"


class Presses(fault.Faults):
    FAULTS = [
        Fault("far is five permissible errors alone", CONTRADICTION,
              "return std::max(far_errors * instrument.mpe_pa, of_pressure);", "return far_errors * instrument.mpe_pa;",
              "bench", "Contradiction.FarIs*"),
        Fault("one of three contradicts a float", CONTRADICTION, "if (2 * all.size() <= seen.size()) all.clear();", "",
              "bench", "Contradiction.AFloatIs*"),
        Fault("a press is held against nothing", COMMANDS, "    if (contradicted.empty()) return facts;\n",
              "    if (contradicted.empty() || !press.despite) return facts;\n", "bench", "Contradiction.AConfirmation*"),
        Fault("no reason is asked for", COMMANDS, "    if (press.reason.empty())\n", "    if (press.by.empty())\n", "bench",
              "Contradiction.AConfirmation*"),
        Fault("the reason is not kept", COMMANDS, "    facts.emplace_back(std::move(fact));\n", "", "bench",
              "Contradiction.AConfirmation*"),
        Fault("what is taken back leaves its reason", APPLY, "    state.overruled = std::move(before.overruled);\n", "",
              "bench", "Contradiction.AConfirmation*"),
        Fault("relieving is not held against a pressure", COMMANDS, "now->lets_down ? contradict_no_pressure",
              "false ? contradict_no_pressure", "bench", "Contradiction.ALineWithout*"),
        Fault("any work is held against a pressure", COMMANDS, "now->lets_down ? contradict_no_pressure",
              "true ? contradict_no_pressure", "bench", "Contradiction.OtherWork*"),
        Fault("an open line is not held against a pressure", COMMANDS,
              "{LineVented{press.by, press.pressed_us}},\n                                 contradict_no_pressure(state, press.seen));",
              "{LineVented{press.by, press.pressed_us}}, {});", "bench", "Zero.AnInstrumentUnder*"),
        Fault("zeros are read under pressure", CHECKS, "*step->check == CheckKind::zero ? contradict_no_pressure",
              "false ? contradict_no_pressure", "bench", "Checks.ZerosAre*"),
        Fault("a look is not held against the readings", COMMANDS,
              "contradict_float(state, press.seen, interval->range, interval->discs));", "{});", "bench",
              "Contradiction.StillFloats*"),
        Fault("an entry may be anything", COMMANDS, "if (const auto one = contradict_entry(state, index, fact)) contradicted",
              "if (const auto one = contradict_entry(state, index, fact); false) contradicted", "bench",
              "Contradiction.AnEntry*"),
        Fault("a preload passes at no pressure", CHECKS, "*result.value >= step.wait_s && contradicted.empty();",
              "*result.value >= step.wait_s;", "bench", "Contradiction.APreload*"),
        Fault("a failed hold is judged at each moment", COMMANDS, "if (preload_failed(*run)) return {}; // it waits for a person",
              "", "bench", "Contradiction.APreload*"),
        Fault("a hold that goes on is gone on after", CHECKS, "step->kind == StepKind::check || preload_failed(*run);",
              "step->kind == StepKind::check || step->check == CheckKind::preload;\n    if (step->kind == StepKind::wait)\n        return std::vector<Fact>{CheckWaived{run->id, number, word(*step->check), reason, press.by}};",
              "bench", "Contradiction.APreloadWhile*"),
        Fault("an unbracketed mark is expected again", SUSPICION,
              "mark.status == MarkStatus::sighted || mark.status == MarkStatus::vented;", "mark.status != MarkStatus::voided;",
              "bench", "Contradiction.AWrongLoad*"),
        Fault("a look that is too early closes the float", COMMANDS, "close && !look.early.empty())", "close && false)",
              "bench", "Contradiction.ALook*"),
        Fault("the step asks for a look that cannot count", FRAME, 'wants = early_us > 0 ? "nothing" : "sighted";',
              'wants = "sighted";', "decider", "Presses.TheStepAsks*"),
        Fault("an old reading contradicts", DECIDER,
              "const auto* reading = live.fresh(now_us(), state_.bench->instruments[i].poll_s);",
              "const auto* reading = live.latest_good ? &*live.latest_good : nullptr;", "decider", "Presses.APressIs*"),
        Fault("a fall is an overshoot", ADVICE, "if (falling && beyond_pa < least_part * target_pa)", "if (false)", "decider",
              "Presses.AFall*"),
        Fault("over-pressure stands below other advice", ADVICE, "        over_pressure();\n", "", "decider", "Presses.AdviceIs*"),
        Fault("a contradiction without its instruments over HTTP", "daemon/gateway/http_routes.cpp",
              'if (reply.contains("contradicted")) members', "if (false) members", "gateway", "Requests.AContradicted*"),
        Fault("over-pressure beside the step", "daemon/cli/follow_view.cpp", "    if (frame.is_over_pressure()) {\n",
              "    if (false) {\n", "cli", "Screen.OverPressure*"),
        Fault("the keys of the step at over-pressure", "daemon/cli/follow_keys.cpp",
              "if (frame.is_over_pressure() && key != 'x') {", "if (false) {", "cli", "FollowKeys.AtOver*"),
        Fault("a reason sends the old instant", "daemon/cli/follow_keys.cpp",
              '        again.body["pressed_us"] = now_us;\n', "", "cli", "FollowKeys.AReason*"),
        Fault("a hold that was contradicted is printed as good", "daemon/records/check_words.cpp",
              "word(bench::CheckKind::preload) && !check.passed && value >= limit)",
              "word(bench::CheckKind::preload) && check.passed && value < limit)", "records", "Content.AHold*"),
        Fault("a press against the readings is not printed", "daemon/records/content.cpp",
              "for (auto& overruled : overruled_readings(state, *runs[i], channels[i]))\n            one.overridden.push_back(std::move(overruled));",
              "static_cast<void>(channels[i]);", "records", "Content.APress*"),
    ]


if __name__ == "__main__":
    unittest.main()
