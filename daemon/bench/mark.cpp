#include "daemon/bench/mark.hpp"

#include "daemon/bench/ambient.hpp"
#include "daemon/bench/ledger.hpp"
#include "daemon/bench/reference.hpp"
#include "daemon/bench/runs.hpp"
#include "daemon/metrology/mark_uncertainty.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace stillmark::bench {

namespace {

/// Why no mark may be taken for this channel at all now, or empty.
std::string obstacle(const State& state, std::size_t channel, Micros now_us) {
    const Run* run = state.running();
    const Step* step = run != nullptr ? run->now() : nullptr;
    if (step == nullptr) return "no run";
    if (channel >= run->takes_part.size() || !run->takes_part[channel]) return "takes no part in the run";
    if (step->kind != StepKind::read && step->kind != StepKind::sight) return "not at a reading step";
    if (!run->owes_mark(channel, *step->visit)) return "its pointer rests on a stop, so that it shows no zero";
    if (state.standing_mark(channel, *step->visit) != nullptr) return "has its mark";
    if (run->plan.visits[*step->visit].vented) {
        if (!state.vented) return "nobody said that the line is open to air";
    } else if (!float_agrees(state, *step)) {
        return "no float is confirmed for the planned load and range";
    }
    const auto& conditions = state.conditions;
    const auto& limits = state.bench->surroundings;
    if (!conditions.stated) return "nobody stated the surroundings";
    if (now_us - conditions.stated_us > micros(limits.valid_s))
        return "the stated surroundings are too old: state them again";
    const double air_c = conditions.air.temperature_c.value;
    if (air_c < limits.lowest_c || air_c > limits.highest_c)
        return fmt::format("the air is at {:g} degC, outside {:g} to {:g} degC", air_c, limits.lowest_c,
                           limits.highest_c);
    if (run->air_at_start_c && std::abs(air_c - *run->air_at_start_c) > limits.drift_k)
        return fmt::format("the air has changed by {:.1f} K since the run began, more than {:g} K",
                           air_c - *run->air_at_start_c, limits.drift_k);
    return ambient_obstacle(state, state.bench->instruments[channel], run->plan.visits[*step->visit].vented, now_us);
}

/// What a mark of the present visit stands on: an open float interval, or a line that is open to air.
struct Ground {
    const FloatInterval* interval; ///< none for a zero
    Micros from_us;
    Micros until_us;
    std::int64_t number() const { return interval != nullptr ? interval->number : 0; }
};
Ground ground_of(const State& state) {
    if (state.vented) return {nullptr, state.vented->from_us, std::numeric_limits<Micros>::max()};
    const FloatInterval* interval = state.open_interval();
    return {interval, interval->from_us, interval->expires_us};
}

/// The earliest instant at which a reading can belong to a mark on this ground.
Micros guarded_from(const State& state, const Ground& ground, const Instrument& instrument) {
    const Step& step = *state.running()->now();
    const std::size_t read = step.kind == StepKind::read ? state.running()->step : state.running()->step - 1;
    const Step& reading = state.running()->plan.steps[read];
    const double wait_s = instrument.manual() ? std::max(reading.wait_s, reading.wait_dial_s) : reading.wait_s;
    const Micros reached_us = std::min(state.running()->reached_us.value_or(ground.from_us), ground.from_us);
    return std::max(ground.from_us + micros(state.bench->balance.settle_guard_s), reached_us + micros(wait_s)) +
           micros(instrument.latency_s);
}

MarkTaken begin_mark(const State& state, std::size_t channel, const Ground& ground) {
    MarkTaken mark;
    const Run& run = *state.running();
    const auto& instrument = state.bench->instruments[channel];
    mark.mark = static_cast<std::int64_t>(state.marks.size()) + 1;
    mark.run = run.id;
    mark.channel = static_cast<std::int64_t>(channel);
    mark.visit = static_cast<std::int64_t>(*run.now()->visit);
    mark.interval = ground.number();
    if (ground.interval == nullptr) mark.vented = true;
    mark.resolution_pa = instrument.resolution_pa;
    mark.approach_from = run.approach_from;
    const auto reference = ground.interval != nullptr ? reference_for(state, *ground.interval, instrument)
                                                      : reference_vented(state, instrument);
    mark.reference_pa = reference.at_instrument_pa;
    mark.at_balance_pa = reference.at_balance_pa;
    mark.u_reference_pa = reference.u_pa;
    mark.u_reference_dof = reference.dof;
    return mark;
}

void finish_mark(MarkTaken& mark) {
    const auto combined = metrology::combine(mark.u_reference_pa, mark.u_reference_dof, mark.u_mean_pa, mark.u_mean_dof,
                                             mark.resolution_pa);
    mark.u_pa = combined.u_pa;
    mark.u_dof = combined.dof;
    mark.deviation_pa = mark.mean_pa - mark.reference_pa;
}

const char* approached_wrongly(Direction direction) {
    return direction == Direction::falling ? "approached from below" : "approached from above";
}

} // namespace

double approach_margin_pa(double u_pa, double scatter_pa, const Instrument& instrument) {
    // Among a thousand readings at rest the farthest lies some four standard deviations out; five keep it quiet.
    return std::max({3 * u_pa, 0.1 * instrument.mpe_pa, 5 * scatter_pa, 2 * instrument.resolution_pa});
}

double approach_return_pa(double target_pa, const Instrument& instrument) {
    return instrument.mpe_pa > 0 ? instrument.mpe_pa : 0.005 * std::abs(target_pa);
}

std::optional<WindowPermit> window_permit(const State& state, std::size_t channel, Micros now_us, std::string& why) {
    why = obstacle(state, channel, now_us);
    if (!why.empty()) return std::nullopt;
    const auto& now = state.channels[channel];
    if (now.stillness != acquisition::Stillness::still) {
        why = fmt::format("the reading is {}", acquisition::word(now.stillness));
        return std::nullopt;
    }
    const Ground ground = ground_of(state);
    return WindowPermit{std::max({guarded_from(state, ground, state.bench->instruments[channel]), now.since_us,
                                  now.window_not_before_us}),
                        ground.number(), *state.running()->now()->visit};
}

bool window_may_go_on(const State& state, std::size_t channel, const WindowPermit& permit) {
    const Run* run = state.running();
    const Step* step = run != nullptr ? run->now() : nullptr;
    const FloatInterval* interval = state.open_interval();
    const auto stillness = state.channels[channel].stillness;
    return step != nullptr && step->visit == permit.visit &&
           (step->kind == StepKind::read || step->kind == StepKind::sight) &&
           (permit.interval == 0 ? state.vented.has_value()
                                 : interval != nullptr && interval->number == permit.interval) &&
           (stillness == acquisition::Stillness::still || stillness == acquisition::Stillness::settling);
}

metrology::ReferencePressure reference_for(const State& state, const FloatInterval& interval,
                                           const Instrument& instrument) {
    return metrology::reference_pressure(reference_inputs(*state.bench, interval.range, interval.discs,
                                                          state.conditions.air, state.conditions.piston_temperature_c,
                                                          &instrument));
}

metrology::ReferencePressure reference_vented(const State& state, const Instrument& instrument) {
    const auto line =
        vented_line(*state.bench, state.conditions.air, state.conditions.piston_temperature_c, instrument);
    auto reference = metrology::vented_pressure(line);
    // At the open end the air stands, which a balance in absolute mode counts and one in gauge mode does not.
    if (state.bench->balance.mode == metrology::PressureKind::absolute)
        reference.at_balance_pa = metrology::vented_pressure_pa(
            {line.site, line.air, line.line_temperature_c, {}, metrology::PressureKind::absolute, {}});
    return reference;
}

std::optional<ApproachWatch> approach_watch(const State& state, std::size_t channel) {
    const Run* run = state.running();
    const Step* step = run != nullptr ? run->now() : nullptr;
    if (step == nullptr || !step->point || step->direction == Direction::preload || channel >= run->takes_part.size() ||
        !run->takes_part[channel])
        return std::nullopt;
    const auto& instrument = state.bench->instruments[channel];
    // A zero is come to from above on the way down and kept on the way up; there is nothing beyond it.
    if (state.bench->sequences[run->sequence].points[*step->point].zero)
        return ApproachWatch(step->direction,
                             step->direction == Direction::falling ? -std::numeric_limits<double>::infinity()
                                                                   : std::numeric_limits<double>::infinity(),
                             0);
    const auto& point = state.bench->sequences[run->sequence].points[*step->point];
    // Under the bench file's surroundings, which do not change within a run: the watch is then the same whenever it is
    // begun, live or in replay. Who counts from the ambient pressure needs that of the run's beginning: a day's weather
    // is more than a margin.
    const auto& usual = state.bench->surroundings;
    auto air = usual.air;
    if (rests_on_ambient(*state.bench, instrument, false) && !run->air.empty())
        air.pressure_pa.value = run->air.front().air_pressure_pa;
    const double target_pa = metrology::reference_pressure_pa(
        reference_inputs(*state.bench, point.range, point.discs, air, usual.piston_temperature_c, &instrument));
    return ApproachWatch(step->direction, target_pa, approach_return_pa(target_pa, instrument));
}

Fact judge_window(const State& state, std::size_t channel, const Window& window, const ApproachWatch& approach) {
    const auto failed = [&](std::string why) -> Fact {
        return WindowFailed{static_cast<std::int64_t>(channel), static_cast<std::int64_t>(window.first),
                            static_cast<std::int64_t>(window.last), std::move(why)};
    };
    const auto& instrument = state.bench->instruments[channel];
    if (window.readings.empty()) return failed("the window is empty");
    const Micros from_us = window.readings.front().at_us, to_us = window.readings.back().at_us;
    if (const auto why = obstacle(state, channel, to_us); !why.empty()) return failed(why);
    const Ground ground = ground_of(state);
    if (from_us - window.largest_timing_us < guarded_from(state, ground, instrument))
        return failed("it begins before the guard after the confirmation has passed");
    if (to_us + window.largest_timing_us > ground.until_us) return failed("it ends after the float expired");
    const auto statistics = acquisition::measure_window(window.readings, instrument.limits);
    if (statistics.failing != acquisition::Criterion::none) return failed(acquisition::word(statistics.failing));

    MarkTaken mark = begin_mark(state, channel, ground);
    mark.first = static_cast<std::int64_t>(window.first);
    mark.last = static_cast<std::int64_t>(window.last);
    mark.from_us = from_us;
    mark.to_us = to_us;
    mark.timing_us = window.largest_timing_us;
    mark.count = static_cast<std::int64_t>(statistics.count);
    mark.mean_pa = statistics.mean_pa;
    mark.slope_pa_per_s = statistics.slope_pa_per_s;
    mark.scatter_pa = statistics.scatter_pa;
    mark.effective_count = statistics.effective_count;
    mark.u_mean_pa = statistics.u_mean_pa;
    mark.u_mean_dof = statistics.u_mean_dof;
    finish_mark(mark);
    mark.approach_pa = approach.farthest_pa().value_or(mark.mean_pa);
    if (approach.beyond_pa(mark.mean_pa) > approach_margin_pa(mark.u_pa, mark.scatter_pa, instrument))
        mark.flags.emplace_back(approached_wrongly(state.running()->now()->direction));
    return mark;
}

Fact judge_entry(const State& state, std::size_t channel, const ReadingEntered& entry) {
    const auto failed = [&](std::string why) -> Fact {
        return WindowFailed{static_cast<std::int64_t>(channel), 0, 0, std::move(why)};
    };
    const auto& instrument = state.bench->instruments[channel];
    if (const auto why = obstacle(state, channel, entry.pressed_us); !why.empty()) return failed(why);
    const Ground ground = ground_of(state);
    const Micros guard_us = guarded_from(state, ground, instrument) + micros(5 * instrument.response_time_s);
    if (entry.started_us < guard_us)
        return failed(fmt::format("it was read {:.1f} s too soon after the confirmation; read it again",
                                  static_cast<double>(guard_us - entry.started_us) / 1e6));
    if (entry.pressed_us > ground.until_us) return failed("the float has expired");
    MarkTaken mark = begin_mark(state, channel, ground);
    mark.from_us = entry.started_us;
    mark.to_us = entry.pressed_us;
    mark.count = 1;
    mark.untapped_pa = entry.untapped_pa;
    mark.tapped_pa = entry.tapped_pa;
    mark.mean_pa = entry.tapped_pa;
    // A single estimate of a pointer: what it may be off is its resolution, which the combination takes in.
    mark.u_mean_dof = std::numeric_limits<double>::infinity();
    finish_mark(mark);
    mark.approach_pa = mark.mean_pa;
    // A pointer has no readings on the way: it takes over what the wired channels saw.
    for (const Mark& other : state.marks) {
        const auto& sibling = other.taken;
        if (sibling.run == mark.run && sibling.visit == mark.visit && sibling.interval == mark.interval &&
            !sibling.flags.empty() && mark.flags.empty())
            mark.flags = sibling.flags;
    }
    return mark;
}

} // namespace stillmark::bench
