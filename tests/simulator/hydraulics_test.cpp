#include "simulator/hydraulics.hpp"
#include "simulator/sample_truth.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace stillmark::simulator {
namespace {

class HydraulicsTest : public testing::Test {
  protected:
    Truth truth_ = plain_truth();
    Hydraulics oil_{truth_, {}};

    /// A gap through which nothing seeps, where a test is about volumes alone.
    void make_tight() {
        for (auto& range : truth_.ranges)
            range.fall_rate_m_per_s = 0;
    }
    /// Winds by this volume in two seconds, then rests.
    void wind(double m3) {
        oil_.wind(m3 / 2);
        pass(2);
        oil_.wind(0);
        pass(0.2);
    }
    void pass(double seconds) {
        const auto steps = std::lround(seconds * 1000);
        for (long i = 0; i < steps; ++i)
            oil_.advance(0.001, 0.001);
    }
    /// Winds until the piston is at this height, with a small leak of time.
    void float_at(double height_m) {
        for (int i = 0; i < 200000 && !(oil_.piston() == PistonState::floating && oil_.height_m() >= height_m); ++i) {
            oil_.wind(2e-7);
            oil_.advance(0.001, 0);
        }
        oil_.wind(0);
        pass(0.2);
    }
    double balance_pa(const std::string& range) { return oil_.floating_pressure_pa(range, oil_.height_m()); }
};

TEST_F(HydraulicsTest, BelowLiftOffThePressureFollowsThePress) {
    make_tight();
    oil_.put_on({"A"});
    wind(2e-8);
    EXPECT_EQ(oil_.piston(), PistonState::down);
    EXPECT_NEAR(oil_.pressure_pa(), 2e-8 / oil_.oil_per_pa(), 1);
    wind(2e-8);
    EXPECT_NEAR(oil_.pressure_pa(), 4e-8 / oil_.oil_per_pa(), 1);
}

TEST_F(HydraulicsTest, WhileItFloatsThePressureIsTheBalances) {
    oil_.put_on({"A"});
    float_at(0);
    ASSERT_TRUE(oil_.in_band());
    EXPECT_EQ(oil_.range(), "low");
    EXPECT_NEAR(oil_.pressure_pa(), balance_pa("low"), 0.01);
    EXPECT_NEAR(oil_.pressure_pa(), 12 * 9.80665 / 1e-4, 40);
    const double before = oil_.pressure_pa();
    wind(5e-8); // half a millimetre of piston, 6 bar were it not to float
    EXPECT_NEAR(oil_.pressure_pa() - before, 865 * 9.80665 * 0.5e-3, 0.2);
}

TEST_F(HydraulicsTest, BetweenTheTwoPressuresOfOneLoadNeitherPistonFloats) {
    make_tight();
    oil_.put_on({"A", "B"});
    const double low = oil_.floating_pressure_pa("low", 0);
    const double high = oil_.floating_pressure_pa("high", 0);
    ASSERT_GT(high, 5 * low);
    float_at(0);
    wind(6.5e-7); // to the stop of the wide piston
    ASSERT_EQ(oil_.piston(), PistonState::stop);
    const double at_stop = oil_.pressure_pa();
    wind(1e-7);
    EXPECT_EQ(oil_.piston(), PistonState::stop);
    EXPECT_NEAR(oil_.pressure_pa() - at_stop, 1e-7 / oil_.oil_per_pa(), 200);
    EXPECT_LT(oil_.pressure_pa(), high);
    while (oil_.pressure_pa() < high - 200)
        wind(5e-9);
    wind(3e-8);
    EXPECT_EQ(oil_.range(), "high");
    EXPECT_EQ(oil_.piston(), PistonState::floating);
    EXPECT_NEAR(oil_.pressure_pa(), balance_pa("high"), 0.5);
}

TEST_F(HydraulicsTest, AboveItsLastStopThePressureIsThePressesAgain) {
    oil_.turn_valves_to("high");
    oil_.put_on({"A"});
    wind(1.5e-6);
    EXPECT_EQ(oil_.piston(), PistonState::stop);
    EXPECT_GT(oil_.pressure_pa(), oil_.floating_pressure_pa("high", 0) + 1e5);
}

TEST_F(HydraulicsTest, TheWrongValvesMakeAnotherPressureOfTheSameLoad) {
    oil_.turn_valves_to("high");
    oil_.put_on({"A"});
    float_at(0);
    EXPECT_EQ(oil_.range(), "high");
    EXPECT_NEAR(oil_.pressure_pa(), 11.2 * 9.80665 / 1e-5, 40);
    oil_.vent();
    oil_.turn_valves_to("low");
    float_at(0);
    EXPECT_EQ(oil_.range(), "low");
    EXPECT_NEAR(oil_.pressure_pa(), 12 * 9.80665 / 1e-4, 40);
}

TEST_F(HydraulicsTest, ItSinksAtTheStatedRateScaledByThePressure) {
    oil_.put_on({"C"}); // 100 kg: 98.1 bar of 110
    float_at(2e-3);
    const double before = oil_.height_m();
    pass(20);
    const double expected = 1e-5 * 20 * oil_.pressure_pa() / 1.1e7;
    EXPECT_NEAR(before - oil_.height_m(), expected, 0.02 * expected);
    EXPECT_NEAR(oil_.pressure_pa(), balance_pa("low"), 0.01) << "sinking does not change the pressure";
}

TEST_F(HydraulicsTest, TimeFactorDoesNotHurryTheSink) {
    oil_.put_on({"C"});
    float_at(2e-3);
    const double before = oil_.height_m();
    for (int i = 0; i < 1000; ++i)
        oil_.advance(0.01, 0.001);
    EXPECT_NEAR(before - oil_.height_m(), 1e-5 * oil_.pressure_pa() / 1.1e7, 3e-7);
}

TEST_F(HydraulicsTest, ALeakBringsItDownAndThenThePressureFalls) {
    oil_.put_on({"A"});
    float_at(0);
    oil_.leak(1e-7);
    const double before = oil_.pressure_pa();
    pass(8);
    EXPECT_EQ(oil_.piston(), PistonState::down);
    EXPECT_LT(oil_.pressure_pa(), before - 1e4);
}

TEST_F(HydraulicsTest, TheTurningDecaysAndStopsWhenItRests) {
    oil_.put_on({"A"});
    float_at(3e-3);
    oil_.spin(30);
    pass(60);
    EXPECT_LT(oil_.spin_rpm(), 25);
    EXPECT_GT(oil_.spin_rpm(), 10);
    oil_.vent();
    pass(0.1);
    EXPECT_EQ(oil_.spin_rpm(), 0);
}

TEST_F(HydraulicsTest, TurningOverWithTheHandOnThePressKeepsThePressure) {
    make_tight();
    oil_.put_on({"C"});
    float_at(0);
    const double before = oil_.pressure_pa();
    oil_.turn_valves_to("high");
    oil_.hold(before);
    pass(0.2);
    EXPECT_NEAR(oil_.pressure_pa(), before, 1);
    oil_.put_on({"B"});
    oil_.turn_valves_to("low");
    oil_.hold(before);
    pass(0.2);
    EXPECT_NEAR(oil_.pressure_pa(), before, 5e4) << "wide piston at its stop, the press has filled its travel";
}

TEST_F(HydraulicsTest, AnIsolatedWidePistonNeverLetsTheNarrowOneRise) {
    truth_.range_change = RangeChange::isolated;
    Hydraulics oil(truth_, {});
    oil.put_on({"A"});
    oil.wind(5e-6);
    for (int i = 0; i < 3000; ++i)
        oil.advance(0.001, 0.001);
    EXPECT_EQ(oil.range(), "low");
    EXPECT_EQ(oil.piston(), PistonState::stop);
    EXPECT_GT(oil.pressure_pa(), oil.floating_pressure_pa("high", 0));
}

} // namespace
} // namespace stillmark::simulator
