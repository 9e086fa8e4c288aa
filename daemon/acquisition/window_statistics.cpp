#include "daemon/acquisition/line_judgement.hpp"
#include "daemon/acquisition/student_t.hpp"

#include <cmath>

namespace stillmark::acquisition {

namespace {

bool counts(const TimedValue& reading) {
    return reading.good && std::isfinite(reading.value_pa);
}

/// Gaps between stamps and at the edges: a window that spans less than W is one whose edge is missing.
Criterion order_of_readings(std::span<const TimedValue> readings, const StillnessLimits& limits) {
    const double longest_gap_us = 3e6 * limits.poll_interval_s;
    bool gap = false;
    for (std::size_t i = 0; i < readings.size(); ++i) {
        if (!counts(readings[i])) return Criterion::readings;
        if (i == 0) continue;
        const auto step_us = static_cast<double>(readings[i].at_us - readings[i - 1].at_us);
        if (step_us < 0) return Criterion::readings;
        gap = gap || step_us > longest_gap_us;
    }
    if (readings.empty()) return Criterion::count;
    const auto span_us = static_cast<double>(readings.back().at_us - readings.front().at_us);
    return gap || span_us + longest_gap_us < 1e6 * limits.window_s ? Criterion::gap : Criterion::none;
}

} // namespace

WindowStatistics measure_window(std::span<const TimedValue> readings, const StillnessLimits& limits) {
    WindowStatistics out;
    std::vector<double> time_s;
    std::vector<double> value_pa;
    time_s.reserve(readings.size());
    value_pa.reserve(readings.size());
    for (const TimedValue& reading : readings)
        if (counts(reading)) {
            time_s.push_back(1e-6 * static_cast<double>(reading.at_us - readings.front().at_us));
            value_pa.push_back(reading.value_pa);
        }
    out.count = value_pa.size();
    out.failing = order_of_readings(readings, limits);
    if (out.count == 0) return out;

    // The first pass: means. Sums run over differences from the first reading, so that a large pressure costs no
    // digits.
    const auto n = static_cast<double>(out.count);
    LineFit fit;
    fit.count = out.count;
    fit.per_count = 1 / n;
    fit.per_interval = 1 / (n - 1);
    fit.per_freedom = 1 / (n - 2);
    fit.span_s = time_s.back() - time_s.front();
    double sum_time = 0;
    double sum_value = 0;
    for (std::size_t i = 0; i < out.count; ++i) {
        sum_time += time_s[i];
        sum_value += value_pa[i] - value_pa[0];
    }
    fit.mean_time_s = sum_time / n;
    const double mean_offset = sum_value / n;
    fit.mean_pa = value_pa[0] + mean_offset;

    // The second: centred sums; then the residuals about the line, each by itself.
    double sxy = 0;
    double syy = 0;
    for (std::size_t i = 0; i < out.count; ++i) {
        const double x = time_s[i] - fit.mean_time_s;
        const double y = (value_pa[i] - value_pa[0]) - mean_offset;
        fit.sxx_s2 += x * x;
        sxy += x * y;
        syy += y * y;
    }
    fit.slope_pa_per_s = fit.sxx_s2 > 0 ? sxy / fit.sxx_s2 : 0;
    double before = 0;
    for (std::size_t i = 0; i < out.count; ++i) {
        const double y = (value_pa[i] - value_pa[0]) - mean_offset;
        const double residual = y - fit.slope_pa_per_s * (time_s[i] - fit.mean_time_s);
        fit.residual_pa2 += residual * residual;
        fit.neighbour_pa2 += before * residual;
        before = residual;
    }

    const double interval_s = out.count > 1 ? fit.span_s / (n - 1) : 0;
    const LineJudgement judged = judge_line(fit, Allowed(limits), std::exp(-interval_s / limits.response_time_s),
                                            [](double dof) { return t_95(dof); });
    out.mean_pa = fit.mean_pa;
    out.slope_pa_per_s = fit.slope_pa_per_s;
    out.scatter_pa = judged.scatter_pa;
    out.autocorrelation = judged.autocorrelation;
    out.correlation = judged.correlation;
    out.effective_count = judged.effective_count;
    out.slope_bound_pa_per_s = judged.slope_bound_pa_per_s;
    if (out.effective_count > 1) {
        // The scatter here is the one about the mean. The mean is the one quantity estimated, to which n_eff - 1
        // belongs, and a drift that the limit still allows is thereby not subtracted from the uncertainty of a result
        // that takes the window as one pressure.
        out.u_mean_pa = std::sqrt(syy / (n - 1) / out.effective_count);
        out.u_mean_dof = out.effective_count - 1;
    }
    if (out.failing == Criterion::none) out.failing = judged.failing;
    return out;
}

} // namespace stillmark::acquisition
