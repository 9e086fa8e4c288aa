// Readings a second of the stillness detector, with autocorrelation and verdict at each, beside a fresh computation of
// the window at each reading and beside the mere sum of the same doubles. In turn, A B A B; CPU time, medians.
#include "daemon/acquisition/line_judgement.hpp"
#include "daemon/acquisition/stillness.hpp"
#include "daemon/acquisition/student_t.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <time.h>
#include <vector>

namespace {

using namespace stillmark;
using namespace stillmark::acquisition;

constexpr std::size_t readings_kept = 1 << 20;
constexpr Micros poll_us = 10'000;

double cpu_s() {
    timespec now{};
    ::clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
    return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

std::vector<TimedValue> invented_readings() {
    std::mt19937_64 random(1);
    std::normal_distribution<double> noise(0, 20);
    std::vector<TimedValue> readings;
    for (std::size_t i = 0; i < readings_kept; ++i)
        readings.push_back(
            {static_cast<Micros>(i) * poll_us + static_cast<Micros>(random() % 1000), 1e7 + noise(random), true});
    return readings;
}

StillnessLimits limits_of(std::size_t window) {
    StillnessLimits limits = default_limits(0.02, 0.01, 0, 1e4);
    limits.window_s = limits.hold_s = 0.01 * static_cast<double>(window);
    return limits;
}

// What each computation found goes here, so that none of it can be left out.
volatile double found = 0;

double detector_ns(const std::vector<TimedValue>& readings, std::size_t window) {
    StillnessDetector detector(limits_of(window));
    std::size_t still = 0;
    const double begin = cpu_s();
    for (int round = 0; round < 4; ++round) {
        const Micros later = static_cast<Micros>(round) * static_cast<Micros>(readings_kept) * poll_us;
        for (const TimedValue& reading : readings)
            still += detector.push({reading.at_us + later, reading.value_pa, true}) == Stillness::still ? 1U : 0U;
    }
    const double spent = cpu_s() - begin;
    found = static_cast<double>(still);
    return 1e9 * spent / (4.0 * readings_kept);
}

/// What a plain program would do: the window anew at each reading, in two passes, with the same verdict.
LineFit fresh_fit(const TimedValue* readings, std::size_t window) {
    LineFit fit;
    fit.count = window;
    const auto n = static_cast<double>(window);
    fit.per_count = 1 / n;
    fit.per_interval = 1 / (n - 1);
    fit.per_freedom = 1 / (n - 2);
    double sum_x = 0;
    double sum_y = 0;
    const auto x_of = [&](std::size_t i) { return 1e-6 * static_cast<double>(readings[i].at_us - readings[0].at_us); };
    for (std::size_t i = 0; i < window; ++i) {
        sum_x += x_of(i);
        sum_y += readings[i].value_pa;
    }
    const double mean_x = sum_x / n;
    const double mean_y = sum_y / n;
    double sxy = 0;
    double syy = 0;
    double sxx = 0;
    for (std::size_t i = 0; i < window; ++i) {
        const double x = x_of(i) - mean_x;
        const double y = readings[i].value_pa - mean_y;
        sxx += x * x;
        sxy += x * y;
        syy += y * y;
    }
    fit.sxx_s2 = sxx;
    fit.slope_pa_per_s = sxy / sxx;
    fit.residual_pa2 = syy - fit.slope_pa_per_s * sxy;
    double before = 0;
    for (std::size_t i = 0; i < window; ++i) {
        const double residual = readings[i].value_pa - mean_y - fit.slope_pa_per_s * (x_of(i) - mean_x);
        fit.neighbour_pa2 += before * residual;
        before = residual;
    }
    fit.span_s = x_of(window - 1);
    return fit;
}

double naive_ns(const std::vector<TimedValue>& readings, std::size_t window) {
    const StillnessLimits limits = limits_of(window);
    const Allowed allowed(limits);
    const std::size_t count = std::clamp<std::size_t>(50'000'000 / window, 1000, readings_kept - window);
    std::size_t passed = 0;
    const double begin = cpu_s();
    for (std::size_t i = 0; i < count; ++i) {
        const LineFit fit = fresh_fit(readings.data() + i, window);
        const double correlation = std::exp(-fit.span_s * fit.per_interval / limits.response_time_s);
        passed += judge_line(fit, allowed, correlation, StudentT95::table()).failing == Criterion::none ? 1U : 0U;
    }
    const double spent = cpu_s() - begin;
    found = static_cast<double>(passed);
    return 1e9 * spent / static_cast<double>(count);
}

double sum_ns(const std::vector<TimedValue>& readings) {
    std::vector<double> values;
    for (const TimedValue& reading : readings)
        values.push_back(reading.value_pa);
    const double begin = cpu_s();
    for (int round = 0; round < 16; ++round) {
        double parts[8] = {};
        for (std::size_t i = 0; i < readings_kept; i += 8)
            for (std::size_t k = 0; k < 8; ++k)
                parts[k] += values[i + k];
        for (const double part : parts)
            found = found + part;
    }
    return 1e9 * (cpu_s() - begin) / (16.0 * readings_kept);
}

struct Spread {
    double median, least, most;
};
Spread spread(std::vector<double> values) {
    std::sort(values.begin(), values.end());
    return {values[values.size() / 2], values.front(), values.back()};
}

} // namespace

int main() {
    const std::vector<TimedValue> readings = invented_readings();
    fmt::print("Stillness detector, CPU time a reading (goal: 3e7 readings/s, the same for every window)\n");
    for (const std::size_t window : {50U, 500U, 5000U}) {
        std::vector<double> ours;
        std::vector<double> naive;
        std::vector<double> sum;
        for (int turn = 0; turn < 7; ++turn) {
            ours.push_back(detector_ns(readings, window));
            naive.push_back(naive_ns(readings, window));
            sum.push_back(sum_ns(readings));
        }
        const Spread a = spread(ours);
        const Spread b = spread(naive);
        const Spread c = spread(sum);
        fmt::print("  window {:>4}: {:.1f} ns ({:.1f} to {:.1f}), {:.2e} readings/s; fresh computation {:.0f} ns, "
                   "{:.1f} times ours; sum of the doubles {:.2f} ns, ours {:.0f} times it\n",
                   window, a.median, a.least, a.most, 1e9 / a.median, b.median, b.median / a.median, c.median,
                   a.median / c.median);
    }
}
