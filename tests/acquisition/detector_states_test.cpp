#include "daemon/acquisition/stillness.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace stillmark::acquisition {
namespace {

constexpr Micros poll_us = 50'000;
constexpr double poll_s = 0.05;

StillnessLimits limits_of() {
    StillnessLimits limits = default_limits(0.05, poll_s, 0, 5e4); // drift 2500 Pa, scatter 5000 Pa
    limits.window_s = limits.hold_s = 1.6;
    return limits;
}

/// A channel on invented time.
struct Rig {
    explicit Rig(const StillnessLimits& limits) : detector(limits) {}
    Stillness read(double value_pa) {
        now_us += poll_us;
        return detector.push({now_us, value_pa + noise_pa * normal(random), true});
    }
    /// Seconds of readings at one pressure until the channel is still; none within 100 s.
    std::optional<double> seconds_until_still(double value_pa) {
        for (int i = 1; i <= 2000; ++i)
            if (read(value_pa) == Stillness::still) return i * poll_s;
        return std::nullopt;
    }
    StillnessDetector detector;
    Micros now_us = 7'000'000'000;
    double noise_pa = 20;
    std::mt19937_64 random{5};
    std::normal_distribution<double> normal;
};

TEST(Detector, IsStillAfterOneWindowAndOneHoldAtRest) {
    Rig rig(limits_of());
    EXPECT_EQ(rig.detector.now(), Stillness::settling);
    EXPECT_EQ(rig.detector.progress(), 0);
    double progress = 0;
    for (int i = 0; i < 64; ++i) { // 0 to 3.15 s
        EXPECT_EQ(rig.read(4e6), Stillness::settling) << i;
        EXPECT_GE(rig.detector.progress(), progress);
        progress = rig.detector.progress();
        EXPECT_NEAR(rig.detector.expected_s().value(), 3.2 - i * poll_s, 1e-6) << i;
        EXPECT_EQ(rig.detector.failing(), i < 32 ? Criterion::count : Criterion::none) << i;
    }
    EXPECT_EQ(rig.read(4e6), Stillness::still);
    EXPECT_EQ(rig.detector.progress(), 1);
    EXPECT_EQ(rig.detector.expected_s(), 0);
    EXPECT_EQ(rig.detector.failing(), Criterion::none);
}

TEST(Detector, AShorterHoldIsShorterByThat) {
    StillnessLimits limits = limits_of();
    limits.hold_s = 0.6;
    Rig rig(limits);
    EXPECT_NEAR(rig.seconds_until_still(4e6).value(), 2.25, 0.01);
}

TEST(Detector, AStepIsSeenWithTwoReadingsAndStillComesBackAfterWindowAndHold) {
    Rig rig(limits_of());
    ASSERT_TRUE(rig.seconds_until_still(4e6));
    rig.read(6e6);
    EXPECT_EQ(rig.read(6e6), Stillness::moving);
    EXPECT_EQ(rig.detector.progress(), 0);
    EXPECT_EQ(rig.detector.failing(), Criterion::drift);
    const double seconds = rig.seconds_until_still(6e6).value();
    EXPECT_NEAR(seconds, 3.2 - poll_s, 0.06); // the window begins with the first of the two
}

TEST(Detector, OneGlitchIsNoStep) {
    Rig rig(limits_of());
    ASSERT_TRUE(rig.seconds_until_still(4e6));
    EXPECT_NE(rig.read(4.1e6), Stillness::moving);
    EXPECT_NE(rig.read(4e6), Stillness::moving);
    EXPECT_TRUE(rig.seconds_until_still(4e6));
}

TEST(Detector, APumpedPressureMovesAllTheWayAndSettlesAfterwards) {
    Rig rig(limits_of());
    ASSERT_TRUE(rig.seconds_until_still(4e6));
    int moving = 0;
    for (int i = 1; i <= 200; ++i)
        moving += rig.read(4e6 + 1e5 * i) == Stillness::moving ? 1 : 0;
    EXPECT_GE(moving, 195);
    const double seconds = rig.seconds_until_still(2.4e7).value();
    EXPECT_LT(seconds, 3.2 + 0.1);
}

TEST(Detector, ASlowDriftOverTheLimitNeverBecomesStillAndIsNotCalledMoving) {
    Rig rig(limits_of());
    for (int i = 0; i < 2000; ++i)
        EXPECT_EQ(rig.read(4e6 + 2 * 2500 / 1.6 * poll_s * i), Stillness::settling) << i;
    EXPECT_EQ(rig.detector.failing(), Criterion::drift);
    EXPECT_NEAR(rig.detector.progress(), 0.25, 0.03);    // half of the window's half
    EXPECT_FALSE(rig.detector.window_that_would_do_s()); // a drift, not noise
}

// Heat that leaves the oil with a time constant of 6 s, four times over the limit at first.
TEST(Detector, AnExponentialTailTellsWhenItWillBeStill) {
    Rig rig(limits_of());
    rig.noise_pa = 30;
    std::vector<std::pair<double, double>> told; // at, expected
    double time_s = 0;
    while (time_s < 100 && rig.read(4e6 + 4e4 * std::exp(-time_s / 6)) != Stillness::still) {
        time_s += poll_s;
        if (rig.detector.failing() == Criterion::drift || rig.detector.failing() == Criterion::independence)
            if (const auto expected = rig.detector.expected_s()) told.emplace_back(time_s, *expected);
    }
    ASSERT_LT(time_s, 30);
    ASSERT_GE(told.size(), 50U);
    for (const auto& [at_s, expected_s] : told)
        EXPECT_NEAR(at_s + expected_s, time_s, 0.25 * (time_s - at_s) + 0.5) << at_s;
}

TEST(Detector, WhereOnlyNoiseIsInTheWayItNamesAWindowThatWouldDo) {
    StillnessLimits limits = limits_of();
    limits.scatter_limit_pa = 1e5;
    Rig rig(limits);
    rig.noise_pa = 3000;
    std::optional<double> window_s;
    for (int i = 0; i < 400; ++i) {
        rig.read(4e6);
        if (const auto would_do = rig.detector.window_that_would_do_s()) window_s = would_do;
    }
    ASSERT_TRUE(window_s);
    EXPECT_GT(*window_s, 1.6);
    limits.window_s = limits.hold_s = *window_s;
    int passed = 0;
    for (unsigned seed = 0; seed < 200; ++seed) {
        std::mt19937_64 random(seed);
        std::normal_distribution<double> normal(4e6, 3000);
        std::vector<TimedValue> readings;
        for (Micros at_us = 0; at_us <= static_cast<Micros>(1e6 * *window_s) + poll_us; at_us += poll_us)
            readings.push_back({at_us, normal(random), true});
        passed += measure_window(readings, limits).failing == Criterion::none ? 1 : 0;
    }
    EXPECT_GE(passed, 140);
}

TEST(Detector, SilenceIsThreeIntervalsButAtLeastHalfASecond) {
    Rig rig(limits_of());
    ASSERT_TRUE(rig.seconds_until_still(4e6));
    EXPECT_EQ(rig.detector.tick(rig.now_us + 500'000), Stillness::still);
    EXPECT_EQ(rig.detector.tick(rig.now_us + 500'001), Stillness::silent);
    EXPECT_EQ(rig.detector.progress(), 0);
    EXPECT_FALSE(rig.detector.expected_s());
    rig.now_us += 5'000'000;
    EXPECT_EQ(rig.read(4e6), Stillness::settling);
    EXPECT_EQ(rig.detector.failing(), Criterion::gap);
    EXPECT_NEAR(rig.seconds_until_still(4e6).value(), 3.2, 0.06);

    StillnessLimits slow = default_limits(0.5, 1, 0, 5e4);
    StillnessDetector detector(slow);
    detector.push({0, 1, true});
    EXPECT_EQ(detector.tick(3'000'000), Stillness::settling);
    EXPECT_EQ(detector.tick(3'000'001), Stillness::silent);
}

TEST(Detector, AChannelThatNeverSpokeIsSilentToo) {
    StillnessDetector detector(limits_of());
    EXPECT_EQ(detector.tick(1'000'000), Stillness::settling);
    EXPECT_EQ(detector.tick(1'500'001), Stillness::silent);
}

TEST(Detector, ABadReadingIsFaultyAndBeginsANewWindow) {
    Rig rig(limits_of());
    ASSERT_TRUE(rig.seconds_until_still(4e6));
    rig.now_us += poll_us;
    EXPECT_EQ(rig.detector.push({rig.now_us, 4e6, false}), Stillness::faulty);
    EXPECT_EQ(rig.detector.failing(), Criterion::readings);
    EXPECT_EQ(rig.detector.progress(), 0);
    EXPECT_EQ(rig.read(4e6), Stillness::settling);
    EXPECT_EQ(rig.detector.failing(), Criterion::readings); // why the window is not full
    EXPECT_NEAR(rig.seconds_until_still(4e6).value(), 3.2, 0.06);
    EXPECT_EQ(rig.read(std::nan("")), Stillness::faulty);
}

TEST(Detector, AGapBeginsANewWindow) {
    Rig rig(limits_of());
    ASSERT_TRUE(rig.seconds_until_still(4e6));
    rig.now_us += 2 * poll_us; // the next reading comes three intervals after the last
    EXPECT_EQ(rig.read(4e6), Stillness::still);
    rig.now_us += 3 * poll_us;
    EXPECT_EQ(rig.read(4e6), Stillness::settling);
    EXPECT_EQ(rig.detector.failing(), Criterion::gap);
    EXPECT_NEAR(rig.seconds_until_still(4e6).value(), 3.2, 0.06);
}

TEST(Detector, AStampThatGoesBackIsABadReading) {
    Rig rig(limits_of());
    rig.read(4e6);
    EXPECT_EQ(rig.detector.push({rig.now_us - 1, 4e6, true}), Stillness::faulty);
}

TEST(Detector, AZeroVarianceChannelIsStillAndACoarseOneTooWhereADigitIsWithinItsLimit) {
    StillnessLimits limits = limits_of();
    limits.resolution_pa = 1000;
    Rig rig(limits);
    rig.noise_pa = 0;
    EXPECT_NEAR(rig.seconds_until_still(4e6).value(), 3.25, 0.01);
    for (int i = 0; i < 100; ++i)
        EXPECT_EQ(rig.read(4e6), Stillness::still);
}

TEST(Detector, ABurstOfReadingsCostsNoMemoryAndNoFalseStill) {
    Rig rig(limits_of());
    for (int i = 0; i < 100'000; ++i)
        EXPECT_NE(rig.detector.push({rig.now_us + i, 4e6, true}), Stillness::still);
    rig.now_us += 100'000;
    EXPECT_TRUE(rig.seconds_until_still(4e6));
}

TEST(Detector, IrregularStampsAreTakenAsTheyAre) {
    StillnessDetector detector(limits_of());
    std::mt19937_64 random(3);
    std::uniform_int_distribution<Micros> interval(10'000, 140'000);
    // A drift in true time at nine tenths of the limit: judged by the count of readings it would scatter wildly.
    Micros at_us = 0;
    bool still = false;
    for (int i = 0; i < 1000; ++i) {
        at_us += interval(random);
        const double value = 4e6 + 0.9 * 2500 / 1.6 * 1e-6 * static_cast<double>(at_us);
        still = detector.push({at_us, value, true}) == Stillness::still || still;
    }
    EXPECT_TRUE(still);
}

TEST(Detector, WordsArePlain) {
    EXPECT_STREQ(word(Stillness::moving), "moving");
    EXPECT_STREQ(word(Stillness::settling), "settling");
    EXPECT_STREQ(word(Stillness::still), "still");
    EXPECT_STREQ(word(Stillness::silent), "silent");
    EXPECT_STREQ(word(Stillness::faulty), "faulty");
    EXPECT_STREQ(word(Criterion::drift), "the drift bound");
    EXPECT_STREQ(word(Criterion::independence), "too few independent readings");
}

} // namespace
} // namespace stillmark::acquisition
