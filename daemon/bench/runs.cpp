#include "daemon/bench/runs.hpp"

#include "daemon/bench/ambient.hpp"
#include "daemon/bench/certificates.hpp"
#include "daemon/bench/checks.hpp"
#include "daemon/bench/health.hpp"
#include "daemon/bench/ledger.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace stillmark::bench {

const char* word(RunEnd end) {
    switch (end) {
    case RunEnd::running:
        return "running";
    case RunEnd::finished:
        return "finished";
    case RunEnd::stopped:
        return "stopped";
    }
    return "";
}

Run* State::running() {
    return !runs.empty() && runs.back().end == RunEnd::running ? &runs.back() : nullptr;
}
const Run* State::running() const {
    return const_cast<State*>(this)->running();
}

const Mark* State::standing_mark(std::size_t channel, std::size_t visit) const {
    const Run* run = running();
    if (run == nullptr) return nullptr;
    for (auto mark = marks.rbegin(); mark != marks.rend() && mark->taken.run == run->id; ++mark)
        if (static_cast<std::size_t>(mark->taken.channel) == channel &&
            static_cast<std::size_t>(mark->taken.visit) == visit &&
            (mark->status == MarkStatus::provisional || mark->status == MarkStatus::sighted ||
             mark->status == MarkStatus::vented))
            return &*mark;
    return nullptr;
}

bool visit_complete(const State& state, const Run& run, std::size_t visit) {
    for (std::size_t channel = 0; channel < run.takes_part.size(); ++channel)
        if (run.owes_mark(channel, visit) && state.standing_mark(channel, visit) == nullptr) return false;
    return true;
}

namespace {

bool visit_sighted(const State& state, const Run& run, std::size_t visit) {
    for (std::size_t channel = 0; channel < run.takes_part.size(); ++channel) {
        if (!run.owes_mark(channel, visit)) continue;
        const Mark* mark = state.standing_mark(channel, visit);
        if (mark == nullptr || mark->status == MarkStatus::provisional) return false;
    }
    return true;
}

void go_to(State& state, Run& run, std::size_t step, Micros at_us, std::uint64_t number) {
    const bool forward = step > run.step;
    const std::size_t before = std::min(run.step, run.plan.steps.size() - 1);
    run.step = step;
    run.step_since_us = at_us;
    const Step* now = run.now();
    // The line is closed before anything else is done than reading the zero.
    if (now == nullptr || now->kind != StepKind::read || now->visit != run.plan.steps[before].visit)
        state.vented.reset();
    // An approach begins where a person begins to wind for the point; going back to raise again is the same approach.
    const bool begins =
        now != nullptr && (now->kind == StepKind::load || now->kind == StepKind::raise || now->kind == StepKind::vent);
    if (forward && begins && now->point &&
        (step == 0 || run.plan.steps[step - 1].point != now->point || run.plan.steps[step - 1].visit != now->visit)) {
        run.approach_from = static_cast<std::int64_t>(number);
        if (now->kind == StepKind::load)
            run.load_from = run.approach_from;
        else if (step == 0 || !is_raising_of(run.plan.steps[step - 1], *now))
            run.load_from = 0;
        run.reached_us.reset();
        for (auto& channel : state.channels)
            channel.beyond_pa.reset();
    }
}

/// The step of this kind that belongs to the same point, at or before the present one.
std::optional<std::size_t> step_back(const Run& run, StepKind kind) {
    const auto& steps = run.plan.steps;
    const auto& here = steps[run.step];
    for (std::size_t i = run.step + 1; i-- > 0;) {
        // On the way down valves are turned between the load and the raising.
        if (steps[i].kind == StepKind::act && i < run.step) continue;
        if (steps[i].point != here.point || (steps[i].visit && here.visit && steps[i].visit != here.visit)) break;
        if (steps[i].kind == kind) return i;
    }
    return std::nullopt;
}

} // namespace

std::vector<Tell> fold(State& state, Micros at_us, const RunStarted& fact) {
    const auto& sequences = state.bench->sequences;
    const auto found = std::find_if(sequences.begin(), sequences.end(),
                                    [&fact](const Sequence& one) { return one.name == fact.sequence; });
    if (found == sequences.end() || state.running() != nullptr) return {};
    Run run;
    run.id = fact.run;
    run.bench = state.bench;
    run.started_utc_us = at_us + state.utc_offset_us;
    run.sequence = static_cast<std::size_t>(found - sequences.begin());
    run.condition = fact.condition;
    run.by = fact.by;
    if (fact.override_health) {
        run.override_health = *fact.override_health;
        run.poor_at_start = poor_health(state, ranges_of(*state.bench, *found));
    }
    for (const auto& instrument : state.bench->instruments)
        run.takes_part.push_back(std::find(fact.instruments.begin(), fact.instruments.end(), instrument.name) !=
                                 fact.instruments.end());
    run.plan = plan_steps(*state.bench, *found);
    run.started_us = run.step_since_us = at_us;
    if (state.conditions.stated) run.air_at_start_c = state.conditions.air.temperature_c.value;
    if (state.conditions.stated) run.air.push_back(air_of(state.conditions));
    if (barometer_is_current(state, at_us)) run.ambient_at_start_pa = state.conditions.air.pressure_pa.value;
    move_on(state, at_us);
    state.load.reset();
    for (auto& channel : state.channels)
        channel.beyond_pa.reset();
    std::vector<Tell> told{{false, fmt::format("run {} begins: {}, {}", fact.run, fact.sequence, fact.condition)}};
    for (auto& words : validity_warnings(run))
        told.push_back({true, std::move(words)});
    for (const auto entry : run.poor_at_start)
        told.push_back({true, fmt::format("run {} uses a range in poor health ({}), overridden by {}: {}", run.id,
                                          judge_health(state, entry).words, run.by, run.override_health)});
    state.runs.push_back(std::move(run));
    return told;
}

std::vector<Tell> fold(State& state, Micros at_us, const RunStopped& fact) {
    Run* run = state.running();
    if (run == nullptr) return {};
    move_on(state, at_us);
    run->end = RunEnd::stopped;
    run->ended_us = at_us;
    run->ended_utc_us = at_us + state.utc_offset_us;
    run->reason = fact.reason;
    run->stopped_by_service = fact.by == by_service;
    return {{false, fmt::format("run {} stopped: {}", run->id, fact.reason)}};
}

std::vector<Tell> fold(State& state, Micros at_us, const RunFinished&) {
    Run* run = state.running();
    if (run == nullptr) return {};
    move_on(state, at_us);
    run->end = RunEnd::finished;
    run->ended_us = at_us;
    run->ended_utc_us = at_us + state.utc_offset_us;
    return {{false, fmt::format("run {} is finished", run->id)}};
}

std::optional<std::size_t> reopening_step(const Run& run, std::size_t visit) {
    std::optional<std::size_t> first;
    for (std::size_t i = 0; i < run.plan.steps.size(); ++i) {
        const Step& step = run.plan.steps[i];
        if (step.visit == visit && step.kind == StepKind::vent) first = i;
        if (step.visit == visit && step.kind == StepKind::raise) {
            const bool loads = i > 0 && run.plan.steps[i - 1].kind == StepKind::load;
            first = loads ? i - 1 : i;
        }
        // Reading at a later visit means that its float was confirmed, so its pressure was reached.
        if (step.visit && *step.visit > visit && step.kind == StepKind::read && run.step >= i) return std::nullopt;
        // The steps of the point do not tell how to turn the valves back.
        if (first && step.kind == StepKind::act && run.step > i) return std::nullopt;
    }
    return first && *first <= run.step ? first : std::nullopt;
}

std::vector<Tell> fold(State& state, Micros at_us, std::uint64_t number, const VisitReopened& fact) {
    Run* run = state.running();
    if (run == nullptr || fact.visit < 0) return {};
    const auto first = reopening_step(*run, static_cast<std::size_t>(fact.visit));
    if (!first) return {};
    move_on(state, at_us);
    go_to(state, *run, *first, at_us, number);
    run->approach_from = static_cast<std::int64_t>(number);
    run->load_from = 0;
    run->reached_us.reset();
    for (auto& channel : state.channels)
        channel.beyond_pa.reset();
    return {};
}

void answer(State& state, Micros at_us, std::uint64_t number, const Fact& fact) {
    Run* run = state.running();
    const Step* step = run != nullptr ? run->now() : nullptr;
    if (step == nullptr) return;
    const auto is_this_step = [run](std::int64_t said) {
        return said >= 0 && static_cast<std::size_t>(said) == run->step;
    };
    bool fulfilled = false;
    if (const auto* done = std::get_if<StepDone>(&fact)) {
        fulfilled = step->kind == StepKind::act && is_this_step(done->step);
        if (fulfilled) move_on(state, at_us);
    } else if (const auto* wait = std::get_if<WaitElapsed>(&fact)) {
        fulfilled = step->kind == StepKind::wait && is_this_step(wait->step);
    } else if (std::holds_alternative<LoadStated>(fact)) {
        run->reached_us.reset(); // under another load it is another pressure
        fulfilled = step->kind == StepKind::load && load_agrees(state, *step);
        // A load stated out of turn that is not the plan's: the point begins again with its load.
        if (!fulfilled && step->point && !load_agrees(state, *step)) {
            if (const auto back = step_back(*run, StepKind::load)) go_to(state, *run, *back, at_us, number);
            return;
        }
    } else if (std::holds_alternative<FloatConfirmed>(fact)) {
        fulfilled = step->kind == StepKind::raise && float_agrees(state, *step);
        if (fulfilled && !run->reached_us) run->reached_us = at_us;
    } else if (std::holds_alternative<FloatLost>(fact)) {
        run->reached_us.reset();
    } else if (std::holds_alternative<LineVented>(fact)) {
        fulfilled = step->kind == StepKind::vent;
    } else if (std::holds_alternative<CheckRecorded>(fact) || std::holds_alternative<CheckWaived>(fact)) {
        fulfilled = step->kind == StepKind::check && latest_check(*run, run->step) != nullptr &&
                    open_needs(*run, *step).empty();
        // Somebody goes on after the hold of a preload that failed.
        if (step->kind == StepKind::wait && step->check == CheckKind::preload)
            fulfilled = std::holds_alternative<CheckWaived>(fact);
    }
    if (fulfilled) go_to(state, *run, run->step + 1, at_us, number);
}

void settle(State& state, Micros at_us, std::uint64_t number) {
    Run* run = state.running();
    const Step* step = run != nullptr ? run->now() : nullptr;
    // A preload is held afloat; a piston that was lost is raised again, and the time begins anew.
    if (step != nullptr && step->check == CheckKind::preload && !float_agrees(state, *step))
        return go_to(state, *run, run->step - 1, at_us, number);
    if (step == nullptr || !step->visit || (step->kind != StepKind::read && step->kind != StepKind::sight)) return;
    const std::size_t read = step->kind == StepKind::read ? run->step : run->step - 1;
    const std::size_t visit = *step->visit;
    if (run->plan.steps[read - 1].kind == StepKind::vent) {
        if (visit_complete(state, *run, visit))
            go_to(state, *run, read + 1, at_us, number);
        else if (!state.vented)
            go_to(state, *run, read - 1, at_us, number);
        return;
    }
    if (visit_complete(state, *run, visit) && visit_sighted(state, *run, visit)) {
        // The next point asks for a float of its own, also where the same discs stay on.
        move_on(state, at_us);
        go_to(state, *run, read + 2, at_us, number);
    } else if (!float_agrees(state, *step)) {
        go_to(state, *run, read - 1, at_us, number);
    } else {
        const std::size_t wanted = visit_complete(state, *run, visit) ? read + 1 : read;
        if (wanted != run->step) go_to(state, *run, wanted, at_us, number);
    }
}

} // namespace stillmark::bench
