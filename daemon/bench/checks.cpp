#include "daemon/bench/checks.hpp"

#include "daemon/bench/ambient.hpp"
#include "daemon/bench/mark.hpp"
#include "daemon/bench/runs.hpp"
#include "drivers/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <string_view>

namespace stillmark::bench {

namespace {

using drivers::Dimension;

std::string bar_words(double pressure_pa) {
    return fmt::format("{:.4g} bar", pressure_pa / 1e5);
}
std::string minutes_words(double seconds) {
    return seconds >= 60 ? fmt::format("{:.3g} min", seconds / 60) : fmt::format("{:.3g} s", seconds);
}

bool is_zero_channel(const Run& run, std::size_t channel) {
    return run.takes_part[channel] && !run.bench->instruments[channel].pointer_stop;
}

/// The latest result for which something holds.
template <class Holds>
const CheckResult* latest_where(const Run& run, Holds holds) {
    const auto found = std::find_if(run.checks.rbegin(), run.checks.rend(), holds);
    return found != run.checks.rend() ? &*found : nullptr;
}

bool is_of(const CheckResult& one, std::size_t step) {
    return one.recorded.step >= 0 && static_cast<std::size_t>(one.recorded.step) == step;
}

/// The latest result of this step for this channel.
const CheckResult* latest_of(const Run& run, std::size_t step, const std::string& channel) {
    return latest_where(run,
                        [&](const CheckResult& one) { return is_of(one, step) && one.recorded.channel == channel; });
}

bool answered(const Run& run, const std::string& channel) {
    const CheckResult* result = latest_of(run, run.step, channel);
    return result != nullptr && (result->recorded.passed || !result->waived_because.empty());
}

/// A result of the present step, without its finding.
CheckRecorded begin_result(const Run& run, CheckKind kind, const std::string& by) {
    CheckRecorded result;
    result.run = run.id;
    result.step = static_cast<std::int64_t>(run.step);
    result.check = word(kind);
    result.by = by;
    return result;
}

/// "2.5 turns" or "2.5".
std::optional<double> turns_in(std::string_view text) {
    while (!text.empty() && text.front() == ' ')
        text.remove_prefix(1);
    double turns = 0;
    const auto read = std::from_chars(text.data(), text.data() + text.size(), turns);
    std::string_view rest(read.ptr, static_cast<std::size_t>(text.data() + text.size() - read.ptr));
    while (!rest.empty() && rest.front() == ' ')
        rest.remove_prefix(1);
    while (!rest.empty() && rest.back() == ' ')
        rest.remove_suffix(1);
    const bool unit_fits = rest.empty() || rest == "turns" || rest == "turn";
    if (read.ec != std::errc{} || !unit_fits || !std::isfinite(turns) || turns < 0 || turns > 1000) return std::nullopt;
    return turns;
}

Decision one_fact(CheckRecorded result) {
    return std::vector<Fact>{std::move(result)};
}

Decision stated_warm_up(const Run& run, const Press& press, const std::string& text) {
    const auto powered_s = drivers::parse_quantity(text, Dimension::time);
    if (!powered_s) return malformed(powered_s.error().message);
    if (!(*powered_s >= 0)) return malformed("a time before now is meant; state how long the instruments have been on");
    auto result = begin_result(run, CheckKind::warm_up, press.by);
    result.value = *powered_s;
    result.limit = run.bench->checks.warm_up_s;
    result.unit = "s";
    result.passed = *powered_s >= *result.limit;
    result.words =
        fmt::format("powered for {}; at least {} are asked", minutes_words(*powered_s), minutes_words(*result.limit));
    return one_fact(std::move(result));
}

Decision stated_level(const Run& run, const Press& press, const std::string& text) {
    const auto tilt_rad = drivers::parse_quantity(text, Dimension::angle);
    if (!tilt_rad) return malformed(tilt_rad.error().message);
    auto result = begin_result(run, CheckKind::level, press.by);
    result.value = *tilt_rad;
    result.limit = run.bench->checks.level_rad;
    result.unit = "rad";
    result.passed = std::abs(*tilt_rad) <= *result.limit;
    result.words = fmt::format("the level shows {:.3g} mrad; at most {:.3g} mrad are allowed", *tilt_rad * 1e3,
                               *result.limit * 1e3);
    return one_fact(std::move(result));
}

Decision stated_purge(const Run& run, const Press& press, const std::string& text) {
    const auto turns = turns_in(text);
    if (!turns) return malformed(fmt::format("\"{}\" is no number of turns; write for example 2.5 turns", text));
    const auto& purge = *run.bench->checks.purge;
    auto result = begin_result(run, CheckKind::purge, press.by);
    result.value = *turns;
    result.limit = purge.most_turns;
    result.unit = "turns";
    result.passed = *turns <= purge.most_turns;
    result.words = fmt::format("{:.3g} turns to {}; at most {:.3g}{}", *turns, purge.to, purge.most_turns,
                               result.passed ? "" : ": there is air in the line, purge it");
    return one_fact(std::move(result));
}

double zero_limit_pa(const Instrument& instrument, const Checks::Zero& zero) {
    return zero.limit_pa.value_or(instrument.mpe_pa);
}

/// An instrument's zero against its limit; without a limit it is recorded and judged by nobody.
void judge_zero(CheckRecorded& result, const Instrument& instrument, const Checks::Zero& zero, double off_pa) {
    result.channel = instrument.name;
    result.value = off_pa;
    result.unit = "Pa";
    const double limit_pa = zero_limit_pa(instrument, zero);
    const double off = off_pa / instrument.unit.pascals, limit = limit_pa / instrument.unit.pascals;
    if (limit_pa > 0) result.limit = limit_pa;
    result.passed = limit_pa <= 0 || std::abs(off_pa) <= limit_pa;
    result.words = limit_pa > 0
                       ? fmt::format("{} is off by {:.4g} {} with the line open; at most {:.4g} {}", instrument.name,
                                     off, instrument.unit.symbol, limit, instrument.unit.symbol)
                       : fmt::format("{} is off by {:.4g} {} with the line open; no limit is stated", instrument.name,
                                     off, instrument.unit.symbol);
}

Decision stated_zero(const State& state, const Run& run, const Press& press, const CheckAnswer& answer) {
    const auto& instruments = run.bench->instruments;
    const auto found = std::find_if(instruments.begin(), instruments.end(),
                                    [&](const Instrument& one) { return one.name == answer.channel; });
    if (answer.channel.empty()) return malformed("whose zero is it? Name the instrument as \"channel\"");
    if (found == instruments.end()) return refused(fmt::format("no instrument is named \"{}\"", answer.channel));
    if (!found->manual()) return refused(fmt::format("{} is read by its wire; begin the check", answer.channel));
    const auto index = static_cast<std::size_t>(found - instruments.begin());
    if (!is_zero_channel(run, index)) return refused(fmt::format("{} shows no zero in this run", answer.channel));
    const auto shown_pa = drivers::parse_quantity(answer.value, Dimension::pressure);
    if (!shown_pa) return malformed(shown_pa.error().message);
    if (const auto why = ambient_obstacle(state, *found, true, press.now_us); !why.empty())
        return refused(fmt::format("{}: {}", found->name, why));
    auto result = begin_result(run, CheckKind::zero, press.by);
    judge_zero(result, *found, *run.bench->checks.zero, *shown_pa - reference_vented(state, *found).at_instrument_pa);
    return one_fact(std::move(result));
}

/// What spoils readings of a check, or empty.
std::string spoiled(std::span<const NumberedReading> readings, Micros from_us, Micros to_us) {
    constexpr std::size_t least = 5;
    const auto good = static_cast<std::size_t>(
        std::count_if(readings.begin(), readings.end(), [](const NumberedReading& one) { return one.value.good; }));
    if (good < least) return fmt::format("{} good readings came, at least {} are needed", good, least);
    if (good < readings.size())
        return fmt::format("{} of {} readings were bad", readings.size() - good, readings.size());
    const double covered = static_cast<double>(readings.back().value.at_us - readings.front().value.at_us) /
                           static_cast<double>(std::max<Micros>(to_us - from_us, 1));
    if (covered < 0.8) return fmt::format("the readings cover {:.0f} % of the time", covered * 100);
    return {};
}

void judge_leak(CheckRecorded& result, const Instrument& instrument, const Checks::Leak& leak,
                const acquisition::WindowStatistics& seen) {
    const double fall_pa = -seen.slope_pa_per_s * leak.watch_s;
    // The bound goes the bad way: a leak that the noise may hide is not absent.
    const double unsure_pa = (seen.slope_bound_pa_per_s - std::abs(seen.slope_pa_per_s)) * leak.watch_s;
    result.value = fall_pa;
    const auto words = [&](const std::string& remedy) {
        return fmt::format("{} {} by {} within {} at {}; at most {}{}", instrument.name, fall_pa < 0 ? "rose" : "fell",
                           bar_words(std::abs(fall_pa)), minutes_words(leak.watch_s), bar_words(seen.mean_pa),
                           bar_words(leak.drop_pa), remedy);
    };
    if (seen.mean_pa < 0.8 * leak.at_pa || seen.mean_pa > 1.1 * leak.at_pa) {
        result.words = fmt::format("{} showed {}; the check asks for {}: wind there and check again", instrument.name,
                                   bar_words(seen.mean_pa), leak.at);
    } else if (std::abs(fall_pa) > leak.drop_pa) {
        result.words = words(fall_pa < 0 ? ": the oil still warms up, let it rest and check again"
                                         : ": let it rest and check again, or find the leak after relieving");
    } else if (unsure_pa > leak.drop_pa) {
        result.words = words(": but the readings scatter too much to tell; watch for longer");
    } else {
        result.passed = true;
        result.words = words("");
    }
}

} // namespace

std::vector<CheckNeed> open_needs(const Run& run, const Step& step) {
    std::vector<CheckNeed> needs;
    if (step.kind != StepKind::check || !step.check) return needs;
    if (*step.check != CheckKind::zero) {
        if (!answered(run, "")) needs.push_back({std::nullopt, *step.check == CheckKind::leak});
        return needs;
    }
    for (const bool manual : {false, true})
        for (std::size_t i = 0; i < run.takes_part.size(); ++i) {
            const auto& instrument = run.bench->instruments[i];
            if (instrument.manual() == manual && is_zero_channel(run, i) && !answered(run, instrument.name))
                needs.push_back({i, !manual});
        }
    return needs;
}

const CheckResult* latest_check(const Run& run, std::size_t step) {
    return latest_where(run, [step](const CheckResult& one) { return is_of(one, step); });
}

const CheckResult* standing_failure(const Run& run, std::size_t step) {
    return latest_where(run, [&](const CheckResult& one) {
        return is_of(one, step) && !one.recorded.passed && one.waived_because.empty() &&
               latest_of(run, step, one.recorded.channel) == &one;
    });
}

std::string limit_words(const BenchFile& bench, CheckKind kind) {
    const auto& checks = bench.checks;
    switch (kind) {
    case CheckKind::warm_up:
        return fmt::format("at least {}", minutes_words(checks.warm_up_s.value_or(0)));
    case CheckKind::level:
        return fmt::format("at most {:g} mrad", checks.level_rad.value_or(0) * 1e3);
    case CheckKind::purge:
        return checks.purge ? fmt::format("at most {:g} turns to {}", checks.purge->most_turns, checks.purge->to) : "";
    case CheckKind::leak:
        return checks.leak ? fmt::format("at most {} within {}", bar_words(checks.leak->drop_pa),
                                         minutes_words(checks.leak->watch_s))
                           : "";
    case CheckKind::zero:
        return checks.zero && checks.zero->limit_pa ? fmt::format("at most {}", bar_words(*checks.zero->limit_pa))
                                                    : "each instrument's permissible error";
    case CheckKind::preload:
        return "the time of the hold";
    }
    return "";
}

Decision answer_check(const State& state, const Press& press, std::int64_t number, const CheckAnswer& answer) {
    if (const auto old = stale_press(press)) return *old;
    const Run* run = state.running();
    if (run == nullptr) return refused("no run is going on; start one");
    const Step* step = run->now();
    if (number < 0 || static_cast<std::size_t>(number) != run->step)
        return refused(fmt::format("step {} is not the present one ({}); look at the step again", number, run->step));
    if (preload_failed(*run)) {
        if (!answer.value.empty()) return refused("this check is told by readings; begin it without a value");
        const auto& interval = *state.open_interval();
        return held_against_readings(state, press, press_check, {CheckBegun{number, press.by, press.pressed_us}},
                                     contradict_float(state, press.seen, interval.range, interval.discs));
    }
    if (step == nullptr || step->kind != StepKind::check || !step->check)
        return refused("this step checks nothing; do what it asks for");
    if (run->check_from_us) return refused("the readings of this check are being watched; wait for its result");
    const bool by_readings = *step->check == CheckKind::leak || *step->check == CheckKind::zero;
    if (answer.value.empty()) {
        if (!by_readings) return malformed("this check is stated by a person; give its \"value\" with the unit");
        const auto needs = open_needs(*run, *step);
        if (needs.empty()) {
            auto result = begin_result(*run, *step->check, press.by);
            result.passed = true;
            result.words = "no instrument of this run shows a zero";
            return one_fact(std::move(result));
        }
        if (!needs.front().by_readings)
            return refused(fmt::format("the wired instruments are done; state what {} shows",
                                       run->bench->instruments[*needs.front().channel].name));
        for (const auto& need : needs) {
            if (!need.by_readings || !need.channel) continue;
            const auto& instrument = run->bench->instruments[*need.channel];
            if (const auto why = ambient_obstacle(state, instrument, true, press.now_us); !why.empty())
                return refused(fmt::format("{}: {}", instrument.name, why));
        }
        // The zeros are read with the line open to air, as the person says by beginning.
        return held_against_readings(state, press, press_check, {CheckBegun{number, press.by, press.pressed_us}},
                                     *step->check == CheckKind::zero ? contradict_no_pressure(state, press.seen)
                                                                     : std::vector<Contradiction>());
    }
    switch (*step->check) {
    case CheckKind::warm_up:
        return stated_warm_up(*run, press, answer.value);
    case CheckKind::level:
        return stated_level(*run, press, answer.value);
    case CheckKind::purge:
        return stated_purge(*run, press, answer.value);
    case CheckKind::zero:
        return stated_zero(state, *run, press, answer);
    case CheckKind::leak:
    case CheckKind::preload:
        break;
    }
    return refused("this check is told by readings; begin it without a value");
}

Decision waive_check(const State& state, const Press& press, std::int64_t number, const std::string& reason) {
    if (const auto old = stale_press(press)) return *old;
    const Run* run = state.running();
    if (run == nullptr) return refused("no run is going on");
    const Step* step = run->now();
    if (number < 0 || static_cast<std::size_t>(number) != run->step || step == nullptr)
        return refused(fmt::format("step {} is not the present one ({}); look at the step again", number, run->step));
    const bool checks = step->kind == StepKind::check || preload_failed(*run);
    if (!checks || !step->check) return refused("this step checks nothing, or the check is going on");
    if (run->check_from_us) return refused("the readings of this check are being watched; wait for its result");
    if (reason.empty()) return malformed("a reason is missing; say why the run may go on");
    if (standing_failure(*run, run->step) == nullptr) return refused("this check has not failed; do it first");
    return std::vector<Fact>{CheckWaived{run->id, number, word(*step->check), reason, press.by}};
}

std::optional<CheckWatch> check_watch(const State& state) {
    const Run* run = state.running();
    const Step* step = run != nullptr ? run->now() : nullptr;
    if (step == nullptr || !run->check_from_us || step->kind != StepKind::check || !step->check) return std::nullopt;
    CheckWatch watch;
    double settle_s = 0, watch_s = 0, late_s = 0;
    if (*step->check == CheckKind::leak) {
        const auto& leak = *run->bench->checks.leak;
        watch.channels = {leak.channel};
        settle_s = leak.settle_s;
        watch_s = leak.watch_s;
    } else {
        settle_s = run->bench->balance.settle_guard_s;
        for (const auto& need : open_needs(*run, *step))
            if (need.by_readings) watch.channels.push_back(*need.channel);
        for (const auto channel : watch.channels)
            watch_s = std::max(watch_s, run->bench->instruments[channel].limits.window_s);
    }
    for (const auto channel : watch.channels)
        late_s = std::max(late_s, run->bench->instruments[channel].latency_s);
    watch.from_us = *run->check_from_us + micros(settle_s + late_s);
    watch.to_us = watch.from_us + micros(watch_s);
    return watch;
}

CheckRecorded judge_check(const State& state, std::size_t channel, std::span<const NumberedReading> readings) {
    const Run& run = *state.running();
    const Step& step = *run.now();
    const auto watch = *check_watch(state);
    const auto& instrument = run.bench->instruments[channel];
    const bool leak = *step.check == CheckKind::leak;
    auto result = begin_result(run, *step.check, "");
    result.unit = "Pa";
    if (!leak) result.channel = instrument.name;
    if (!readings.empty()) {
        result.first = static_cast<std::int64_t>(readings.front().number);
        result.last = static_cast<std::int64_t>(readings.back().number);
    }
    if (leak)
        result.limit = run.bench->checks.leak->drop_pa;
    else if (const double limit_pa = zero_limit_pa(instrument, *run.bench->checks.zero); limit_pa > 0)
        result.limit = limit_pa;
    if (const auto why = spoiled(readings, watch.from_us, watch.to_us); !why.empty()) {
        result.words = fmt::format("{}: {}; look at its wire and check again", instrument.name, why);
        return result;
    }
    std::vector<acquisition::TimedValue> values;
    for (const auto& one : readings)
        values.push_back(one.value);
    const auto seen = acquisition::measure_window(values, instrument.limits);
    if (leak) {
        judge_leak(result, instrument, *run.bench->checks.leak, seen);
    } else if (seen.failing == acquisition::Criterion::drift || seen.failing == acquisition::Criterion::scatter) {
        result.words = fmt::format("{} does not rest ({}); is the line open? Check again", instrument.name,
                                   acquisition::word(seen.failing));
    } else {
        judge_zero(result, instrument, *run.bench->checks.zero,
                   seen.mean_pa - reference_vented(state, instrument).at_instrument_pa);
    }
    return result;
}

CheckRecorded preload_held(const State& state, std::span<const SeenReading> seen, Micros now_us) {
    const Run& run = *state.running();
    const Step& step = *run.now();
    const FloatInterval& interval = *state.open_interval();
    auto result = begin_result(run, CheckKind::preload, "");
    result.value = static_cast<double>(now_us - run.step_since_us) / 1e6;
    result.limit = step.wait_s;
    result.unit = "s";
    const auto contradicted = contradict_float(state, seen, interval.range, interval.discs);
    result.passed = *result.value >= step.wait_s && contradicted.empty();
    result.words = fmt::format("{}: {:.3g} s afloat; at least {:.3g} s", step.title, *result.value, step.wait_s);
    if (!contradicted.empty())
        result.words = fmt::format("{}: said to float, but after {:.3g} s {}", step.title, *result.value,
                                   words(*run.bench, contradicted));
    return result;
}

bool preload_failed(const Run& run) {
    const Step* step = run.now();
    if (step == nullptr || step->kind != StepKind::wait || step->check != CheckKind::preload) return false;
    const CheckResult* failure = standing_failure(run, run.step);
    return failure != nullptr && failure->at_us >= run.step_since_us;
}

std::vector<Tell> fold(State& state, Micros at_us, const CheckBegun& fact) {
    Run* run = state.running();
    const Step* step = run != nullptr ? run->now() : nullptr;
    if (step == nullptr || static_cast<std::size_t>(fact.step) != run->step) return {};
    if (step->kind == StepKind::check) run->check_from_us = at_us;
    if (step->kind == StepKind::wait) run->step_since_us = at_us; // the hold of a preload, again
    return {};
}

std::vector<Tell> fold(State& state, Micros at_us, const CheckRecorded& fact) {
    Run* run = state.running();
    if (run == nullptr || run->id != fact.run) return {};
    run->check_from_us.reset();
    run->checks.push_back({fact, at_us, {}, {}});
    if (fact.passed) return {};
    return {{false, fmt::format("check failed, {}: {}", fact.check, fact.words)}};
}

std::vector<Tell> fold(State& state, Micros, const CheckWaived& fact) {
    Run* run = state.running();
    if (run == nullptr || run->id != fact.run) return {};
    for (auto& one : run->checks)
        if (one.recorded.step == fact.step && !one.recorded.passed && one.waived_because.empty() &&
            latest_of(*run, static_cast<std::size_t>(fact.step), one.recorded.channel) == &one) {
            one.waived_because = fact.reason;
            one.waived_by = fact.by;
        }
    return {{false, fmt::format("the run goes on after a check that failed, {}: {}", fact.check, fact.reason)}};
}

} // namespace stillmark::bench
