#include "daemon/bench/commands.hpp"

#include "daemon/bench/ambient.hpp"
#include "daemon/bench/bench_parts.hpp"
#include "daemon/bench/certificates.hpp"
#include "daemon/bench/checks.hpp"
#include "daemon/bench/health.hpp"
#include "daemon/bench/ledger.hpp"
#include "daemon/bench/mark.hpp"
#include "daemon/bench/reference.hpp"
#include "daemon/bench/runs.hpp"
#include "drivers/driver.hpp"

#include <boost/throw_exception.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <stdexcept>

namespace stillmark::bench {

Refusal refused(std::string why) {
    return {std::move(why), false};
}

Refusal malformed(std::string why) {
    return {std::move(why), true};
}

void throw_exception_from_error(const Refusal& refusal, const boost::source_location& at) {
    boost::throw_exception(std::runtime_error(refusal.why), at);
}

namespace {

/// Older than this on arrival a press no longer tells what is.
constexpr Micros stale_us = 2'000'000;
/// Two clocks of one machine differ by nothing; a little is left for a client that rounds.
constexpr Micros ahead_us = 50'000;

} // namespace

std::optional<Refusal> stale_press(const Press& press) {
    if (press.pressed_us > press.now_us + ahead_us)
        return malformed("the press lies in the future; send CLOCK_BOOTTIME of this machine in microseconds");
    if (press.pressed_us < 0) return malformed("the press has no instant; send CLOCK_BOOTTIME in microseconds");
    if (press.now_us - press.pressed_us > stale_us)
        return refused(fmt::format("the press is {:.1f} s old; look again and press again",
                                   static_cast<double>(press.now_us - press.pressed_us) / 1e6));
    return std::nullopt;
}

Decision held_against_readings(const State& state, const Press& press, const char* what, std::vector<Fact> facts,
                               std::vector<Contradiction> contradicted) {
    if (contradicted.empty()) return facts;
    auto told = words(*state.bench, contradicted);
    if (!press.despite) {
        Refusal refusal = refused(fmt::format("{}: look again, or go on with a reason", told));
        refusal.contradicted = std::move(contradicted);
        return refusal;
    }
    if (press.reason.empty())
        return malformed("a reason is missing; say why this holds although the readings do not fit");
    const Run* run = state.running();
    ReadingsOverruled fact;
    if (run != nullptr) fact.run = run->id;
    if (run != nullptr) fact.step = static_cast<std::int64_t>(run->step);
    fact.press = what;
    fact.words = std::move(told);
    for (const Contradiction& one : contradicted) {
        fact.channels.push_back(state.bench->instruments[one.channel].name);
        fact.shows_pa.push_back(one.shows_pa);
        fact.expected_pa.push_back(one.expected_pa);
        fact.far_pa.push_back(one.far_pa);
    }
    fact.reason = press.reason;
    fact.by = press.by;
    facts.emplace_back(std::move(fact));
    return facts;
}

namespace {

const Step* step_now(const State& state) {
    const Run* run = state.running();
    return run != nullptr ? run->now() : nullptr;
}

std::optional<Refusal> another_step(const State& state, std::int64_t step) {
    const Run* run = state.running();
    if (run == nullptr) return refused("no run is going on; start one");
    if (step < 0 || static_cast<std::size_t>(step) != run->step)
        return refused(fmt::format("step {} is not the present one ({}); look at the step again", step, run->step));
    return std::nullopt;
}

} // namespace

Decision start_run(const State& state, const Press& press, const std::string& sequence, const std::string& condition,
                   std::vector<std::string> instruments, const std::string& override_health) {
    if (const auto old = stale_press(press)) return *old;
    if (const Run* run = state.running()) return refused(fmt::format("run {} is going on; stop it first", run->id));
    const auto& sequences = state.bench->sequences;
    const auto chosen =
        std::find_if(sequences.begin(), sequences.end(), [&](const Sequence& one) { return one.name == sequence; });
    if (chosen == sequences.end()) {
        std::string names;
        for (const auto& one : sequences)
            names += (names.empty() ? "" : ", ") + one.name;
        return refused(
            fmt::format("the bench has no sequence \"{}\"; it has: {}", sequence, names.empty() ? "none" : names));
    }
    if (condition != "as found" && condition != "as left" && condition != "after adjustment")
        return malformed(fmt::format("\"{}\" is no condition; use as found, as left or after adjustment", condition));
    std::set<std::string> known;
    for (const auto& instrument : state.bench->instruments)
        known.insert(instrument.name);
    for (const auto& name : instruments)
        if (!known.contains(name)) return refused(fmt::format("no instrument is named \"{}\"", name));
    if (instruments.empty())
        for (const auto& instrument : state.bench->instruments)
            instruments.push_back(instrument.name);
    if (auto poor = objection_to_health(state, press, *chosen, override_health)) return std::move(*poor);
    std::vector<Fact> facts;
    const auto& limits = state.bench->surroundings;
    const bool current = state.conditions.stated &&
                         press.now_us - state.conditions.stated_us <= static_cast<Micros>(limits.valid_s * 1e6);
    if (!current) {
        // What the bench file says holds until somebody looks at the instruments on the wall.
        SurroundingsStated stated;
        stated.air_temperature_c = limits.air.temperature_c.value;
        // A reading of the barometer that still counts is not put aside for the bench file's figure.
        if (!barometer_is_current(state, press.now_us)) stated.air_pressure_pa = limits.air.pressure_pa.value;
        stated.humidity = limits.air.humidity.value;
        stated.piston_temperature_c = limits.piston_temperature_c.value;
        stated.by = usual_surroundings;
        facts.emplace_back(std::move(stated));
    }
    RunStarted started{fmt::format("R{}", state.runs.size() + 1), sequence, condition, std::move(instruments),
                       press.by};
    if (!override_health.empty()) started.override_health = override_health;
    facts.emplace_back(std::move(started));
    return facts;
}

Decision stop_run(const State& state, const Press& press, const std::string& reason) {
    const Run* run = state.running();
    if (run == nullptr) return refused("no run is going on");
    if (reason.empty()) return malformed("a reason is missing; say why the run is stopped");
    return std::vector<Fact>{RunStopped{run->id, reason, press.by}};
}

Decision step_done(const State& state, const Press& press, std::int64_t step) {
    if (const auto old = stale_press(press)) return *old;
    if (const auto other = another_step(state, step)) return *other;
    const Step* now = step_now(state);
    if (now == nullptr || now->kind != StepKind::act)
        return refused("this step is not done by saying so; do what it asks for");
    return held_against_readings(state, press, press_step_done, {StepDone{step, press.by}},
                                 now->lets_down ? contradict_no_pressure(state, press.seen)
                                                : std::vector<Contradiction>());
}

Decision state_planned_load(const State& state, const Press& press, std::int64_t step) {
    if (const auto old = stale_press(press)) return *old;
    if (const auto other = another_step(state, step)) return *other;
    const Step* now = step_now(state);
    if (now == nullptr || !now->range || !now->point) return refused("this step plans no load");
    const auto& point = state.bench->sequences[state.running()->sequence].points[*now->point];
    LoadStated fact{state.bench->balance.ranges[point.range].physics.name, {}, press.by, press.pressed_us};
    for (const auto disc : point.discs)
        fact.discs.push_back(state.bench->discs[disc].piece.name);
    return std::vector<Fact>{std::move(fact)};
}

Decision state_load(const State& state, const Press& press, const std::string& range,
                    const std::vector<std::string>& discs) {
    if (const auto old = stale_press(press)) return *old;
    const auto& ranges = state.bench->balance.ranges;
    const auto found =
        std::find_if(ranges.begin(), ranges.end(), [&](const BalanceRange& one) { return one.physics.name == range; });
    if (found == ranges.end()) return refused(fmt::format("the balance has no range \"{}\"", range));
    std::set<std::string> seen;
    std::vector<std::size_t> load;
    for (const auto& id : discs) {
        const auto disc = std::find_if(state.bench->discs.begin(), state.bench->discs.end(),
                                       [&](const Disc& one) { return one.piece.name == id; });
        if (disc == state.bench->discs.end()) return refused(fmt::format("no disc has the id \"{}\"", id));
        if (!seen.insert(id).second)
            return refused(fmt::format("the disc \"{}\" is named twice; there is one of it", id));
        load.push_back(static_cast<std::size_t>(disc - state.bench->discs.begin()));
    }
    const double pressure_pa = metrology::reference_pressure_pa(
        reference_inputs(*state.bench, static_cast<std::size_t>(found - ranges.begin()), load, state.conditions.air,
                         state.conditions.piston_temperature_c, nullptr));
    const auto& weakest = state.bench->weakest();
    if (pressure_pa > weakest.rating_pa)
        return refused(fmt::format("that load makes {:.1f} bar, above the lowest rating on the bench ({}, {:g} bar); "
                                   "take discs off before raising",
                                   pressure_pa / 1e5, weakest.part, weakest.rating_pa / 1e5));
    return std::vector<Fact>{LoadStated{range, discs, press.by, press.pressed_us}};
}

Decision vent_line(const State& state, const Press& press) {
    if (const auto old = stale_press(press)) return *old;
    const Step* now = step_now(state);
    if (now == nullptr || now->kind != StepKind::vent)
        return refused("this step reads no zero; the line is opened where a step asks for it");
    return held_against_readings(state, press, press_vented, {LineVented{press.by, press.pressed_us}},
                                 contradict_no_pressure(state, press.seen));
}

Decision confirm_float(const State& state, const Press& press, const std::string& range) {
    if (const auto old = stale_press(press)) return *old;
    const auto& ranges = state.bench->balance.ranges;
    if (std::none_of(ranges.begin(), ranges.end(), [&](const BalanceRange& one) { return one.physics.name == range; }))
        return refused(fmt::format("the balance has no range \"{}\"", range));
    if (!state.load) return refused("nobody stated the load; say first what is on the head");
    const Step* step = step_now(state);
    if (const auto* interval = state.open_interval();
        interval != nullptr && state.bench->balance.ranges[interval->range].physics.name == range)
        return refused("the float is confirmed already; say sighted to renew it, or lost");
    if (step != nullptr && step->kind == StepKind::load)
        return refused("the load of this point is not stated yet; say first that the discs are on");
    const bool nothing_floats =
        step != nullptr && (step->kind == StepKind::act || step->kind == StepKind::wait ||
                            step->kind == StepKind::vent || step->kind == StepKind::check || state.vented);
    if (nothing_floats) return refused(fmt::format("the run is at \"{}\"; nothing floats there", step->title));
    // A look tells of its own instant: what became known since is not undone by a message that was slow.
    if (press.pressed_us < state.load->pressed_us)
        return refused("the press is older than the stated load; look again and press again");
    if (state.intervals.size() > state.intervals_of_former_boots)
        if (const auto& last = state.intervals.back(); last.end == IntervalEnd::lost && press.pressed_us < last.to_us)
            return refused("the press is older than the loss of the float; look again and press again");
    const auto place =
        std::find_if(ranges.begin(), ranges.end(), [&](const BalanceRange& one) { return one.physics.name == range; });
    return held_against_readings(
        state, press, press_confirm, {FloatConfirmed{range, press.by, press.pressed_us}},
        contradict_float(state, press.seen, static_cast<std::size_t>(place - ranges.begin()), state.load->discs));
}

Decision sight_float(const State& state, const Press& press, bool close) {
    if (const auto old = stale_press(press)) return *old;
    const FloatInterval* interval = state.open_interval();
    if (interval == nullptr) return refused("no float is confirmed; confirm it first");
    if (press.pressed_us > interval->expires_us) return refused("the float expired before; confirm it again");
    if (press.pressed_us < interval->from_us)
        return refused("the press is older than the confirmation; look again and press again");
    if (const Look look = look_at_piston(state, press.pressed_us); close && !look.early.empty())
        return refused(fmt::format("{}: look again and press again", look.why));
    return held_against_readings(state, press, press_sighted, {FloatSighted{close, press.by, press.pressed_us}},
                                 contradict_float(state, press.seen, interval->range, interval->discs));
}

Look look_at_piston(const State& state, Micros pressed_us) {
    Look look;
    const FloatInterval* interval = state.open_interval();
    if (interval == nullptr) {
        look.why = "no float is confirmed";
        return look;
    }
    for (const Mark& mark : state.marks) {
        const auto& taken = mark.taken;
        if (taken.interval != interval->number || mark.status != MarkStatus::provisional) continue;
        const Micros early_us = taken.to_us + taken.timing_us - pressed_us;
        if (early_us > 0)
            look.early.push_back({taken.mark, early_us});
        else
            look.brackets.push_back(taken.mark);
    }
    for (const auto& one : look.early)
        look.why += fmt::format("{}the look came {} ms before the last reading of mark {} was surely taken",
                                look.why.empty() ? "" : "; ", (one.by_us + 999) / 1000, one.mark);
    if (look.early.empty() && look.brackets.empty()) look.why = "no mark of this float waits for a look";
    return look;
}

Decision lose_float(const State& state, const Press& press) {
    if (const auto old = stale_press(press)) return *old;
    const FloatInterval* interval = state.open_interval();
    if (interval == nullptr) return refused("no float is confirmed, so none can be lost; void a mark by its number");
    if (press.pressed_us < interval->confirmed_us)
        return refused("the press is older than the confirmation; look again and press again");
    return std::vector<Fact>{FloatLost{press.by, press.pressed_us}};
}

namespace {

/// As long as a person needs to see a mistake and reach the key. Nothing rests on the press by then: a mark, an entry
/// or any later press ends the undo at once.
double undo_time_s(const BenchFile& bench) {
    constexpr double person_s = 5;
    return std::max(person_s, bench.balance.settle_guard_s);
}

} // namespace

Decision undo_press(const State& state, const Press& press) {
    if (const auto old = stale_press(press)) return *old;
    if (!state.undo) return refused("there is nothing to take back");
    if (press.pressed_us > *undo_until_us(state))
        return refused(fmt::format("{} is {:.1f} s old; only the last {:g} s can be taken back", state.undo->what,
                                   static_cast<double>(press.pressed_us - state.undo->at_us) / 1e6,
                                   undo_time_s(*state.bench)));
    return std::vector<Fact>{PressUndone{press.by}};
}

std::optional<Micros> undo_until_us(const State& state) {
    if (!state.undo || !state.bench) return std::nullopt;
    return state.undo->at_us + static_cast<Micros>(undo_time_s(*state.bench) * 1e6);
}

Decision enter_reading(const State& state, const Press& press, const std::string& channel, const std::string& untapped,
                       const std::string& tapped, Micros started_us) {
    if (const auto old = stale_press(press)) return *old;
    const auto& instruments = state.bench->instruments;
    const auto found = std::find_if(instruments.begin(), instruments.end(),
                                    [&](const Instrument& one) { return one.name == channel; });
    if (found == instruments.end()) return refused(fmt::format("no instrument is named \"{}\"", channel));
    if (!found->manual()) return refused(fmt::format("{} is read by its wire; nothing is entered for it", channel));
    if (started_us < 0 || started_us > press.pressed_us || press.pressed_us - started_us > 120'000'000)
        return malformed("the entry was begun after it was pressed, or more than two minutes before");
    const auto entry = drivers::read_manual_entry(found->profile, untapped, tapped);
    if (!entry) return refused(entry.error().message);
    const auto index = static_cast<std::size_t>(found - instruments.begin());
    ReadingEntered fact{
        static_cast<std::int64_t>(index), entry->untapped_pa, entry->tapped_pa, press.by, started_us, press.pressed_us};
    Fact mark = judge_entry(state, index, fact);
    if (const auto* failed = std::get_if<WindowFailed>(&mark)) return refused(fmt::format("no mark: {}", failed->why));
    std::vector<Contradiction> contradicted;
    if (const auto one = contradict_entry(state, index, fact)) contradicted.push_back(*one);
    return held_against_readings(state, press, press_enter, {std::move(fact), std::move(mark)},
                                 std::move(contradicted));
}

Decision void_mark(const State& state, const Press& press, std::int64_t number, const std::string& reason) {
    if (reason.empty()) return malformed("a reason is missing; say why the mark is void");
    for (const auto& mark : state.marks) {
        if (mark.taken.mark != number) continue;
        if (mark.status == MarkStatus::voided)
            return refused(fmt::format("mark {} is void already: {}", number, mark.why));
        return std::vector<Fact>{MarkVoided{number, reason, press.by}};
    }
    return refused(fmt::format("there is no mark {}", number));
}

Decision redo_visit(const State& state, const Press& press, std::int64_t number) {
    if (const auto old = stale_press(press)) return *old;
    const Run* run = state.running();
    if (run == nullptr) return refused("no run is going on");
    for (const auto& mark : state.marks) {
        if (mark.taken.mark != number) continue;
        if (mark.taken.run != run->id)
            return refused(fmt::format("mark {} belongs to run {}, which is over", number, mark.taken.run));
        if (mark.status == MarkStatus::provisional || mark.status == MarkStatus::sighted ||
            mark.status == MarkStatus::vented)
            return refused(fmt::format("mark {} stands; void it first", number));
        if (!reopening_step(*run, static_cast<std::size_t>(mark.taken.visit)))
            return refused(fmt::format("the instruments have passed the point of mark {} in this direction, or "
                                       "the valves were turned since; it stays missing, or the series is begun again",
                                       number));
        return std::vector<Fact>{VisitReopened{mark.taken.visit, press.by}};
    }
    return refused(fmt::format("there is no mark {}", number));
}

Decision state_surroundings(const State& state, const Press& press, const SurroundingsTexts& texts) {
    using drivers::Dimension;
    SurroundingsStated fact;
    fact.by = press.by;
    auto air = state.conditions.air;
    std::string mistake;
    const auto take = [&mistake](const char* name, const std::string& text, Dimension dimension,
                                 std::optional<double>& to) {
        if (text.empty() || !mistake.empty()) return;
        const auto value = drivers::parse_quantity(text, dimension);
        if (!value)
            mistake = fmt::format("{}: {}", name, value.error().message);
        else
            to = *value;
    };
    take("air_temperature", texts.air_temperature, Dimension::temperature, fact.air_temperature_c);
    take("air_pressure", texts.air_pressure, Dimension::pressure, fact.air_pressure_pa);
    take("humidity", texts.humidity, Dimension::fraction, fact.humidity);
    take("piston_temperature", texts.piston_temperature, Dimension::temperature, fact.piston_temperature_c);
    if (!mistake.empty()) return malformed(mistake);
    if (!fact.air_temperature_c && !fact.air_pressure_pa && !fact.humidity && !fact.piston_temperature_c)
        return malformed("nothing is stated; give at least one, for example the air temperature");
    if (!state.conditions.stated &&
        !(fact.air_temperature_c && fact.air_pressure_pa && fact.humidity && fact.piston_temperature_c))
        return refused(
            "nothing was stated before; give air temperature, air pressure, humidity and piston temperature together");
    if (fact.air_temperature_c) air.temperature_c.value = *fact.air_temperature_c;
    if (fact.air_pressure_pa) air.pressure_pa.value = *fact.air_pressure_pa;
    if (fact.humidity) air.humidity.value = *fact.humidity;
    if (auto objection = surroundings_objection(air); !objection.empty()) return refused(std::move(objection));
    if (fact.piston_temperature_c && std::abs(*fact.piston_temperature_c - air.temperature_c.value) > 20)
        return refused("the piston is more than 20 K away from the air; check the two temperatures");
    return std::vector<Fact>{std::move(fact)};
}

std::vector<Fact> due_facts(const State& state, Micros now_us, std::span<const SeenReading> seen) {
    if (const FloatInterval* interval = state.open_interval(); interval != nullptr && now_us >= interval->expires_us)
        return {FloatExpired{interval->number}};
    const Run* run = state.running();
    if (run == nullptr) return {};
    if (run->step >= run->plan.steps.size()) return {RunFinished{run->id}};
    const Step& step = run->plan.steps[run->step];
    if (step.kind == StepKind::wait && now_us >= run->step_since_us + static_cast<Micros>(step.wait_s * 1e6)) {
        std::vector<Fact> facts;
        if (step.check == CheckKind::preload) {
            if (preload_failed(*run)) return {}; // it waits for a person
            auto held = preload_held(state, seen, now_us);
            const bool passed = held.passed;
            facts.emplace_back(std::move(held));
            if (!passed) return facts;
        }
        facts.emplace_back(WaitElapsed{static_cast<std::int64_t>(run->step)});
        return facts;
    }
    return {};
}

std::optional<Micros> next_due_us(const State& state) {
    std::optional<Micros> due;
    if (const FloatInterval* interval = state.open_interval()) due = interval->expires_us;
    const Run* run = state.running();
    if (run == nullptr) return due;
    const Micros run_due = run->step >= run->plan.steps.size() ? run->step_since_us
                           : run->plan.steps[run->step].kind == StepKind::wait && !preload_failed(*run)
                               ? run->step_since_us + static_cast<Micros>(run->plan.steps[run->step].wait_s * 1e6)
                               : std::numeric_limits<Micros>::max();
    if (run_due != std::numeric_limits<Micros>::max() && (!due || run_due < *due)) due = run_due;
    return due;
}

} // namespace stillmark::bench
