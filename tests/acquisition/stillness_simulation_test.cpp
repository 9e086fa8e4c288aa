#include "daemon/acquisition/line_judgement.hpp"
#include "daemon/acquisition/sliding_window.hpp"
#include "daemon/acquisition/stillness.hpp"
#include "daemon/acquisition/student_t.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <vector>

// What the criterion promises, over many simulated windows: readings correlated by the response time (first-order
// autoregressive, r = exp(-dt/tau)), four a response time, the drift limit at five standard deviations of the slope.
namespace stillmark::acquisition {
namespace {

constexpr int windows = 20'000;
constexpr double interval_s = 0.25;
const double correlation = std::exp(-interval_s);

/// Standard deviation of the least-squares slope of n readings of unit variance with this correlation, exact.
double slope_deviation(int n) {
    const double middle = (n - 1) / 2.0;
    double sxx = 0;
    double variance = 0;
    for (int i = 0; i < n; ++i) {
        sxx += (i - middle) * (i - middle);
        for (int j = 0; j < n; ++j)
            variance += (i - middle) * (j - middle) * std::pow(correlation, std::abs(i - j));
    }
    return std::sqrt(variance) / (sxx * interval_s);
}

struct Share {
    double corrected;
    double uncorrected; ///< with the readings taken as independent, as a textbook's line fit does
};

/// The share of windows that pass with a drift of `limits` times the limit.
Share passing(double window_s, double limits_of_drift) {
    const int n = static_cast<int>(std::lround(window_s / interval_s)) + 1;
    const double deviation = slope_deviation(n);
    StillnessLimits limits = default_limits(1, interval_s, 0, 1);
    limits.window_s = window_s;
    limits.drift_limit_pa = 5 * deviation * window_s;
    limits.scatter_limit_pa = 1e9;
    const double drift_pa_per_s = 5 * deviation * limits_of_drift;
    const double sxx = interval_s * interval_s * n * (static_cast<double>(n) * n - 1) / 12;
    const double t = t_95(n - 2);
    std::mt19937_64 random(7);
    std::normal_distribution<double> normal;
    std::vector<TimedValue> readings(static_cast<std::size_t>(n));
    int corrected = 0;
    int uncorrected = 0;
    for (int k = 0; k < windows; ++k) {
        double noise = normal(random);
        for (int i = 0; i < n; ++i) {
            readings[static_cast<std::size_t>(i)] = {std::llround(1e6 * interval_s * i),
                                                     noise + drift_pa_per_s * interval_s * i, true};
            noise = correlation * noise + std::sqrt(1 - correlation * correlation) * normal(random);
        }
        const WindowStatistics measured = measure_window(readings, limits);
        corrected += measured.failing == Criterion::none ? 1 : 0;
        const double naive = std::abs(measured.slope_pa_per_s) + t * measured.scatter_pa / std::sqrt(sxx);
        uncorrected += naive * window_s <= limits.drift_limit_pa ? 1 : 0;
    }
    return {static_cast<double>(corrected) / windows, static_cast<double>(uncorrected) / windows};
}

// At most 5 % by the meaning of the bound; the correction keeps it, without it the error is several times as large.
TEST(Simulation, ADriftAtTheLimitIsSeldomAcceptedAndOftenWithoutTheCorrection) {
    for (const double window_s : {20.0, 12.0}) {
        const Share share = passing(window_s, 1);
        EXPECT_GT(share.corrected, 0.015) << window_s;
        EXPECT_LT(share.corrected, 0.04) << window_s;
        EXPECT_GT(share.uncorrected, 0.10) << window_s;
    }
}

TEST(Simulation, ADriftOfTwiceTheLimitIsPracticallyNeverAccepted) {
    EXPECT_LT(passing(20, 2).corrected, 2e-4);
}

TEST(Simulation, AReadingAtRestPassesTheMoreOftenTheLongerTheWindow) {
    EXPECT_NEAR(passing(20, 0).corrected, 0.96, 0.02);
    EXPECT_NEAR(passing(14, 0).corrected, 0.85, 0.03);
    EXPECT_NEAR(passing(12, 0).corrected, 0.77, 0.03);
}

// A million readings at 1000 bar with steps of pressure and noise of 1 mPa: the sums must not wear out.
TEST(Simulation, AMillionReadingsAndStepsOfPressureCostNoDigits) {
    constexpr Micros poll_us = 10'000;
    constexpr std::size_t kept = 200;
    StillnessLimits limits = default_limits(0.05, 0.01, 0, 1);
    limits.window_s = 1e-6 * static_cast<double>(poll_us) * (kept - 1);
    limits.poll_interval_s = 0.01;
    SlidingWindow sliding(kept, 8 * kept);
    std::mt19937_64 random(11);
    std::normal_distribution<double> normal;
    std::vector<TimedValue> last(kept);
    double level = 1e8;
    double worst_scatter = 0;
    double worst_slope = 0;
    std::size_t since_step = 0;
    for (std::size_t i = 0; i < 1'000'000; ++i) {
        if (i % 7919 == 0) {
            level = 1e8 * (0.1 + std::abs(normal(random)));
            since_step = 0;
        }
        ++since_step;
        const TimedValue reading{static_cast<Micros>(i) * poll_us, level + 1e-3 * normal(random), true};
        last[i % kept] = reading;
        sliding.push(reading.at_us, reading.value_pa);
        sliding.reach_back_to(reading.at_us - static_cast<Micros>(kept - 1) * poll_us);
        const LineFit& fit = sliding.fit();
        // At once after the step has left the window, and now and then.
        if (since_step != kept && i % 997 != 0) continue;
        if (since_step < kept || i < kept) continue;
        std::vector<TimedValue> window;
        for (std::size_t k = 0; k < kept; ++k)
            window.push_back(last[(i + 1 + k) % kept]);
        const WindowStatistics measured = measure_window(window, limits);
        const double scatter = std::sqrt(fit.residual_pa2 / static_cast<double>(kept - 2));
        worst_scatter = std::max(worst_scatter, std::abs(scatter / measured.scatter_pa - 1));
        worst_slope = std::max(worst_slope, std::abs(fit.slope_pa_per_s - measured.slope_pa_per_s) /
                                                (measured.scatter_pa / std::sqrt(fit.sxx_s2)));
    }
    EXPECT_GT(worst_scatter, 0); // something was compared
    EXPECT_LT(worst_scatter, 1e-10);
    EXPECT_LT(worst_slope, 1e-10);
}

} // namespace
} // namespace stillmark::acquisition
