#include "daemon/bench/ambient.hpp"

#include <fmt/format.h>

#include <cmath>

namespace stillmark::bench {

namespace {

std::string validity_words(double seconds) {
    if (seconds >= 3600) return fmt::format("{:.3g} h", seconds / 3600);
    if (seconds >= 60) return fmt::format("{:.3g} min", seconds / 60);
    return fmt::format("{:.3g} s", seconds);
}

} // namespace

bool rests_on_ambient(const BenchFile& bench, const Instrument& instrument, bool vented) {
    // What is open to air has the gauge pressure 0, whatever the balance's mode.
    const auto line = vented ? metrology::PressureKind::gauge : bench.balance.mode;
    return (line == metrology::PressureKind::gauge) != (instrument.counted_from == metrology::PressureKind::gauge);
}

bool rests_on_ambient(const Run& run, std::size_t channel) {
    for (std::size_t visit = 0; visit < run.plan.visits.size(); ++visit)
        if (run.owes_mark(channel, visit) &&
            rests_on_ambient(*run.bench, run.bench->instruments[channel], run.plan.visits[visit].vented))
            return true;
    return false;
}

bool barometer_is_current(const State& state, Micros now_us) {
    const auto read_us = state.conditions.pressure_read_us;
    return read_us && now_us - *read_us <= micros(state.bench->surroundings.air_pressure_valid_s);
}

std::string ambient_obstacle(const State& state, const Instrument& instrument, bool vented, Micros now_us) {
    if (!rests_on_ambient(*state.bench, instrument, vented)) return {};
    const auto& limits = state.bench->surroundings;
    if (!state.conditions.pressure_read_us)
        return "it counts from the ambient pressure, and the barometer was not read: enter the air pressure";
    if (!barometer_is_current(state, now_us))
        return fmt::format("it counts from the ambient pressure, which was read more than {} ago: read the barometer "
                           "again and enter the air pressure",
                           validity_words(limits.air_pressure_valid_s));
    const Run* run = state.running();
    if (run == nullptr || !run->ambient_at_start_pa) return {};
    const double change_pa = state.conditions.air.pressure_pa.value - *run->ambient_at_start_pa;
    if (std::abs(change_pa) > limits.air_pressure_drift_pa)
        return fmt::format("it counts from the ambient pressure, which has changed by {:.2f} hPa since the run began, "
                           "more than {:g} hPa: begin the run again when the air is steadier",
                           change_pa / 100, limits.air_pressure_drift_pa / 100);
    return {};
}

std::vector<std::string> surroundings_asked(const State& state, Micros now_us) {
    const Run* run = state.running();
    if (run == nullptr) return {};
    if (!state.conditions.stated || now_us - state.conditions.stated_us > micros(state.bench->surroundings.valid_s))
        return {"air_temperature", "air_pressure", "humidity", "piston_temperature"};
    if (barometer_is_current(state, now_us)) return {};
    for (std::size_t channel = 0; channel < run->takes_part.size(); ++channel)
        if (rests_on_ambient(*run, channel)) return {"air_pressure"};
    return {};
}

} // namespace stillmark::bench
