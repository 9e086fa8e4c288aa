#include "daemon/acquisition/line_judgement.hpp"
#include "daemon/acquisition/sliding_window.hpp"
#include "daemon/acquisition/stillness.hpp"
#include "daemon/acquisition/student_t.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <random>
#include <vector>

namespace stillmark::acquisition {
namespace {

StillnessLimits limits_of(double response_time_s, double window_s, double poll_interval_s) {
    StillnessLimits limits;
    limits.response_time_s = response_time_s;
    limits.window_s = window_s;
    limits.hold_s = window_s;
    limits.poll_interval_s = poll_interval_s;
    limits.drift_limit_pa = 2500;
    limits.scatter_limit_pa = 5000;
    return limits;
}

/// What the sliding sums say of the window against two passes over the same readings, relative.
void expect_same(SlidingWindow& sliding, const std::vector<TimedValue>& readings, const StillnessLimits& limits,
                 double tolerance) {
    const WindowStatistics measured = measure_window(readings, limits);
    const LineFit& fit = sliding.fit();
    const double floor = std::exp(-fit.span_s / static_cast<double>(fit.count - 1) / limits.response_time_s);
    const LineJudgement judged = judge_line(fit, Allowed(limits), floor, StudentT95::table());
    EXPECT_EQ(plain_verdict(fit, Allowed(limits), floor).value_or(judged.failing), judged.failing);
    ASSERT_EQ(fit.count, measured.count);
    const double slope_scale = measured.scatter_pa / std::sqrt(fit.sxx_s2);
    EXPECT_NEAR(fit.mean_pa, measured.mean_pa, 1e-14 * std::abs(measured.mean_pa) + tolerance * measured.scatter_pa);
    EXPECT_NEAR(fit.slope_pa_per_s, measured.slope_pa_per_s, tolerance * slope_scale);
    EXPECT_NEAR(judged.scatter_pa, measured.scatter_pa, tolerance * measured.scatter_pa);
    EXPECT_NEAR(judged.autocorrelation, measured.autocorrelation, tolerance);
    EXPECT_NEAR(judged.effective_count, measured.effective_count, tolerance * static_cast<double>(fit.count));
    if (std::isfinite(measured.slope_bound_pa_per_s))
        EXPECT_NEAR(judged.slope_bound_pa_per_s, measured.slope_bound_pa_per_s,
                    10 * tolerance * measured.slope_bound_pa_per_s);
    else
        EXPECT_EQ(judged.slope_bound_pa_per_s, measured.slope_bound_pa_per_s);
}

std::vector<TimedValue> last_window(const std::vector<TimedValue>& all, Micros window_us) {
    std::size_t first = all.size() - 1;
    while (first > 0 && all[first].at_us > all.back().at_us - window_us)
        --first;
    return {all.begin() + static_cast<std::ptrdiff_t>(first), all.end()};
}

// A pressure with steps, drifts, correlated noise and stamps that jitter; compared at every reading.
TEST(SlidingWindow, AgreesWithTwoPassesAtEveryReading) {
    for (const unsigned seed : {1U, 2U, 3U}) {
        std::mt19937_64 random(seed);
        std::normal_distribution<double> normal;
        std::uniform_real_distribution<double> uniform;
        const StillnessLimits limits = limits_of(0.05, 1.6, 0.05);
        SlidingWindow sliding(8, 1000);
        std::vector<TimedValue> all;
        double level = 1e7;
        double drift = 0;
        double noise = 0;
        Micros at_us = 1'000'000'000'000;
        for (int i = 0; i < 4000; ++i) {
            if (uniform(random) < 0.005) level += 1e7 * normal(random);
            if (uniform(random) < 0.005) drift = uniform(random) < 0.5 ? 0 : 1e4 * normal(random);
            level += drift * 0.05;
            noise = 0.4 * noise + normal(random);
            at_us += 30'000 + static_cast<Micros>(40'000 * uniform(random));
            all.push_back({at_us, level + noise, true});
            sliding.push(at_us, all.back().value_pa);
            sliding.reach_back_to(at_us - 1'600'000);
            const auto window = last_window(all, 1'600'000);
            if (window.size() >= 3) expect_same(sliding, window, limits, 1e-9);
            if (testing::Test::HasFailure()) FAIL() << "at reading " << i << " of seed " << seed;
        }
    }
}

// The quick way to the verdict and the whole one, over all that windows can be, with limits all around them.
TEST(PlainVerdict, IsNeverAnotherThanTheWholeJudgement) {
    std::mt19937_64 random(9);
    std::uniform_real_distribution<double> uniform;
    const auto over_decades = [&](double decades) { return std::pow(10.0, decades * (uniform(random) - 0.5)); };
    std::map<Criterion, int> plain_ones;
    int total = 0;
    for (; total < 300'000; ++total) {
        LineFit fit;
        fit.count = 5 + static_cast<std::size_t>(uniform(random) * 100);
        const auto n = static_cast<double>(fit.count);
        fit.per_count = 1 / n;
        fit.per_interval = 1 / (n - 1);
        fit.per_freedom = 1 / (n - 2);
        fit.sxx_s2 = n / 12;
        fit.residual_pa2 = uniform(random) < 0.05 ? 0 : n * over_decades(3);
        fit.neighbour_pa2 = fit.residual_pa2 * (1.6 * uniform(random) - 0.7);
        fit.slope_pa_per_s = (uniform(random) < 0.5 ? -1 : 1) * over_decades(3);
        StillnessLimits limits = limits_of(0.01, 1, 0.01);
        limits.drift_limit_pa = 3 * over_decades(2);
        limits.scatter_limit_pa = over_decades(2);
        limits.resolution_pa = uniform(random) < 0.5 ? 0 : over_decades(2);
        const double least_correlation = 0.6 * uniform(random);
        const auto plain = plain_verdict(fit, Allowed(limits), least_correlation);
        if (!plain) continue;
        ++plain_ones[*plain];
        ASSERT_EQ(*plain, judge_line(fit, Allowed(limits), least_correlation, StudentT95::table()).failing) << total;
    }
    for (const Criterion criterion :
         {Criterion::none, Criterion::count, Criterion::independence, Criterion::drift, Criterion::scatter})
        EXPECT_GT(plain_ones[criterion], 1000) << word(criterion);
}

} // namespace
} // namespace stillmark::acquisition
