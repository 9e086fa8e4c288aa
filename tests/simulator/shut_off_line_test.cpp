#include "simulator/hydraulics.hpp"
#include "simulator/sample_truth.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace stillmark::simulator {
namespace {

/// The line of the demo: 120 cm3 of oil of 1.4 GPa. The room has 1013.25 hPa.
class ShutOffLine : public testing::Test {
  protected:
    static OilCircuit with(double trapped_air_m3, double leak_m3_per_pa_s = 0) {
        OilCircuit circuit;
        circuit.trapped_air_m3 = trapped_air_m3;
        circuit.leak_m3_per_pa_s = leak_m3_per_pa_s;
        return circuit;
    }
    static void pass(Hydraulics& oil, double seconds) {
        const auto steps = std::lround(seconds * 1000);
        for (long i = 0; i < steps; ++i)
            oil.advance(0.001, 0.001);
    }
    /// Winds in by this volume within a second.
    static void wind(Hydraulics& oil, double m3) {
        oil.wind(m3);
        pass(oil, 1);
        oil.wind(0);
        pass(oil, 0.1);
    }
    static void float_at_middle(Hydraulics& oil) {
        for (int i = 0; i < 200000 && !(oil.piston() == PistonState::floating && oil.height_m() >= 0); ++i) {
            oil.wind(2e-7);
            oil.advance(0.001, 0);
        }
        oil.wind(0);
        pass(oil, 0.2);
    }

    Truth truth_ = plain_truth();
    const double per_pa_ = 1.2e-4 / 1.4e9;
};

TEST_F(ShutOffLine, ThePressAloneMakesThePressure) {
    Hydraulics oil(truth_, with(0));
    oil.shut_off();
    wind(oil, 3e-6);
    EXPECT_NEAR(oil.pressure_pa(), 3e-6 / per_pa_, 1) << "far above what the bare pistons would float at";
    EXPECT_EQ(oil.piston(), PistonState::down);
    EXPECT_NEAR(oil.turns_of_press(), 3, 1e-6) << "1 cm3 a turn";
    const double before = oil.pressure_pa();
    pass(oil, 30);
    EXPECT_NEAR(oil.pressure_pa(), before, 1e-3) << "nothing passes a piston that the line does not see";
}

TEST_F(ShutOffLine, APistonThatIsShutOffDoesNotCountAsFloating) {
    Hydraulics oil(truth_, with(0));
    oil.put_on({"A"});
    float_at_middle(oil);
    ASSERT_TRUE(oil.in_band());
    const double height = oil.height_m();
    oil.shut_off();
    EXPECT_FALSE(oil.in_band());
    wind(oil, 1e-6);
    EXPECT_DOUBLE_EQ(oil.height_m(), height) << "the oil under it stays";
    oil.vent();
    pass(oil, 0.1);
    EXPECT_EQ(oil.pressure_pa(), 0);
    EXPECT_DOUBLE_EQ(oil.height_m(), height);
}

TEST_F(ShutOffLine, TurningValvesToARangeOpensIt) {
    Hydraulics oil(truth_, with(0));
    oil.shut_off();
    oil.turn_valves_to("low");
    EXPECT_FALSE(oil.is_shut_off());
    oil.put_on({"A"});
    float_at_middle(oil);
    EXPECT_TRUE(oil.in_band());
}

// p = p0 exp(-t / tau) where what is lost a second is the line's oil per pascal times p / tau.
TEST_F(ShutOffLine, AWeepingFittingLetsThePressureDecayExponentially) {
    Hydraulics oil(truth_, with(0, per_pa_ / 60));
    oil.shut_off();
    wind(oil, 3.5e-6);
    const double before = oil.pressure_pa();
    pass(oil, 30);
    EXPECT_NEAR(oil.pressure_pa() / before, std::exp(-0.5), 1e-5);
    oil.tighten();
    const double tight = oil.pressure_pa();
    pass(oil, 30);
    EXPECT_NEAR(oil.pressure_pa(), tight, 1e-3);
}

// COMPUTED with scipy.optimize.brentq: c p + V p / (p + 101325 Pa) = what was wound in, c = 1.2e-4/1.4e9 m3/Pa,
// V = 0.5 cm3.
TEST_F(ShutOffLine, TrappedAirIsCompressedByTheGasLaw) {
    for (const auto& [wound_m3, expected_pa] : {std::pair{2e-7, 64494.447526467535}, std::pair{1e-6, 5931310.820714628},
                                                std::pair{4e-6, 40847767.41392358}}) {
        Hydraulics oil(truth_, with(5e-7));
        oil.shut_off();
        wind(oil, wound_m3);
        EXPECT_NEAR(oil.pressure_pa() / expected_pa, 1, 1e-9) << wound_m3;
        const double expected_per_pa = per_pa_ + 5e-7 * 101325 / std::pow(101325 + expected_pa, 2);
        EXPECT_NEAR(oil.oil_per_pa() / expected_per_pa, 1, 1e-9);
    }
}

TEST_F(ShutOffLine, PurgingTakesTheAirOut) {
    Hydraulics oil(truth_, with(5e-7));
    oil.vent();
    oil.purge();
    oil.shut_off();
    wind(oil, 1e-6);
    EXPECT_NEAR(oil.pressure_pa(), 1e-6 / per_pa_, 1);
}

// COMPUTED with scipy.integrate.solve_ivp: dp/dt = -(c / 10 s) p / (c + V p0 / (p + p0)^2) from 40 bar over 20 s. The
// air gives oil back while the pressure falls.
TEST_F(ShutOffLine, AirSlowsTheFallOfALeak) {
    Hydraulics oil(truth_, with(5e-7, per_pa_ / 10));
    oil.shut_off();
    const double from_pa = 4e6;
    oil.hold(from_pa);
    oil.advance(0, 0);
    ASSERT_NEAR(oil.pressure_pa(), from_pa, 1e-3);
    pass(oil, 20);
    EXPECT_NEAR(oil.pressure_pa() / 793172.6701762809, 1, 1e-3);
    EXPECT_GT(oil.pressure_pa(), from_pa * std::exp(-2.0));
}

TEST_F(ShutOffLine, WithAirAPistonFloatsAtTheBalancesPressureAllTheSame) {
    truth_.ranges[0].fall_rate_m_per_s = 0;
    Hydraulics oil(truth_, with(5e-7));
    oil.put_on({"A"});
    float_at_middle(oil);
    ASSERT_TRUE(oil.in_band());
    EXPECT_NEAR(oil.pressure_pa(), oil.floating_pressure_pa("low", oil.height_m()), 0.01);
    // The air takes so little more that the piston rises by all but a few parts in 1e6 of what is wound in.
    const double before = oil.height_m();
    wind(oil, 5e-8);
    EXPECT_NEAR(oil.height_m() - before, 5e-8 / 1e-4, 1e-7);
}

} // namespace
} // namespace stillmark::simulator
