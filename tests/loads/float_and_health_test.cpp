#include "daemon/metrology/loads/balance_health.hpp"
#include "daemon/metrology/loads/lost_float.hpp"

#include <gtest/gtest.h>

#include <array>

namespace stillmark::metrology {
namespace {

/// An invented low range at 40 bar: 0.22 mm/min through 98 mm2, oil.
DriftEvidence oil(double drift_pa_per_s) {
    return {drift_pa_per_s, 98e-6, 3.6e-6, 4e-3, 2000, 7e-4, 6.5e-10};
}

TEST(LostFloat, AFallAsTheGapMakesItInAnyLineMeansThePistonIsDown) {
    // 98 mm2 x 3.6 um/s = 3.5e-10 m3/s; in 120 cm3 of 6.5e-10 /Pa: 4500 Pa/s.
    const auto reasons = loss_reasons(oil(-4500));
    EXPECT_EQ(reasons.front().cause, LossCause::at_bottom);
    EXPECT_NEAR(reasons.front().figure, 1.206e-4, 1e-6);
}
TEST(LostFloat, AMuchFasterFallIsALeak) {
    EXPECT_EQ(loss_reasons(oil(-2e5)).front().cause, LossCause::leak);
}
TEST(LostFloat, AMuchSlowerFallIsTheTemperature) {
    // 100 Pa/s want 1e-4 K/s.
    const auto reasons = loss_reasons(oil(-100));
    EXPECT_EQ(reasons.front().cause, LossCause::temperature);
    EXPECT_NEAR(reasons.front().figure, 100 * 6.5e-10 / 7e-4, 1e-9);
}
TEST(LostFloat, ARiseIsTheUpperStopOrWarmth) {
    EXPECT_EQ(loss_reasons(oil(5e4)).front().cause, LossCause::at_stop);
    EXPECT_EQ(loss_reasons(oil(100)).front().cause, LossCause::temperature);
}
TEST(LostFloat, SeenJustNowItIsLessLikelyDown) {
    auto fresh = oil(-4500);
    fresh.since_sighted_s = 1;
    const auto weight = [](const std::vector<LossReason>& all) {
        for (const auto& one : all)
            if (one.cause == LossCause::at_bottom) return one.weight;
        return 0.0;
    };
    EXPECT_LT(weight(loss_reasons(fresh)), weight(loss_reasons(oil(-4500))));
}
TEST(LostFloat, AGasLeavesTheOrderToTheDirection) {
    auto gas = oil(-4500);
    gas.compressibility_per_pa = gas.expansion_per_k = 0;
    const auto reasons = loss_reasons(gas);
    ASSERT_EQ(reasons.size(), 2U);
    EXPECT_EQ(reasons.front().cause, LossCause::at_bottom);
    EXPECT_EQ(reasons.front().figure, 0);
}
TEST(LostFloat, WeightsSumToOne) {
    for (const double drift : {-1e6, -4500.0, -10.0, 10.0, 1e6}) {
        double sum = 0;
        for (const auto& one : loss_reasons(oil(drift)))
            sum += one.weight;
        EXPECT_NEAR(sum, 1, 0.05) << drift;
    }
}

using History = std::array<double, 3>;

TEST(Health, AFallRateIsJudgedAgainstTheFileAndItsOwnMedian) {
    const History history{1.0e-5, 1.2e-5, 0.9e-5};
    const auto good = judge_health(HealthSign::fall_rate, 1.05e-5, 1.1e-5, history);
    EXPECT_EQ(good.verdict, HealthVerdict::good);
    EXPECT_NEAR(*good.against_history, 1.05, 1e-12);
    EXPECT_NEAR(*good.against_stated, 1.05 / 1.1, 1e-12);
    EXPECT_EQ(judge_health(HealthSign::fall_rate, 1.4e-5, 2e-5, history).verdict, HealthVerdict::changed);
    EXPECT_EQ(judge_health(HealthSign::fall_rate, 0.5e-5, 2e-5, history).verdict, HealthVerdict::changed)
        << "slower than ever is a change too";
    EXPECT_EQ(judge_health(HealthSign::fall_rate, 1.3e-5, 1e-5, history).verdict, HealthVerdict::poor);
}
TEST(Health, LessSpinIsWorse) {
    EXPECT_EQ(judge_health(HealthSign::spin_time, 300, 240, {}).verdict, HealthVerdict::good);
    EXPECT_EQ(judge_health(HealthSign::spin_time, 200, 240, {}).verdict, HealthVerdict::poor);
}
TEST(Health, TwoValuesAreNoHistory) {
    const std::array<double, 2> history{1, 1};
    const auto judged = judge_health(HealthSign::smallest_disc, 5, std::nullopt, history);
    EXPECT_EQ(judged.verdict, HealthVerdict::good);
    EXPECT_FALSE(judged.against_history);
    EXPECT_FALSE(judged.against_stated);
}
TEST(Health, TheMedianOfAnEvenHistoryLiesBetween) {
    const std::array<double, 4> history{1, 2, 4, 100};
    EXPECT_NEAR(*judge_health(HealthSign::smallest_disc, 3, std::nullopt, history).against_history, 1, 1e-12);
}
TEST(Health, FallRatesGoWithThePressure) {
    EXPECT_NEAR(fall_rate_at(2e-6, 40e5, 100e5), 5e-6, 1e-18);
}

// Regression, computed from annular Poiseuille flow: d 3.533286535 mm, gap 0.5 um, length 30 mm, 0.0225 Pa s, 50 MPa.
TEST(GapFlow, FallRateComputed) {
    EXPECT_NEAR(fall_rate_m_per_s(3.533286535e-3, 0.5e-6, 30e-3, 0.0225, 50e6) * 60e3, 0.052411596, 5e-10);
}
// Regression, computed for the same gap and 0.4225 kg m2.
TEST(GapFlow, SpinDecayComputed) {
    EXPECT_NEAR(spin_decay_s(0.4225, 3.533286535e-3, 0.5e-6, 30e-3, 0.0225), 9033.7171, 5e-5);
}

} // namespace
} // namespace stillmark::metrology
