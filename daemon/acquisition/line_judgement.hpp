#pragma once

#include "daemon/acquisition/line_fit.hpp"
#include "daemon/acquisition/stillness.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

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
LineJudgement judge_line(const LineFit& fit, const StillnessLimits& limits, double least_correlation, Quantile&& t_95) {
    LineJudgement out;
    if (fit.count < 3) return out;
    const auto n = static_cast<double>(fit.count);
    const double variance = fit.residual_pa2 / (n - 2);
    out.scatter_pa = std::sqrt(variance);
    out.autocorrelation = fit.residual_pa2 > 0 ? std::clamp(fit.neighbour_pa2 / fit.residual_pa2, -1.0, 1.0) : 0.0;
    out.correlation = std::max({0.0, out.autocorrelation + (1 + 4 * out.autocorrelation) / n, least_correlation});
    out.effective_count = std::max(0.0, n * (1 - out.correlation) / (1 + out.correlation));
    if (fit.count < static_cast<std::size_t>(std::max(0, limits.least_readings))) return out;
    // Comparisons are written so that a NaN fails them.
    if (!(out.effective_count >= least_independent)) {
        out.failing = Criterion::independence;
        return out;
    }
    out.slope_error_pa_per_s = std::sqrt(variance * n / (fit.sxx_s2 * out.effective_count));
    out.slope_bound_pa_per_s =
        std::abs(fit.slope_pa_per_s) +
        std::max(t_95(out.effective_count - 2) * out.slope_error_pa_per_s, limits.resolution_pa / limits.window_s);
    const double over_s = std::max(limits.window_s, 5 * limits.response_time_s);
    if (!(out.slope_bound_pa_per_s * over_s <= limits.drift_limit_pa))
        out.failing = Criterion::drift;
    else if (!(out.scatter_pa <= limits.scatter_limit_pa))
        out.failing = Criterion::scatter;
    else
        out.failing = Criterion::none;
    return out;
}

} // namespace stillmark::acquisition
