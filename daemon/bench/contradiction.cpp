#include "daemon/bench/contradiction.hpp"

#include "daemon/bench/mark.hpp"
#include "daemon/bench/reference.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace stillmark::bench {

namespace {

constexpr double far_errors = 5;
constexpr double far_part = 0.02;

std::optional<Contradiction> contradict(const Instrument& instrument, std::size_t channel, double shows_pa,
                                        double expected_pa) {
    const double far = far_pa(instrument, expected_pa);
    if (std::abs(shows_pa - expected_pa) <= far) return std::nullopt;
    return Contradiction{channel, shows_pa, expected_pa, far};
}

double reference_pa(const State& state, std::size_t range, const std::vector<std::size_t>& discs,
                    const Instrument& instrument) {
    return metrology::reference_pressure_pa(reference_inputs(*state.bench, range, discs, state.conditions.air,
                                                             state.conditions.piston_temperature_c, &instrument));
}

} // namespace

double far_pa(const Instrument& instrument, double expected_pa) {
    const double of_pressure = far_part * std::abs(expected_pa);
    if (instrument.mpe_pa > 0) return std::max(far_errors * instrument.mpe_pa, of_pressure);
    return std::max(far_part * (instrument.span_high_pa - instrument.span_low_pa), of_pressure);
}

std::vector<Contradiction> contradict_no_pressure(const State& state, std::span<const SeenReading> seen) {
    std::vector<Contradiction> all;
    for (const SeenReading& reading : seen) {
        const auto& instrument = state.bench->instruments[reading.channel];
        // The pressure of the air, and the head of what fills the line, are no pressure that was left in it.
        const double expected_pa = reference_vented(state, instrument).at_instrument_pa;
        if (const auto one = contradict(instrument, reading.channel, reading.value_pa, expected_pa))
            all.push_back(*one);
    }
    return all;
}

std::vector<Contradiction> contradict_float(const State& state, std::span<const SeenReading> seen, std::size_t range,
                                            const std::vector<std::size_t>& discs) {
    std::vector<Contradiction> all;
    for (const SeenReading& reading : seen) {
        const auto& instrument = state.bench->instruments[reading.channel];
        const double expected_pa = reference_pa(state, range, discs, instrument);
        if (const auto one = contradict(instrument, reading.channel, reading.value_pa, expected_pa))
            all.push_back(*one);
    }
    if (2 * all.size() <= seen.size()) all.clear();
    return all;
}

std::optional<Contradiction> contradict_entry(const State& state, std::size_t channel, const ReadingEntered& entry) {
    const auto& instrument = state.bench->instruments[channel];
    const FloatInterval* interval = state.open_interval();
    if (interval == nullptr && !state.vented) return std::nullopt;
    const double expected_pa = interval != nullptr ? reference_pa(state, interval->range, interval->discs, instrument)
                                                   : reference_vented(state, instrument).at_instrument_pa;
    const bool untapped_is_farther =
        std::abs(entry.untapped_pa - expected_pa) > std::abs(entry.tapped_pa - expected_pa);
    return contradict(instrument, channel, untapped_is_farther ? entry.untapped_pa : entry.tapped_pa, expected_pa);
}

std::string pressure_number(const Instrument& instrument, double pressure_pa) {
    const double scale = std::abs(instrument.unit.pascals);
    int digits = 4;
    if (instrument.resolution_pa > 0)
        digits = std::clamp(static_cast<int>(std::ceil(-std::log10(instrument.resolution_pa / scale) - 1e-9)), 0, 6);
    return fmt::format("{:.{}f}", instrument.unit.from_pa(pressure_pa), digits);
}

std::string pressure_words(const Instrument& instrument, double pressure_pa) {
    return fmt::format("{} {}", pressure_number(instrument, pressure_pa), instrument.unit.symbol);
}

std::string words(const BenchFile& bench, std::span<const Contradiction> all) {
    std::string text;
    for (const Contradiction& one : all) {
        const auto& instrument = bench.instruments[one.channel];
        text += fmt::format("{}{} shows {} where {} is expected", text.empty() ? "" : "; ", instrument.name,
                            pressure_words(instrument, one.shows_pa), pressure_words(instrument, one.expected_pa));
    }
    return text;
}

std::vector<Tell> fold(State& state, Micros at_us, const ReadingsOverruled& fact) {
    const auto count = fact.channels.size();
    if (fact.shows_pa.size() != count || fact.expected_pa.size() != count || fact.far_pa.size() != count) return {};
    Overruling one{fact, at_us, at_us + state.utc_offset_us, std::nullopt, 0};
    for (const Run& run : state.runs)
        if (run.id == fact.run && fact.step >= 0 && static_cast<std::size_t>(fact.step) < run.plan.steps.size())
            one.visit = run.plan.steps[static_cast<std::size_t>(fact.step)].visit;
    const bool of_float = fact.press == press_confirm || fact.press == press_sighted;
    if (of_float && !state.intervals.empty()) one.interval = state.intervals.back().number;
    state.overruled.push_back(std::move(one));
    return {{true, fmt::format("{} was pressed although {}; {}: {}", fact.press, fact.words,
                               fact.by.empty() ? "nobody's name" : fact.by, fact.reason)}};
}

} // namespace stillmark::bench
