#include "simulator/gauge.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace stillmark::simulator {

Gauge::Gauge(std::string name, const GaugeCharacter& character, std::uint64_t seed)
    : name_(std::move(name)), character_(character), seed_(seed), noise_(seed, "noise of " + name_),
      cold_pa_(character.warm_up_s > 0 ? character.cold_pa * std::exp(-character.powered_s / character.warm_up_s) : 0) {
}

void Gauge::clamp_anew() {
    ++times_clamped_;
    const auto about = fmt::format("{} clamped {} ", name_, times_clamped_);
    clamped_zero_pa_ = drawn(character_.reclamping, seed_, about + "zero");
    clamped_top_pa_ = drawn(character_.reclamping, seed_, about + "top");
}

/// A line from the shift at the span's foot to that at its top.
double Gauge::clamping_error(double part_of_span) const {
    return clamped_zero_pa_ + (clamped_top_pa_ - clamped_zero_pa_) * part_of_span;
}

void Gauge::Backlash::follow(double pressure_pa, double width_pa) {
    at_pa = std::clamp(at_pa, pressure_pa - width_pa, pressure_pa + width_pa);
}

double Gauge::indication(double pressure_pa, const Backlash& backlash) const {
    const double span = character_.span_high_pa - character_.span_low_pa;
    const double part = (pressure_pa - character_.span_low_pa) / span;
    const double turned =
        character_.hysteresis_width_pa > 0 ? (backlash.at_pa - pressure_pa) / character_.hysteresis_width_pa : 0;
    return pressure_pa + character_.zero_pa + cold_pa_ + clamping_error(part) +
           character_.span_error * (pressure_pa - character_.span_low_pa) +
           character_.nonlinearity_pa * 4 * part * (1 - part) + character_.hysteresis_pa * turned;
}

void Gauge::advance(double pressure_pa, double hydraulic_s, double wall_s) {
    pressure_pa_ = pressure_pa;
    if (cold_pa_ != 0) cold_pa_ *= std::exp(-hydraulic_s / character_.warm_up_s);
    true_backlash_.follow(pressure_pa, character_.hysteresis_width_pa);
    pointer_.follow(settled_pa(), character_.friction_pa);
    lagged_pa_ +=
        (character_.lag_s > 0 ? -std::expm1(-hydraulic_s / character_.lag_s) : 1.0) * (pressure_pa - lagged_pa_);
    lagged_backlash_.follow(lagged_pa_, character_.hysteresis_width_pa);
    clock_s_ += wall_s;
    while (next_conversion_s() <= clock_s_) {
        const double spread = std::hypot(character_.noise_pa, extra_noise_pa_);
        conversions_.push_back(
            {next_conversion_s(), indication(lagged_pa_, lagged_backlash_) + spread * noise_.normal()});
        ++conversions_made_;
    }
    const double wanted_s = clock_s_ - character_.delay_s;
    while (conversions_.size() > 1 && conversions_[1].at_s <= wanted_s)
        conversions_.pop_front();
}

double Gauge::settled_pa() const {
    return indication(pressure_pa_, true_backlash_);
}

double Gauge::shown_pa() const {
    const double value = conversions_.empty() ? settled_pa() : conversions_.front().value_pa;
    return character_.resolution_pa > 0 ? character_.resolution_pa * std::round(value / character_.resolution_pa)
                                        : value;
}

} // namespace stillmark::simulator
