#include "daemon/acquisition/stillness.hpp"
#include "daemon/acquisition/window_collector.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>

namespace stillmark::acquisition {
namespace {

constexpr Micros poll_us = 50'000;

/// A transmitter read every 50 ms, 0.05 s of response, permissible error 500 hPa.
StillnessLimits limits_of(double resolution_pa = 0) {
    StillnessLimits limits = default_limits(0.05, 0.05, resolution_pa, 5e4);
    limits.window_s = limits.hold_s = 1.6;
    return limits;
}

/// 1.6 s of readings around 40 bar: a drift over the window and white noise.
std::vector<TimedValue> window_of(double drift_pa, double noise_pa, unsigned seed = 1) {
    std::mt19937_64 random(seed);
    std::normal_distribution<double> normal;
    std::vector<TimedValue> readings;
    for (int i = 0; i <= 32; ++i)
        readings.push_back({1'000'000 + i * poll_us, 4e6 + drift_pa * i / 32 + noise_pa * normal(random), true});
    return readings;
}

TEST(Window, ARestingReadingPasses) {
    const WindowStatistics measured = measure_window(window_of(0, 100), limits_of());
    EXPECT_EQ(measured.failing, Criterion::none);
    EXPECT_EQ(measured.count, 33U);
    EXPECT_NEAR(measured.mean_pa, 4e6, 100);
    EXPECT_NEAR(measured.scatter_pa, 100, 40);
    EXPECT_GT(measured.u_mean_pa, 100 / std::sqrt(33.0));
    EXPECT_DOUBLE_EQ(measured.u_mean_dof, measured.effective_count - 1);
}

TEST(Window, EachCriterionFailsByItself) {
    const StillnessLimits limits = limits_of();
    auto one_bad = window_of(0, 100);
    one_bad[7].good = false;
    EXPECT_EQ(measure_window(one_bad, limits).failing, Criterion::readings);
    EXPECT_EQ(measure_window(one_bad, limits).count, 32U);

    auto gap = window_of(0, 100);
    gap.erase(gap.begin() + 10, gap.begin() + 13); // 4 intervals between neighbours
    EXPECT_EQ(measure_window(gap, limits).failing, Criterion::gap);
    auto no_gap = window_of(0, 100);
    no_gap.erase(no_gap.begin() + 10, no_gap.begin() + 12); // 3 intervals
    EXPECT_EQ(measure_window(no_gap, limits).failing, Criterion::none);

    StillnessLimits many = limits;
    many.least_readings = 34;
    EXPECT_EQ(measure_window(window_of(0, 100), many).failing, Criterion::count);

    StillnessLimits sluggish = limits;
    sluggish.response_time_s = 0.5;
    EXPECT_EQ(measure_window(window_of(0, 100), sluggish).failing, Criterion::independence);

    EXPECT_EQ(measure_window(window_of(2600, 1), limits).failing, Criterion::drift);
    EXPECT_EQ(measure_window(window_of(-2600, 1), limits).failing, Criterion::drift);
    EXPECT_EQ(measure_window(window_of(2400, 1), limits).failing, Criterion::none);

    StillnessLimits calm = limits;
    calm.scatter_limit_pa = 50;
    EXPECT_EQ(measure_window(window_of(0, 100), calm).failing, Criterion::scatter);
}

TEST(Window, ReadingsThatCoverTooLittleTimeHaveAGapAtTheEdge) {
    auto cut = window_of(0, 100);
    cut.resize(29); // 1.4 s of 1.6
    EXPECT_EQ(measure_window(cut, limits_of()).failing, Criterion::gap);
    cut = window_of(0, 100);
    cut.resize(30); // 1.45 s: three intervals are missing
    EXPECT_EQ(measure_window(cut, limits_of()).failing, Criterion::none);
}

TEST(Window, ADriftUnderTheLimitPassesOnlyWhereNoiseLeavesRoomForTheBound) {
    EXPECT_EQ(measure_window(window_of(1500, 10), limits_of()).failing, Criterion::none);
    EXPECT_EQ(measure_window(window_of(1500, 1500), limits_of()).failing, Criterion::drift);
}

TEST(Window, ZeroVarianceHasNoCorrelationOfItsOwnAndNoUncertaintyButResolution) {
    const WindowStatistics measured = measure_window(window_of(0, 0), limits_of(1000));
    EXPECT_EQ(measured.failing, Criterion::none);
    EXPECT_EQ(measured.autocorrelation, 0);
    EXPECT_EQ(measured.scatter_pa, 0);
    EXPECT_EQ(measured.u_mean_pa, 0);
    EXPECT_EQ(measured.mean_pa, 4e6);
    EXPECT_NEAR(measured.correlation, std::exp(-1), 1e-12); // the response time still correlates
    EXPECT_DOUBLE_EQ(measured.slope_bound_pa_per_s, 1000 / 1.6);
}

// A display that repeats itself may hide a drift of a digit: it passes only where a digit is within the limit.
TEST(Window, ACoarseDisplayThatRepeatsItselfIsTrustedToOneDigit) {
    StillnessLimits limits = limits_of(1000);
    limits.drift_limit_pa = 1001;
    EXPECT_EQ(measure_window(window_of(0, 0), limits).failing, Criterion::none);
    limits.drift_limit_pa = 999;
    EXPECT_EQ(measure_window(window_of(0, 0), limits).failing, Criterion::drift);
}

TEST(Window, ValuesThatAreNoNumbersNeverPass) {
    for (const double value : {std::nan(""), std::numeric_limits<double>::infinity()}) {
        auto readings = window_of(0, 100);
        readings[5].value_pa = value;
        EXPECT_EQ(measure_window(readings, limits_of()).failing, Criterion::readings);
        EXPECT_TRUE(std::isfinite(measure_window(readings, limits_of()).mean_pa));
    }
    auto huge = window_of(0, 100);
    huge[5].value_pa = 1e200;
    EXPECT_NE(measure_window(huge, limits_of()).failing, Criterion::none);
    StillnessLimits broken = limits_of();
    broken.drift_limit_pa = std::nan("");
    EXPECT_EQ(measure_window(window_of(0, 100), broken).failing, Criterion::drift);
}

TEST(Window, FewOrOddReadingsAreJudgedNotDividedBy) {
    EXPECT_EQ(measure_window({}, limits_of()).failing, Criterion::count);
    auto readings = window_of(0, 100);
    for (const std::size_t count : {1U, 2U, 3U}) {
        const auto measured = measure_window(std::span(readings).first(count), limits_of());
        EXPECT_EQ(measured.failing, Criterion::gap) << count;
        EXPECT_TRUE(std::isfinite(measured.scatter_pa)) << count;
        EXPECT_TRUE(std::isfinite(measured.mean_pa)) << count;
    }
    auto burst = readings;
    for (TimedValue& reading : burst)
        reading.at_us = 5;
    EXPECT_NE(measure_window(burst, limits_of()).failing, Criterion::none);
    EXPECT_EQ(measure_window(burst, limits_of()).slope_pa_per_s, 0);
    std::swap(readings[3], readings[4]);
    EXPECT_EQ(measure_window(readings, limits_of()).failing, Criterion::readings); // stamps that go back
}

// The scatter of u_mean is about the mean: a drift that the limit allows stays in the uncertainty of the mean.
TEST(Window, AnAllowedDriftStaysInTheUncertaintyOfTheMean) {
    const WindowStatistics measured = measure_window(window_of(2400, 0), limits_of());
    const double step = 2400.0 / 32; // readings i * step, i = 0 to 32: variance step^2 n (n + 1)/12
    const double deviation = step * std::sqrt(33.0 * 34 / 12);
    EXPECT_NEAR(measured.u_mean_pa, deviation / std::sqrt(measured.effective_count), 1e-9 * deviation);
}

TEST(Window, SameReadingsGiveTheSameBits) {
    const auto readings = window_of(700, 300);
    const WindowStatistics first = measure_window(readings, limits_of());
    const WindowStatistics second = measure_window(std::vector(readings), limits_of());
    EXPECT_EQ(first.mean_pa, second.mean_pa);
    EXPECT_EQ(first.slope_bound_pa_per_s, second.slope_bound_pa_per_s);
    EXPECT_EQ(first.u_mean_pa, second.u_mean_pa);
}

TEST(Limits, DefaultsFollowThePermissibleErrorAndTheResolution) {
    const StillnessLimits fine = default_limits(0.05, 0.05, 1, 5e4);
    EXPECT_DOUBLE_EQ(fine.window_s, 3);
    EXPECT_DOUBLE_EQ(fine.hold_s, 3);
    EXPECT_DOUBLE_EQ(fine.drift_limit_pa, 2500);
    EXPECT_DOUBLE_EQ(fine.scatter_limit_pa, 5000);
    const StillnessLimits coarse = default_limits(0.4, 0.1, 1e4, 5e4);
    EXPECT_DOUBLE_EQ(coarse.window_s, 8);
    EXPECT_DOUBLE_EQ(coarse.drift_limit_pa, 2e4);
    EXPECT_DOUBLE_EQ(coarse.scatter_limit_pa, 2e4);
    EXPECT_EQ(objection_to(fine), "");
    EXPECT_EQ(objection_to(coarse), "");
}

TEST(Limits, ObjectionsNameWhatWasFoundAndWhatWouldDo) {
    const auto objection = [](auto change) {
        StillnessLimits limits = limits_of(1);
        change(limits);
        return objection_to(limits);
    };
    EXPECT_EQ(objection([](StillnessLimits&) {}), "");
    EXPECT_EQ(objection([](StillnessLimits& l) { l.window_s = 0.5; }),
              "window 0.5 s is under 12 response times; use at least 0.6 s");
    EXPECT_EQ(objection([](StillnessLimits& l) { l.window_s = 12 * 0.05; }), "");
    EXPECT_EQ(objection([](StillnessLimits& l) { l.response_time_s = 0; }),
              "response time 0 s is not above zero; give the time of a first-order response");
    EXPECT_EQ(objection([](StillnessLimits& l) { l.poll_interval_s = -1; }), "polling interval -1 s is not above zero");
    EXPECT_EQ(objection([](StillnessLimits& l) { l.hold_s = -1; }),
              "hold -1 s is below zero; leave it out to use the window, 1.6 s");
    EXPECT_EQ(objection([](StillnessLimits& l) { l.poll_interval_s = 0.5; }),
              "window 1.6 s holds fewer than 8 readings 0.5 s apart; use a window of at least 3.5 s or poll every "
              "0.228571 s");
    EXPECT_EQ(objection([](StillnessLimits& l) { l.least_readings = 4; }),
              "least count of readings 4 is under 5; use at least 5");
    EXPECT_EQ(objection([](StillnessLimits& l) {
                  l.least_readings = 5;
                  l.poll_interval_s = 0.4;
              }),
              "window 1.6 s holds fewer than 5 independent readings at a response time of 0.05 s; use at least 2.4 s");
    EXPECT_EQ(objection([](StillnessLimits& l) { l.resolution_pa = -1; }), "resolution -1 Pa is below zero");
    EXPECT_EQ(objection([](StillnessLimits& l) { l.drift_limit_pa = 0; }),
              "drift limit 0 Pa is not above zero; state it or the permissible error");
    EXPECT_EQ(objection([](StillnessLimits& l) { l.scatter_limit_pa = std::nan(""); }),
              "scatter limit nan Pa is not above zero; state it or the permissible error");
    EXPECT_EQ(objection([](StillnessLimits& l) { l.resolution_pa = 2000; }),
              "drift limit 2500 Pa over the window cannot be shown with a resolution of 2000 Pa; use at least 3000 Pa");
    EXPECT_EQ(objection([](StillnessLimits& l) { l.resolution_pa = 2500 / 1.5; }), "");
}

TEST(Collector, TakesTheFirstWindowFromTheFixedInstantAndNoOther) {
    WindowCollector collector(1'000'000, limits_of());
    EXPECT_FALSE(collector.take(10, {999'999, 1, true}));
    EXPECT_TRUE(collector.readings().empty());
    std::uint64_t number = 20;
    Micros at_us = 1'010'000;
    while (!collector.take(number, {at_us, 2, true}) && number < 1000) {
        number += 3; // other channels' readings lie between
        at_us += poll_us;
    }
    EXPECT_TRUE(collector.complete());
    EXPECT_EQ(collector.first_number(), 20U);
    EXPECT_EQ(collector.last_number(), 20U + 3 * 32);
    EXPECT_EQ(collector.from_us(), 1'010'000);
    EXPECT_EQ(collector.to_us(), 2'610'000);
    EXPECT_EQ(collector.readings().size(), 33U);
    EXPECT_TRUE(collector.take(500, {9'000'000, 3, true}));
    EXPECT_EQ(collector.last_number(), 20U + 3 * 32);
    EXPECT_EQ(collector.progress(), 1);
    EXPECT_EQ(measure_window(collector.readings(), limits_of()).failing, Criterion::none);
}

TEST(Collector, BadReadingsAreCollectedAndFailTheWindow) {
    WindowCollector collector(0, limits_of());
    for (int i = 0; i <= 32; ++i)
        collector.take(static_cast<std::uint64_t>(i), {i * poll_us, 2, i != 5});
    EXPECT_TRUE(collector.complete());
    EXPECT_EQ(measure_window(collector.readings(), limits_of()).failing, Criterion::readings);
}

TEST(Collector, BeginsAgain) {
    WindowCollector collector(0, limits_of());
    collector.take(1, {0, 2, true});
    collector.take(2, {800'000, 2, true});
    EXPECT_DOUBLE_EQ(collector.progress(), 0.5);
    collector.begin_again(900'000);
    EXPECT_EQ(collector.progress(), 0);
    EXPECT_FALSE(collector.take(3, {850'000, 2, true}));
    EXPECT_FALSE(collector.take(4, {950'000, 2, true}));
    EXPECT_EQ(collector.first_number(), 4U);
    EXPECT_TRUE(collector.take(5, {2'550'000, 2, true}));
}

TEST(Collector, MemoryIsBounded) {
    WindowCollector collector(0, limits_of());
    for (std::uint64_t i = 0; i < 100'000; ++i)
        collector.take(i, {static_cast<Micros>(i), 2, true});
    EXPECT_TRUE(collector.overflowed());
    EXPECT_FALSE(collector.complete());
    EXPECT_LE(collector.readings().size(), 16U * 32 + 16);
}

} // namespace
} // namespace stillmark::acquisition
