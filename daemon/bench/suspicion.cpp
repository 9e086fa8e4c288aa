#include "daemon/bench/suspicion.hpp"

#include "daemon/bench/pressure_of_mass.hpp"
#include "daemon/metrology/loads/lost_float.hpp"
#include "daemon/metrology/loads/wrong_load.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <ranges>

namespace stillmark::bench {

namespace {

bool has(const std::vector<std::size_t>& discs, std::size_t disc) {
    return std::find(discs.begin(), discs.end(), disc) != discs.end();
}

/// The last interval of this run under another load, or nothing: what was moved since then was moved for this one.
const FloatInterval* load_before(const State& state, const FloatInterval& now) {
    const Run* run = state.running();
    for (const FloatInterval& one : std::views::reverse(state.intervals)) {
        if (run != nullptr && one.from_us < run->started_us) return nullptr;
        if (one.discs != now.discs || one.range != now.range) return &one;
    }
    return nullptr;
}

/// By how much an instrument is expected to be off at a pressure, and how sure that is.
metrology::Uncertain expected_off(const State& state, const FloatInterval& interval, std::size_t channel,
                                  double reference_pa) {
    const auto& instrument = state.bench->instruments[channel];
    metrology::Uncertain off{0, instrument.mpe_pa / std::numbers::sqrt3};
    const Run* run = state.running();
    double nearest_pa = std::numeric_limits<double>::infinity();
    for (const Mark& mark : state.marks) {
        const auto& taken = mark.taken;
        // What no second look or open line stands behind may be the mark of another load itself.
        const bool bracketed = mark.status == MarkStatus::sighted || mark.status == MarkStatus::vented;
        if (run == nullptr || taken.run != run->id || static_cast<std::size_t>(taken.channel) != channel ||
            taken.interval == interval.number || !bracketed)
            continue;
        const double away_pa = std::abs(taken.reference_pa - reference_pa);
        if (away_pa > nearest_pa) continue;
        nearest_pa = away_pa;
        off.value = taken.deviation_pa;
        off.u = 0.5 * instrument.mpe_pa / std::numbers::sqrt3;
    }
    off.u = std::max(off.u, instrument.resolution_pa);
    return off;
}

/// A disc with its nominal mass, and with those of the given discs that weigh the same: a pressure cannot tell them
/// apart.
std::string disc_words(const BenchFile& bench, std::size_t disc, const std::vector<std::size_t>& among) {
    const double kg = bench.discs[disc].piece.mass_kg.value;
    std::string names = bench.discs[disc].piece.name;
    for (const std::size_t other : among)
        if (other != disc && std::abs(bench.discs[other].piece.mass_kg.value - kg) <= 1e-4 * kg)
            names += " or " + bench.discs[other].piece.name;
    return fmt::format("{} ({:g} kg)", names, kg);
}

std::string explanation_words(const BenchFile& bench, const FloatInterval& interval, const metrology::LoadCase& load,
                              const metrology::LoadExplanation& one) {
    // What was handled alike: stated or not, and moved for this point or not.
    const auto like = [&](std::size_t disc) {
        std::vector<std::size_t> all;
        for (std::size_t i = 0; i < load.stated.size(); ++i)
            if (load.stated[i] == load.stated[disc] && load.moved[i] == load.moved[disc]) all.push_back(i);
        return disc_words(bench, disc, all);
    };
    const auto range_name = [&](std::size_t range) { return bench.balance.ranges[range].physics.name; };
    std::string words;
    switch (one.fault) {
    case metrology::LoadFault::missing_disc:
        words = fmt::format("disc {} was stated and is not on the head", like(one.disc));
        break;
    case metrology::LoadFault::extra_disc:
        words = fmt::format("disc {} is on the head and was not stated", like(one.disc));
        break;
    case metrology::LoadFault::swapped_disc:
        words = fmt::format("disc {} lies on the head in place of {}", like(one.other), like(one.disc));
        break;
    case metrology::LoadFault::forgotten_part:
        words = fmt::format("a floating part is not there: {}",
                            bench.balance.ranges[interval.range].physics.floating_parts[one.disc].name);
        break;
    case metrology::LoadFault::other_range:
        words = fmt::format("the valves are turned to the {} range, not to the {} range", range_name(one.disc),
                            range_name(interval.range));
        break;
    case metrology::LoadFault::between_ranges:
        words =
            fmt::format("no piston floats: the pressure lies between what this load makes in the {} range and in the "
                        "{} range (valves not turned over?)",
                        range_name(std::min(one.disc, interval.range)), range_name(std::max(one.disc, interval.range)));
        break;
    case metrology::LoadFault::none:
        words = "none of these: look at the piston, the line and the instruments";
        break;
    }
    if (one.fault != metrology::LoadFault::none && one.fault != metrology::LoadFault::between_ranges)
        words += fmt::format(": {:+.4g} bar (misfit {:.1f})", one.predicted_pa / 1e5, one.misfit);
    return words + fmt::format(", {:.0f} %", 100 * one.probability);
}

std::string reason_words(const metrology::LossReason& reason) {
    const auto size = [&reason](const char* how, double factor, const char* unit) {
        return reason.figure > 0 ? fmt::format(" ({}{:.2g} {})", how, reason.figure * factor, unit) : std::string();
    };
    std::string words;
    switch (reason.cause) {
    case metrology::LossCause::at_bottom:
        words = "the piston has sunk to its rest" +
                size("the flow through its gap would do this to a closed line of ", 1e6, "cm3");
        break;
    case metrology::LossCause::leak:
        words = "the line leaks" + size("in 100 cm3 of liquid ", 1, "times the flow through the piston's gap");
        break;
    case metrology::LossCause::temperature:
        words = "the enclosed liquid changes its temperature" + size("it would take ", 60, "K a minute");
        break;
    case metrology::LossCause::at_stop:
        words = "the piston was raised against its upper stop and the pressure goes on rising";
        break;
    }
    return words + fmt::format(", {:.0f} %", 100 * reason.weight);
}

Suspicion suspicion_now(const State& state, std::int64_t interval, Micros at_us) {
    Suspicion one;
    one.interval = interval;
    one.at_us = at_us;
    if (const Run* run = state.running()) {
        one.run = run->id;
        if (const Step* step = run->now()) one.visit = step->visit;
    }
    return one;
}

const Suspicion* latest(const State& state, bool of_load) {
    const FloatInterval* interval = state.open_interval();
    if (interval == nullptr) return nullptr;
    // A number is given again after a confirmation was taken back; the instant tells the two apart.
    for (const Suspicion& one : std::views::reverse(state.suspicions))
        if (one.of_load == of_load && one.interval == interval->number && one.at_us >= interval->from_us) return &one;
    return nullptr;
}

} // namespace

std::optional<WrongLoadSuspected> suspect_wrong_load(const State& state, std::span<const SeenReading> readings) {
    const FloatInterval* interval = state.open_interval();
    if (interval == nullptr || !state.bench) return std::nullopt;
    const BenchFile& bench = *state.bench;
    const auto& air = state.conditions.air;
    const auto& piston = state.conditions.piston_temperature_c;
    std::vector<metrology::ChannelOffset> offsets;
    for (const SeenReading& reading : readings) {
        const double reference_pa = metrology::reference_pressure_pa(reference_inputs(
            bench, interval->range, interval->discs, air, piston, &bench.instruments[reading.channel]));
        const auto expected = expected_off(state, *interval, reading.channel, reference_pa);
        if (!(expected.u > 0)) continue;
        offsets.push_back({reading.value_pa - reference_pa - expected.value, expected.u});
    }
    const auto common = metrology::common_offset(offsets);
    if (!common) return std::nullopt;

    metrology::LoadCase load;
    PressureOfMass range(bench, interval->range, air, piston);
    const FloatInterval* before = load_before(state, *interval);
    for (std::size_t disc = 0; disc < bench.discs.size(); ++disc) {
        const auto& ranges = bench.discs[disc].ranges;
        load.discs_kg.push_back(range.effective_kg(bench.discs[disc].piece));
        load.stated.push_back(has(interval->discs, disc));
        load.moved.push_back(before == nullptr ? load.stated.back() : load.stated.back() != has(before->discs, disc));
        load.usable.push_back(ranges.empty() || has(ranges, interval->range));
    }
    for (const auto& part : bench.balance.ranges[interval->range].physics.floating_parts)
        load.parts_kg.push_back(range.effective_kg(part));
    load.pressure_pa = [&range](double kg) { return range.pressure_pa(kg); };
    const auto made_pa = [&](std::size_t in) {
        return metrology::reference_pressure_pa(reference_inputs(bench, in, interval->discs, air, piston, nullptr));
    };
    load.reference_pa = made_pa(interval->range);
    for (std::size_t other = 0; other < bench.balance.ranges.size(); ++other)
        if (other != interval->range) load.others.push_back({other, made_pa(other)});
    load.range_changed = before == nullptr || before->range != interval->range;
    load.first_load = before == nullptr;

    WrongLoadSuspected fact;
    fact.interval = interval->number;
    fact.offset_pa = common->off_pa;
    fact.u_pa = common->u_pa;
    fact.channels = static_cast<std::int64_t>(common->agreeing);
    for (const auto& one : metrology::explain(load, *common))
        fact.explanations.push_back(explanation_words(bench, *interval, load, one));
    return fact;
}

LossSuspected suspect_loss(const State& state, std::span<const SeenReading> readings, Micros now_us) {
    const FloatInterval* interval = state.open_interval();
    LossSuspected fact;
    if (interval == nullptr) return fact;
    fact.interval = interval->number;
    if (readings.empty()) return fact;
    std::vector<double> drifts;
    for (const SeenReading& reading : readings)
        drifts.push_back(reading.drift_pa_per_s);
    const auto middle = drifts.begin() + static_cast<std::ptrdiff_t>(drifts.size() / 2);
    std::nth_element(drifts.begin(), middle, drifts.end());

    const BenchFile& bench = *state.bench;
    const auto& range = bench.balance.ranges[interval->range];
    const auto inputs = reference_inputs(bench, interval->range, interval->discs, state.conditions.air,
                                         state.conditions.piston_temperature_c, nullptr);
    const double pressure_pa = metrology::reference_pressure_pa(inputs);
    metrology::DriftEvidence evidence;
    evidence.drift_pa_per_s = *middle;
    evidence.area_m2 = range.physics.area_m2.value;
    evidence.fall_rate_m_per_s = range.fall_rate_m_per_s * std::max(pressure_pa, 0.0) / range.highest_pa;
    evidence.half_band_m = range.float_band_m / 2;
    evidence.since_sighted_s = static_cast<double>(now_us - interval->last_sighted_us) / 1e6;
    if (!inputs.gas) { // what a gas does to an enclosed volume says nothing of its size
        evidence.expansion_per_k = inputs.liquid.expansion_per_k;
        evidence.compressibility_per_pa = inputs.liquid.compressibility_per_pa;
    }
    fact.drift_pa_per_s = *middle;
    fact.reasons.emplace();
    for (const auto& reason : metrology::loss_reasons(evidence))
        fact.reasons->push_back(reason_words(reason));
    return fact;
}

std::vector<Tell> fold(State& state, Micros at_us, const LossSuspected& fact) {
    const FloatInterval* interval = state.open_interval();
    if (interval == nullptr || interval->number != fact.interval) return {};
    state.loss_suspected = true;
    Suspicion one = suspicion_now(state, fact.interval, at_us);
    one.drift_pa_per_s = fact.drift_pa_per_s.value_or(0);
    one.ranked = fact.reasons.value_or(std::vector<std::string>());
    one.words = "all readings drift together at constant load: look whether the piston still floats";
    if (fact.drift_pa_per_s)
        one.words = fmt::format("all readings drift together at constant load ({:+.2g} bar a minute): look whether the "
                                "piston still floats",
                                *fact.drift_pa_per_s * 60 / 1e5);
    state.suspicions.push_back(one);
    return {{false, one.words}};
}

std::vector<Tell> fold(State& state, Micros at_us, const WrongLoadSuspected& fact) {
    const FloatInterval* interval = state.open_interval();
    if (interval == nullptr || interval->number != fact.interval) return {};
    Suspicion one = suspicion_now(state, fact.interval, at_us);
    one.of_load = true;
    one.offset_pa = fact.offset_pa;
    one.ranked = fact.explanations;
    one.words = fmt::format("{} {:.3g} bar {} what the stated load makes: count the discs and look at the valves",
                            fact.channels == 1 ? "the one reading lies" : "all readings lie",
                            std::abs(fact.offset_pa) / 1e5, fact.offset_pa > 0 ? "above" : "below");
    if (fact.channels == 1) one.words += "; a single instrument may also be off by itself";
    state.suspicions.push_back(one);
    return {{false, one.ranked.empty() ? one.words : one.words + "; most likely: " + one.ranked.front()}};
}

const Suspicion* load_suspicion(const State& state) {
    return latest(state, true);
}
const Suspicion* float_suspicion(const State& state) {
    return latest(state, false);
}

} // namespace stillmark::bench
