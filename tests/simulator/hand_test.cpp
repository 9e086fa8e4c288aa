#include "simulator/hand.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace stillmark::simulator {
namespace {

using Discs = std::vector<std::string>;

/// A hurried hand at the demo's bench.
class HandTest : public testing::Test {
  protected:
    static Scenario hurried() {
        ScenarioChanges changes;
        changes.time_factor = 100;
        auto scenario = read_scenario(std::string(STILLMARK_SOURCE_DIR) + "/simulator/demo/scenario.json", changes);
        scenario.oil.trapped_air_m3 = 0;
        scenario.oil.leak_m3_per_pa_s = 0;
        return scenario;
    }
    Hand::Lifts change(const Discs& discs) { return hand_.change_discs(discs, 0.1, 0.1); }
    Discs on_head() {
        Discs discs;
        rig_.look(now_us(), [&](const Hydraulics& oil, const std::vector<Gauge>&) { discs = oil.discs(); });
        return discs;
    }

    Scenario scenario_ = hurried();
    Rig rig_{scenario_, now_us()};
    Hand hand_{rig_};
};

TEST_F(HandTest, WhatLiesAboveComesOffFirstAndGoesBackOn) {
    const auto first = change({"A1", "A2", "C1", "D1"});
    EXPECT_EQ(first.off, Discs{});
    EXPECT_EQ(first.on, (Discs{"A1", "A2", "C1", "D1"}));
    const auto second = change({"A1", "A2", "A3", "C1", "E1"});
    EXPECT_EQ(second.off, (Discs{"D1", "C1"})) << "C1 lies on the place of A3";
    EXPECT_EQ(second.on, (Discs{"A3", "C1", "E1"}));
    EXPECT_EQ(second.count(), 5U);
    EXPECT_EQ(on_head(), (Discs{"A1", "A2", "A3", "C1", "E1"})) << "in the order of the stack, from below";
    const auto third = change({"A1", "A2"});
    EXPECT_EQ(third.off, (Discs{"E1", "C1", "A3"}));
    EXPECT_EQ(third.on, Discs{});
    EXPECT_EQ(change({"A1", "A2"}).count(), 0U);
}

TEST_F(HandTest, TheOrderOfAStackIsWorthItsLifts) {
    change({"C1", "A1"});
    const auto lifts = change({"A1", "C1"});
    EXPECT_EQ(lifts.off, (Discs{"A1", "C1"}));
    EXPECT_EQ(lifts.on, (Discs{"A1", "C1"}));
}

TEST_F(HandTest, WhileDiscsAreLiftedThePressureDoesNotTurnBack) {
    change({"A1", "A2", "A3", "B1", "C1"});
    ASSERT_TRUE(hand_.float_piston(3.8e6, false));
    hand_.let_sink();
    const double before = hand_.look().pressure_pa;
    // Between these loads only A1 lies there, 22 bar lighter than both.
    change({"A1", "A3", "B1", "C1"});
    EXPECT_NEAR(hand_.look().pressure_pa / before, 1, 1e-3);
}

TEST_F(HandTest, FindsThePistonThatTheValvesAreForUnderTheOther) {
    change({"A1", "B1", "C1", "D1"});
    ASSERT_TRUE(hand_.float_piston(2e6, false));
    // Bare, the narrow piston floats at 10.4 bar above the stop of the wide one, which floats at 2 bar.
    change({});
    ASSERT_TRUE(hand_.float_piston(2e5, true));
    EXPECT_EQ(hand_.look().range, "low");
    EXPECT_TRUE(hand_.look().in_band);
    EXPECT_NEAR(hand_.look().pressure_pa, 2e5, 500);
}

TEST_F(HandTest, CountsTheTurnsThatTheOilTakes) {
    hand_.shut_off();
    // 50 bar less the 0.5 bar at which it is felt: 49.5e5 Pa times 120 cm3 / 1.4 GPa, at 1 cm3 a turn.
    EXPECT_NEAR(hand_.turns_to(5e6).turns, 0.4, 1e-9) << "0.424 turns, to a tenth";
    EXPECT_TRUE(hand_.look().shut_off);
    EXPECT_GE(hand_.look().pressure_pa, 5e6);
}

TEST_F(HandTest, APistonThatTheLineDoesNotSeeCannotBeRaised) {
    change({"A1"});
    hand_.shut_off();
    EXPECT_FALSE(hand_.float_piston(1.2e6, false));
    EXPECT_TRUE(hand_.wind_to(4e7));
    hand_.vent();
    hand_.turn_valves_to("low");
    EXPECT_TRUE(hand_.float_piston(1.2e6, false));
}

TEST_F(HandTest, LevellingLeavesAFifthOfTheTilt) {
    const double before = rig_.tilt_rad(now_us());
    ASSERT_GT(before, 0);
    EXPECT_LE(before, 0.8e-3) << "the limits of the bench file";
    rig_.level(now_us());
    EXPECT_NEAR(rig_.tilt_rad(now_us()) / before, 0.2, 1e-12);
}

TEST_F(HandTest, InstrumentsStayOnAtThePaceOfTheTimeFactor) {
    const Micros now = now_us();
    EXPECT_NEAR(rig_.powered_s(now + 1000000) - rig_.powered_s(now), 100, 1e-9);
    EXPECT_GE(rig_.powered_s(now), 3600) << "on for an hour where the scenario does not say otherwise";
}

} // namespace
} // namespace stillmark::simulator
