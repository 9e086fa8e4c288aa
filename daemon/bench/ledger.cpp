#include "daemon/bench/ledger.hpp"

#include "daemon/bench/reference.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace stillmark::bench {

const char* word(IntervalEnd end) {
    switch (end) {
    case IntervalEnd::open:
        return "confirmed";
    case IntervalEnd::sighted:
    case IntervalEnd::moved_on:
        return "closed";
    case IntervalEnd::expired:
        return "expired";
    case IntervalEnd::lost:
        return "lost";
    case IntervalEnd::unknown:
        return "unknown";
    }
    return "";
}

const char* word(MarkStatus status) {
    switch (status) {
    case MarkStatus::provisional:
        return "provisional";
    case MarkStatus::sighted:
        return "sighted";
    case MarkStatus::unbracketed:
        return "unbracketed";
    case MarkStatus::voided:
        return "void";
    case MarkStatus::vented:
        return "vented";
    }
    return "";
}

FloatInterval* State::open_interval() {
    return !intervals.empty() && intervals.back().end == IntervalEnd::open ? &intervals.back() : nullptr;
}
const FloatInterval* State::open_interval() const {
    return const_cast<State*>(this)->open_interval();
}

double longest_float_s(const BalanceRange& range, double pressure_pa) {
    const double fall_m_per_s = range.fall_rate_m_per_s * std::max(pressure_pa, 0.0) / range.highest_pa;
    double longest = range.spin_time_s;
    if (fall_m_per_s > 0) longest = std::min(longest, range.float_band_m / 2 / fall_m_per_s);
    if (range.max_float_s) longest = std::min(longest, *range.max_float_s);
    return longest;
}

bool load_agrees(const State& state, const Step& step) {
    if (!state.load || !step.range) return false;
    const Run* run = state.running();
    if (run == nullptr || !step.point) return state.load->range == *step.range;
    const auto& point = state.bench->sequences[run->sequence].points[*step.point];
    return state.load->range == point.range && state.load->discs == point.discs;
}

bool float_agrees(const State& state, const Step& step) {
    const FloatInterval* interval = state.open_interval();
    return interval != nullptr && step.range && interval->range == *step.range && load_agrees(state, step) &&
           state.load->discs == interval->discs;
}

namespace {

std::optional<std::size_t> place_of_range(const BenchFile& bench, const std::string& name) {
    for (std::size_t i = 0; i < bench.balance.ranges.size(); ++i)
        if (bench.balance.ranges[i].physics.name == name) return i;
    return std::nullopt;
}

template <class Each>
void each_mark_of(State& state, std::int64_t interval, Each each) {
    for (auto& mark : state.marks)
        if (mark.taken.interval == interval) each(mark);
}

/// Marks that no later sighting closes in stay without bracket.
void leave_unbracketed(State& state, std::int64_t interval) {
    each_mark_of(state, interval, [](Mark& mark) {
        if (mark.status == MarkStatus::provisional) mark.status = MarkStatus::unbracketed;
    });
}

void end(State& state, FloatInterval& interval, IntervalEnd how, Micros at_us) {
    interval.end = how;
    interval.to_us = at_us;
    leave_unbracketed(state, interval.number);
    state.loss_suspected = false;
}

} // namespace

void move_on(State& state, Micros at_us) {
    if (FloatInterval* interval = state.open_interval()) end(state, *interval, IntervalEnd::moved_on, at_us);
}

std::vector<Tell> fold(State& state, Micros at_us, const LoadStated& fact) {
    const auto range = place_of_range(*state.bench, fact.range);
    if (!range) return {};
    StatedLoad load{*range, {}, fact.pressed_us};
    for (std::size_t disc = 0; disc < state.bench->discs.size(); ++disc)
        if (std::find(fact.discs.begin(), fact.discs.end(), state.bench->discs[disc].piece.name) != fact.discs.end())
            load.discs.push_back(disc);
    std::stable_sort(load.discs.begin(), load.discs.end(), [&state](std::size_t a, std::size_t b) {
        return state.bench->discs[a].piece.mass_kg.value > state.bench->discs[b].piece.mass_kg.value;
    });
    move_on(state, at_us);
    state.load = std::move(load);
    state.vented.reset();
    return {};
}

std::vector<Tell> fold(State& state, Micros at_us, const LineVented& fact) {
    move_on(state, at_us);
    state.vented = VentedLine{at_us, fact.by};
    return {};
}

std::vector<Tell> fold(State& state, Micros at_us, const FloatConfirmed& fact) {
    const auto range = place_of_range(*state.bench, fact.range);
    if (!range || !state.load) return {};
    move_on(state, at_us);
    FloatInterval interval;
    interval.number = static_cast<std::int64_t>(state.intervals.size()) + 1;
    interval.range = *range;
    interval.range_name = fact.range;
    interval.discs = state.load->discs;
    interval.from_us = at_us;
    interval.confirmed_us = interval.last_sighted_us = fact.pressed_us;
    const double pressure_pa = metrology::reference_pressure_pa(reference_inputs(
        *state.bench, *range, state.load->discs, state.conditions.air, state.conditions.piston_temperature_c, nullptr));
    interval.expires_us = fact.pressed_us + micros(longest_float_s(state.bench->balance.ranges[*range], pressure_pa));
    interval.by = fact.by;
    state.intervals.push_back(std::move(interval));
    state.vented.reset();
    state.loss_suspected = false;
    state.was_away = false;
    // Who stated load and float in one press wound before it: what the pressure did since the load was asked for
    // counts.
    if (Run* run = state.running(); run != nullptr && run->load_from > 0 && state.load->pressed_us == fact.pressed_us)
        run->approach_from = run->load_from;
    return {};
}

std::vector<Tell> fold(State& state, Micros, const FloatSighted& fact) {
    FloatInterval* interval = state.open_interval();
    if (interval == nullptr) return {};
    each_mark_of(state, interval->number, [&fact](Mark& mark) {
        if (mark.status == MarkStatus::provisional && mark.taken.to_us + mark.taken.timing_us <= fact.pressed_us)
            mark.status = MarkStatus::sighted;
    });
    if (fact.close) {
        end(state, *interval, IntervalEnd::sighted, fact.pressed_us);
    } else if (fact.pressed_us > interval->last_sighted_us) {
        // A renewal proves as much as a confirmation does, and no more. Two people's presses may arrive out of order.
        interval->expires_us += fact.pressed_us - interval->last_sighted_us;
        interval->last_sighted_us = fact.pressed_us;
    }
    return {};
}

std::vector<Tell> fold(State& state, Micros, const FloatLost& fact) {
    FloatInterval* interval = state.open_interval();
    if (interval == nullptr) return {};
    std::vector<Tell> told;
    const Micros guard_us = micros(state.bench->balance.loss_guard_s);
    each_mark_of(state, interval->number, [&](Mark& mark) {
        const bool counted = mark.status == MarkStatus::provisional || mark.status == MarkStatus::sighted;
        if (!counted || mark.taken.to_us + mark.taken.timing_us + guard_us <= fact.pressed_us) return;
        mark.status = MarkStatus::voided;
        mark.void_because = metrology::sentence(
            "the float was lost {seconds} s after the window",
            {metrology::number_value(
                "seconds", fmt::format("{:.1f}", static_cast<double>(fact.pressed_us - mark.taken.to_us) / 1e6))});
        mark.why = metrology::english(mark.void_because);
        told.push_back({false, fmt::format("mark {} is void: {}", mark.taken.mark, mark.why)});
    });
    end(state, *interval, IntervalEnd::lost, fact.pressed_us);
    return told;
}

std::vector<Tell> fold(State& state, Micros, const FloatExpired& fact) {
    FloatInterval* interval = state.open_interval();
    if (interval == nullptr || interval->number != fact.interval) return {};
    end(state, *interval, IntervalEnd::expired, interval->expires_us);
    return {{false, "the float has expired: look at the piston and confirm again"}};
}

std::vector<Tell> fold(State& state, Micros at_us, const FloatUnknown& fact) {
    FloatInterval* interval = state.open_interval();
    if (interval == nullptr || interval->number != fact.interval) return {};
    // Nobody watched from the last sighting on. A mark that ended well before was as good as any other provisional one;
    // both wait for a person's word, so neither is void.
    end(state, *interval, IntervalEnd::unknown, at_us);
    state.was_away = true;
    return {{false, "the service was away while the piston floated: look at the piston and confirm again"}};
}

} // namespace stillmark::bench
