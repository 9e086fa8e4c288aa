#include "simulator/force_balance.hpp"
#include "simulator/sample_truth.hpp"

#include <gtest/gtest.h>

namespace stillmark::simulator {
namespace {

TrueRange piston(double area_m2, double mass_kg) {
    TrueRange range;
    range.area_m2 = area_m2;
    range.floating_parts = {{"all", mass_kg, 8000}};
    return range;
}

// Published: 1 kg on 1 cm2 at standard gravity, no buoyancy, is 98 066.5 Pa (NIST SP 811 (2008), B.8).
TEST(ForceBalance, OneKilogramOnOneSquareCentimetre) {
    EXPECT_NEAR(pressure_under_piston_pa(plain_truth(), piston(1e-4, 1), {}), 98066.5, 1e-6);
}

// Published: 1 lb on 1 in2 at standard gravity, no buoyancy, is 6894.757 Pa (NIST SP 811 (2008), B.8).
TEST(ForceBalance, OnePoundOnOneSquareInch) {
    EXPECT_NEAR(pressure_under_piston_pa(plain_truth(), piston(6.4516e-4, 0.45359237), {}), 6894.757, 5e-4);
}

// An added disc is worth ten times as much where the area is a tenth; total pressures are not in that ratio, because
// the wide piston rides in the low range only.
TEST(ForceBalance, AnAddedDiscIsWorthTheRatioOfAreas) {
    const auto truth = plain_truth();
    const auto worth = [&](const std::string& range) {
        return pressure_under_piston_pa(truth, truth.range(range), {"A", "B"}) -
               pressure_under_piston_pa(truth, truth.range(range), {"A"});
    };
    EXPECT_NEAR(worth("high") / worth("low"), 10, 1e-9);
    EXPECT_LT(pressure_under_piston_pa(truth, truth.range("high"), {"A"}) /
                  pressure_under_piston_pa(truth, truth.range("low"), {"A"}),
              9.5);
}

TEST(ForceBalance, ThePressureSatisfiesItsOwnImplicitEquation) {
    auto truth = plain_truth();
    auto range = truth.range("high");
    range.distortion_per_pa = 0.9e-12;
    range.distortion2_per_pa2 = 1e-22;
    range.thermal_expansion_per_k = 9.5e-6;
    truth.piston_temperature_c = 23;
    truth.air_density_kg_m3 = 1.15;
    truth.liquid.surface_tension_n_per_m = 0.03;
    range.circumference_m = 11.92e-3;
    const double p = pressure_under_piston_pa(truth, range, {"A", "C"});
    const double area = range.area_m2 * (1 + 9.5e-6 * 3) * (1 + 0.9e-12 * p + 1e-22 * p * p);
    const double force = (1.2 * (1 - 1.15 / 7800) + 108 * (1 - 1.15 / 7920)) * 9.80665 + 0.03 * 11.92e-3;
    EXPECT_NEAR(p * area / force, 1, 1e-13);
}

TEST(ForceBalance, ALowerInstrumentSeesMore) {
    const auto truth = plain_truth();
    EXPECT_NEAR(pressure_below_pa(truth, 1e6, 0.1) - 1e6, 865 * 9.80665 * 0.1, 1e-6);
    EXPECT_LT(pressure_below_pa(truth, 1e6, -0.1), 1e6);
}

TEST(ForceBalance, ACompressibleColumnGoesDownAndUpToTheSamePressure) {
    auto truth = plain_truth();
    truth.liquid.compressibility_per_pa = 6.5e-10;
    truth.air_density_kg_m3 = 1.2;
    const double down = pressure_below_pa(truth, 9e7, 0.5);
    EXPECT_NEAR(pressure_below_pa(truth, down, -0.5), 9e7, 1e-4);
    EXPECT_NEAR(down - 9e7, (865 * (1 + 6.5e-10 * 9e7) - 1.2) * 9.80665 * 0.5, 0.01);
}

// Published: 20 degC, 101 325 Pa, 50 %, CIPM-2007: 1.199314 kg/m3 (row AIR-1, masscor documentation). The simulator's
// own air is simpler; 1e-4 of it is 1.5e-8 of a pressure.
TEST(MoistAir, AgreesWithTheEquationOfTheTrade) {
    EXPECT_NEAR(moist_air_density_kg_m3({20, 101325, 0.5}) / 1.199314, 1, 1e-4);
}

// COMPUTED with CIPM-2007: 15 degC 50 %, 25 degC 50 %, and dry air at 20 degC.
TEST(MoistAir, ComputedRegressionOverTheRange) {
    EXPECT_NEAR(moist_air_density_kg_m3({15, 101325, 0.5}) / 1.22163122176, 1, 1.5e-4);
    EXPECT_NEAR(moist_air_density_kg_m3({25, 101325, 0.5}) / 1.17731537365, 1, 1.5e-4);
    EXPECT_NEAR(moist_air_density_kg_m3({20, 101325, 0}) / 1.20455734163, 1, 1.5e-4);
    EXPECT_NEAR(moist_air_density_kg_m3({20, 90000, 0.5}) / 1.06463838066, 1, 1.5e-4);
}

// Published: GRS 80, equator and pole (Moritz, J. Geodesy 74 (2000) 128).
TEST(GravityByPlace, EquatorAndPole) {
    EXPECT_NEAR(gravity_by_place_m_s2(0, 0), 9.7803267715, 5e-11);
    EXPECT_NEAR(gravity_by_place_m_s2(1.5707963267948966, 0), 9.8321863685, 5e-11);
    EXPECT_NEAR(gravity_by_place_m_s2(0.78539816339744831, 0), 9.806199203, 5e-9);
}

} // namespace
} // namespace stillmark::simulator
