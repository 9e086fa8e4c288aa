#pragma once

#include "daemon/acquisition/line_fit.hpp"
#include "daemon/acquisition/stillness.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

namespace stillmark::acquisition {

/// Under this many independent readings no bound of the slope is stated.
inline constexpr double least_independent = 5;

/// The statistical half of the criterion, written once for the mark and for the detector.
struct LineJudgement {
    double scatter_pa = 0;
    double autocorrelation = 0;
    double correlation = 0;
    double effective_count = 0;
    double slope_error_pa_per_s = std::numeric_limits<double>::infinity(); ///< s_b
    double slope_bound_pa_per_s = std::numeric_limits<double>::infinity();
    Criterion failing = Criterion::count;
};

/// Judges a fitted window of which readings and gaps have been found in order.
/// `least_correlation` is exp(-dt/tau): an instrument with a response time cannot give more independent readings than
/// that. `t_95` is the one-sided 95 % point of Student's t.
/// The estimate of r1 is biased low by about (1 + 4 r1)/n, hence the correction (Marriott and Pope, Biometrika 41
/// (1954) 390, from memory); the mean and the slope of a first-order correlated series have (1 + r)/(1 - r) times the
/// variance of an uncorrelated one.
template <class Quantile>
LineJudgement judge_line(const LineFit& fit, const Allowed& allowed, double least_correlation, Quantile&& t_95) {
    LineJudgement out;
    if (fit.count < 3) return out;
    const double variance = fit.residual_pa2 * fit.per_freedom;
    const double r1 = fit.residual_pa2 > 0 ? fit.neighbour_pa2 / fit.residual_pa2 : 0.0;
    const double r = std::max({0.0, r1 + (1 + 4 * r1) * fit.per_count, least_correlation});
    out.scatter_pa = std::sqrt(variance);
    out.autocorrelation = r1;
    out.correlation = r;
    out.effective_count = std::max(0.0, static_cast<double>(fit.count) * ((1 - r) / (1 + r)));
    if (fit.count < allowed.least_readings) return out;
    // Comparisons are written so that a NaN fails them.
    if (!(out.effective_count >= least_independent)) {
        out.failing = Criterion::independence;
        return out;
    }
    out.slope_error_pa_per_s = std::sqrt(variance * (1 + r) / (fit.sxx_s2 * (1 - r)));
    out.slope_bound_pa_per_s =
        std::abs(fit.slope_pa_per_s) +
        std::max(t_95(out.effective_count - 2) * out.slope_error_pa_per_s, allowed.least_bound_pa_per_s);
    if (!(out.slope_bound_pa_per_s <= allowed.most_bound_pa_per_s))
        out.failing = Criterion::drift;
    else if (!(out.scatter_pa <= allowed.most_scatter_pa))
        out.failing = Criterion::scatter;
    else
        out.failing = Criterion::none;
    return out;
}

/// What judge_line finds failing, where that is plain without Student's t, a root or a quotient: from 3 degrees of
/// freedom on t lies between the two figures here. Nothing between them.
inline std::optional<Criterion> plain_verdict(const LineFit& fit, const Allowed& allowed, double least_correlation) {
    constexpr double least_t = 1.644;
    constexpr double most_t = 2.354;
    if (fit.count < allowed.least_readings) return Criterion::count;
    const double r1 = fit.residual_pa2 > 0 ? fit.neighbour_pa2 / fit.residual_pa2 : 0.0;
    const double corrected = r1 + (1 + 4 * r1) * fit.per_count;
    const double known = least_correlation > 0 ? least_correlation : 0.0;
    const double r = corrected > known ? corrected : known;
    const double shortfall = static_cast<double>(fit.count) * (1 - r) - least_independent * (1 + r);
    // Rounding may decide otherwise than judge_line here and below: too near is not plain.
    constexpr double near = 1e-9;
    if (shortfall < -near) return Criterion::independence;
    const double room = allowed.most_bound_pa_per_s - std::abs(fit.slope_pa_per_s);
    if (room < allowed.least_bound_pa_per_s * (1 - near)) return Criterion::drift;
    const double variance = fit.residual_pa2 * fit.per_freedom;
    const double held = room * room * (fit.sxx_s2 * (1 - r));
    const double error = variance * (1 + r);
    if (held < least_t * least_t * error) return shortfall > near ? std::optional(Criterion::drift) : std::nullopt;
    if (!(shortfall > near && room > allowed.least_bound_pa_per_s * (1 + near) && held > most_t * most_t * error))
        return std::nullopt;
    const double most_variance = allowed.most_scatter_pa * allowed.most_scatter_pa;
    if (variance < most_variance * (1 - near)) return Criterion::none;
    if (variance > most_variance * (1 + near)) return Criterion::scatter;
    return std::nullopt;
}

} // namespace stillmark::acquisition
