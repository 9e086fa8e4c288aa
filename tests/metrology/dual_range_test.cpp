#include "daemon/metrology/dual_range.hpp"

#include <gtest/gtest.h>

#include <random>
#include <vector>

// The statics of concentric pistons are derived, not published: each test is an identity of the balance of forces.
namespace stillmark::metrology {
namespace {

ConcentricPistons invented() {
    return {.wide_weight_n = 7.85, .area_low_m2 = 98.07e-6, .area_high_m2 = 11.3e-6};
}

class DualRangeIdentities : public ::testing::Test {
  protected:
    template <class Check>
    void for_many(const Check& check) {
        std::mt19937_64 dice(7);
        const auto between = [&](double low, double high) {
            return std::uniform_real_distribution<double>(low, high)(dice);
        };
        for (int round = 0; round < 1000; ++round) {
            ConcentricPistons pistons;
            pistons.area_high_m2 = between(1e-6, 1e-4);
            pistons.area_low_m2 = pistons.area_high_m2 * between(1.5, 30);
            pistons.wide_weight_n = between(0.5, 50);
            check(pistons, between(0.01, 1000));
        }
    }
};

TEST_F(DualRangeIdentities, DerivedContactForceIsWhatThePressureDoesNotCarry) {
    for_many([](const ConcentricPistons& pistons, double load) {
        const double direct = load - dead_zone(pistons, load).low_pa * pistons.area_high_m2;
        EXPECT_NEAR(contact_force_n(pistons, load), direct, 1e-11 * (load + pistons.wide_weight_n));
    });
}

TEST_F(DualRangeIdentities, DerivedContactVanishesAtTheLeastLoad) {
    for_many([](const ConcentricPistons& pistons, double) {
        const double least = least_load_n(pistons);
        EXPECT_NEAR(contact_force_n(pistons, least), 0, 1e-12 * least);
        EXPECT_FALSE(floats_as_one(pistons, least));
        EXPECT_TRUE(floats_as_one(pistons, least * (1 + 1e-9)));
        EXPECT_NEAR(changeover_ratio(pistons, least), 1, 1e-12);
    });
}

TEST_F(DualRangeIdentities, DerivedFloatsAsOneExactlyWhereTheHighPressureIsAboveTheLow) {
    for_many([](const ConcentricPistons& pistons, double load) {
        const DeadZone zone = dead_zone(pistons, load);
        EXPECT_EQ(floats_as_one(pistons, load), zone.high_pa > zone.low_pa);
        EXPECT_EQ(floats_as_one(pistons, load), contact_force_n(pistons, load) > 0);
    });
}

TEST_F(DualRangeIdentities, DerivedLeastLoadIsWhatTheNarrowPistonCarriesAtTheStopPressure) {
    for_many([](const ConcentricPistons& pistons, double) {
        EXPECT_NEAR(least_load_n(pistons) / (stop_pressure_pa(pistons) * pistons.area_high_m2), 1, 1e-14);
    });
}

TEST_F(DualRangeIdentities, DerivedStopTakesTheDifferenceOfTheTwoPressures) {
    for_many([](const ConcentricPistons& pistons, double load) {
        const DeadZone zone = dead_zone(pistons, load);
        const double excess = (zone.high_pa - zone.low_pa) * pistons.area_low_m2;
        EXPECT_NEAR(stop_reaction_n(pistons, zone.high_pa), excess, 1e-12 * zone.high_pa * pistons.area_low_m2);
        EXPECT_NEAR(stop_reaction_n(pistons, stop_pressure_pa(pistons)), 0, 1e-13 * pistons.wide_weight_n);
    });
}

TEST_F(DualRangeIdentities, DerivedChangeoverRatioIsNotTheRatioOfTheAreas) {
    for_many([](const ConcentricPistons& pistons, double load) {
        const double areas = pistons.area_low_m2 / pistons.area_high_m2;
        const double expected = areas * load / (load + pistons.wide_weight_n);
        EXPECT_NEAR(changeover_ratio(pistons, load) / expected, 1, 1e-14);
        EXPECT_LT(changeover_ratio(pistons, load), areas);
        ConcentricPistons weightless = pistons;
        weightless.wide_weight_n = 0;
        EXPECT_NEAR(changeover_ratio(weightless, load) / areas, 1, 1e-14);
    });
}

TEST_F(DualRangeIdentities, DerivedAnAddedDiscIsWorthTheRatioOfTheAreas) {
    for_many([](const ConcentricPistons& pistons, double load) {
        const DeadZone before = dead_zone(pistons, load);
        const DeadZone after = dead_zone(pistons, load + 100);
        EXPECT_NEAR((after.high_pa - before.high_pa) / (after.low_pa - before.low_pa) * pistons.area_high_m2 /
                        pistons.area_low_m2,
                    1, 1e-11);
    });
}

TEST(DualRangeStatics, DerivedNeitherFloatsBetweenTheTwoPressures) {
    const DeadZone zone = dead_zone(invented(), 500);
    EXPECT_FALSE(zone.contains(zone.low_pa));
    EXPECT_TRUE(zone.contains((zone.low_pa + zone.high_pa) / 2));
    EXPECT_FALSE(zone.contains(zone.high_pa));
    EXPECT_FALSE(zone.contains(2 * zone.high_pa));
}

TEST(DualRangeStatics, DerivedFiguresOfAnInventedBalance) {
    const ConcentricPistons pistons = invented();
    EXPECT_NEAR(pistons.ring_m2(), 86.77e-6, 1e-18);
    EXPECT_NEAR(least_load_n(pistons), 7.85 * 11.3 / 86.77, 1e-14);
    EXPECT_NEAR(stop_pressure_pa(pistons), 7.85 / 86.77e-6, 1e-9);
    EXPECT_NEAR(dead_zone(pistons, 500).low_pa, 507.85 / 98.07e-6, 1e-8);
    EXPECT_NEAR(dead_zone(pistons, 500).high_pa, 500 / 11.3e-6, 1e-7);
}

TEST(DualRangeStatics, WeightIsNetOfTheAirsBuoyancy) {
    const std::vector<MassPiece> pieces{{"a", {.value = 2}, {.value = 8000}, true, ""},
                                        {"b", {.value = 3}, {.value = 2700}, false, ""}};
    EXPECT_DOUBLE_EQ(net_weight_n(pieces, 1.2, 9.81), (2 * (1 - 1.2 / 8000) + 3 * (1 - 1.2 / 2700)) * 9.81);
    EXPECT_EQ(net_weight_n({}, 1.2, 9.81), 0);
}

} // namespace
} // namespace stillmark::metrology
