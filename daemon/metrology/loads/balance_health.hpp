#pragma once

#include <cstdint>
#include <optional>
#include <span>

namespace stillmark::metrology {

enum class HealthSign : std::uint8_t {
    fall_rate,    ///< m/s, at the range's highest pressure: more is worse
    spin_time,    ///< s of free rotation: less is worse
    smallest_disc ///< kg of the smallest disc that moves the indication: more is worse
};

enum class HealthVerdict : std::uint8_t {
    good,
    changed, ///< within what the balance is stated to do, but off from its own history
    poor     ///< worse than the balance is stated to do
};

struct HealthJudgement {
    HealthVerdict verdict = HealthVerdict::good;
    std::optional<double> against_stated;  ///< value over what the bench file states
    std::optional<double> against_history; ///< value over the median of what was measured before
};

/// What a piston-cylinder may change against its own history before somebody should look at it (common practice: a
/// clean one repeats its fall rate to some ten per cent at one temperature).
inline constexpr double history_factor = 1.3;
/// What a single measurement with a stop watch may be off the stated figure.
inline constexpr double stated_factor = 1.1;

/// `stated`: the bench file's figure, nothing where it states none. `history`: earlier values of the same range and
/// sign; fewer than three say nothing yet.
HealthJudgement judge_health(HealthSign sign, double value, std::optional<double> stated,
                             std::span<const double> history);

/// A fall rate measured at one pressure, as it would be at another: the flow of a liquid through the gap goes with the
/// pressure (annular Poiseuille flow). Pressures over zero.
double fall_rate_at(double fall_rate_m_per_s, double measured_at_pa, double at_pa);

/// Fall rate in liquid, m/s: gap^3 p / (3 viscosity length diameter), from the flow pi d h^3 p/(12 eta L) through a gap
/// that is small against the diameter. SI units, all over zero.
double fall_rate_m_per_s(double diameter_m, double gap_m, double length_m, double viscosity_pa_s, double pressure_pa);

/// How the free rotation dies away in the gap alone, s: I h / (2 pi r^3 L eta). The drag of the air shortens it.
double spin_decay_s(double inertia_kg_m2, double diameter_m, double gap_m, double length_m, double viscosity_pa_s);

} // namespace stillmark::metrology
