#include "daemon/metrology/tilt.hpp"
#include "metrology/draws.hpp"
#include "metrology/invented_balance.hpp"

#include <gtest/gtest.h>

namespace stillmark::metrology {
namespace {

TEST(Tilt, KnownExactlyIsTheCosine) {
    for (const double theta : {0.0, 1e-6, 1e-3, 0.02, -0.02}) {
        EXPECT_NEAR(tilt_loss({.value = theta}).value, 1 - std::cos(theta), 2e-16);
        EXPECT_EQ(tilt_loss({.value = theta}).u, 0);
    }
}

// About zero the first order is nothing; the expectation is u^2/2 and the uncertainty of its size.
TEST(Tilt, AboutZeroIsOfSecondOrder) {
    const Uncertain loss = tilt_loss({.value = 0, .u = 1e-3});
    EXPECT_DOUBLE_EQ(loss.value, 0.5e-6);
    EXPECT_NEAR(loss.u, 1e-6 / std::sqrt(2.0), 1e-15);
}

TEST(Tilt, FarFromZeroIsOfFirstOrder) {
    const Uncertain loss = tilt_loss({.value = 0.02, .u = 1e-6});
    EXPECT_NEAR(loss.u / (std::sin(0.02) * 1e-6), 1, 1e-6);
}

TEST(Tilt, SignDoesNotMatter) {
    EXPECT_EQ(tilt_loss({.value = 0.003, .u = 1e-3}).value, tilt_loss({.value = -0.003, .u = 1e-3}).value);
    EXPECT_EQ(tilt_loss({.value = 0.003, .u = 1e-3}).u, tilt_loss({.value = -0.003, .u = 1e-3}).u);
}

TEST(Tilt, MeetsDrawsOfEveryDistribution) {
    std::mt19937_64 dice(11);
    for (const Distribution distribution :
         {Distribution::normal, Distribution::rectangular, Distribution::triangular, Distribution::arcsine}) {
        for (const double theta : {0.0, 1e-3, 5e-3}) {
            const Uncertain tilt{.value = theta, .u = 1e-3, .distribution = distribution};
            const Uncertain loss = tilt_loss(tilt);
            Sample sample(loss.value);
            constexpr int draws = 100'000;
            for (int i = 0; i < draws; ++i) {
                sample.add(1 - std::cos(theta + tilt.u * standard_draw(distribution, dice)));
            }
            EXPECT_NEAR(sample.mean_from_near(), 0, 4 * loss.u / std::sqrt(draws));
            EXPECT_NEAR(sample.deviation() / loss.u, 1, 0.02);
        }
    }
}

TEST(Tilt, TakesFromThePressureByItsExpectation) {
    ReferenceInputs in = invented_inputs();
    in.head.clear();
    in.range.reference_level_m = {};
    in.range.immersed_volume_m3 = {};
    in.liquid.surface_tension_n_per_m = {};
    in.range.distortion_per_pa = {};
    in.range.distortion2_per_pa2 = 0;
    in.range.tilt_rad = {};
    const double level = reference_pressure_pa(in);
    in.range.tilt_rad = {.value = 0, .u = 2e-3, .distribution = Distribution::rectangular};
    EXPECT_NEAR(reference_pressure_pa(in) / level - 1, -2e-6, 1e-15);
    const ReferencePressure p = reference_pressure(in);
    for (const BudgetLine& line : p.budget) {
        if (line.input == "tilt (1 - cos)") {
            EXPECT_NEAR(line.contribution_pa / level, -4e-6 * std::sqrt(0.2), 1e-11);
            return;
        }
    }
    FAIL() << "no line for the tilt";
}

} // namespace
} // namespace stillmark::metrology
