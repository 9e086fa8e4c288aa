#include "daemon/metrology/gravity.hpp"
#include "metrology/invented_balance.hpp"

#include <gtest/gtest.h>

#include <array>

namespace stillmark::metrology {
namespace {

RangeInputs<double> in_vacuum_on(double mass_kg, double area_m2) {
    RangeInputs<double> in;
    in.masses = {{mass_kg, 8000, false}};
    in.gravity_m_s2 = standard_gravity_m_s2;
    in.area_m2 = area_m2;
    in.piston_temperature_c = in.reference_temperature_c;
    return in;
}

// Published: NIST SP 811 (2008), B.8, pound-force per square inch.
TEST(PressureEquation, OnePoundOnOneSquareInchIsOnePsi) {
    const double p = pressure_at_balance_pa(in_vacuum_on(0.45359237, 6.4516e-4));
    EXPECT_NEAR(p, 6894.757, 5e-4);
    EXPECT_NEAR(p, 6894.757293168361, 1e-11); // exact by definition of pound, inch and g_n
}

// Published: NIST SP 811 (2008), B.8, kilogram-force per square centimetre, exact.
TEST(PressureEquation, OneKilogramOnOneSquareCentimetreIsOneTechnicalAtmosphere) {
    EXPECT_NEAR(pressure_at_balance_pa(in_vacuum_on(1, 1e-4)), 98066.5, 1e-10);
}

// Common practice: about 140 bar is about 2000 psi.
TEST(PressureEquation, TwoThousandPoundsOnOneSquareInchIsAbout140Bar) {
    EXPECT_NEAR(pressure_at_balance_pa(in_vacuum_on(2000 * 0.45359237, 6.4516e-4)), 140e5, 2.5e5);
}

// Published: S. A. Thulin, "The local value of g", Bulletin de l'OIML 94 (1984): multiply by g_L / g_n.
TEST(PressureEquation, PressureFollowsLocalGravity) {
    RangeInputs<double> in = in_vacuum_on(10, 1e-5);
    const double at_standard = pressure_at_balance_pa(in);
    in.gravity_m_s2 = 9.8123456;
    EXPECT_NEAR(pressure_at_balance_pa(in) / at_standard, 1.00058078957, 5e-12);
}

// Published: M. Kochsiek, W. Wunsche, Bulletin de l'OIML 80 (1980), section 9: (9.8118 - 9.8087)/9.8087 = 0.000316.
// Published: T. Lammi, Bulletin de l'OIML 121 (1990), section 4: 0.0010/9.8198 = 0.000102.
TEST(PressureEquation, MovingTheBalanceChangesThePressureAsPublished) {
    const auto change = [](double from, double to) {
        RangeInputs<double> in = in_vacuum_on(10, 1e-5);
        in.gravity_m_s2 = from;
        const double before = pressure_at_balance_pa(in);
        in.gravity_m_s2 = to;
        return pressure_at_balance_pa(in) / before - 1;
    };
    EXPECT_NEAR(change(9.8087, 9.8118), 0.000316, 5e-7);
    EXPECT_NEAR(change(9.8198, 9.8198 + 0.0007 + 0.0003), 0.000102, 5e-7);
}

TEST(PressureEquation, ComputedRegressionWorkedCaseToItsDigits) {
    const RangeInputs<double> in = worked_case();
    const ForceBalance<double> forces = force_balance(in);
    EXPECT_NEAR(in.circumference_m, 0.0111002166437, 5e-14);
    EXPECT_NEAR(in.surface_tension_n_per_m * in.circumference_m, 3.46326759284e-4, 5e-16);
    EXPECT_NEAR(forces.force_n, 490.5538964372219 + 3.46326759284e-4, 2e-13);
    EXPECT_NEAR(forces.force_n / forces.area_m2, 50029784.86906747, 2e-8);
    EXPECT_NEAR(pressure_at_balance_pa(in), 50027428.03546093, 2e-8);
}

// The same equation carries a case without surface tension.
TEST(PressureEquation, ComputedRegressionWithoutSurfaceTension) {
    RangeInputs<double> in;
    in.masses = {{0.5, 8000, false}, {9.5, 7950, false}};
    in.gravity_m_s2 = 9.7803;
    in.air_density_kg_m3 = 1.05;
    in.area_m2 = 9.80512e-4;
    in.thermal_expansion_per_k = 9e-6;
    in.piston_temperature_c = 19.62;
    in.distortion_per_pa = 4.5e-12;
    EXPECT_NEAR(force_balance(in).force_n, 97.79008665932193, 3e-14);
    EXPECT_NEAR(pressure_at_balance_pa(in), 99733.99327489148, 3e-11);
}

TEST(PressureEquation, ComputedRegressionFixedPointIteratesEndAtOurPressure) {
    const RangeInputs<double> in = worked_case();
    const double x = force_balance(in).force_n / force_balance(in).area_m2;
    const double first = x / (1 + in.distortion_per_pa * x);
    const double second = x / (1 + in.distortion_per_pa * first);
    EXPECT_NEAR(first, 50027427.92443378, 2e-8);
    EXPECT_NEAR(second, 50027428.03546616, 5e-8);
    EXPECT_NEAR(x / (1 + in.distortion_per_pa * second), pressure_at_balance_pa(in), 5e-8);
}

TEST(PressureEquation, ComputedRegressionDistortionIsTakenAtTheRealPressureNotTheNominal) {
    const RangeInputs<double> in = worked_case();
    const double x = force_balance(in).force_n / force_balance(in).area_m2;
    const double at_nominal = x / (1 + in.distortion_per_pa * 50e6);
    EXPECT_NEAR(at_nominal, 50027429.32755758, 2e-8);
    EXPECT_NEAR(at_nominal / pressure_at_balance_pa(in) - 1, 2.6e-8, 5e-10);
}

double head_in(const RangeInputs<double>& in, const HeadInputs<double>& stretch, double pressure_pa) {
    return head_pa(stretch, in.piston_temperature_c, in.air_density_kg_m3, in.gravity_m_s2, pressure_pa);
}

TEST(PressureEquation, ComputedRegressionHead) {
    const RangeInputs<double> in = worked_case();
    const double p = pressure_at_balance_pa(in);
    const HeadInputs<double> instrument_above{{.density_kg_m3 = 912.7}, -0.1234};
    EXPECT_NEAR(head_in(in, instrument_above, p), -1103.70172246, 5e-9);
    EXPECT_NEAR(p + head_in(in, instrument_above, p), 50026324.33373847, 3e-8);
}

TEST(PressureEquation, ReversingTheHeightReversesTheHeadAndNothingElse) {
    const RangeInputs<double> in = worked_case();
    const HeadInputs<double> below{{.density_kg_m3 = 912.7}, 0.1234};
    const HeadInputs<double> above{{.density_kg_m3 = 912.7}, -0.1234};
    EXPECT_GT(head_in(in, below, 5e7), 0);
    EXPECT_EQ(head_in(in, below, 5e7), -head_in(in, above, 5e7));
}

// The figure is first order, before the elastic factor; ours solves for the pressure with the volume in.
TEST(PressureEquation, ComputedRegressionImmersedVolume) {
    RangeInputs<double> in = worked_case();
    const double without = pressure_at_balance_pa(in);
    in.immersed_volume_m3 = 1.5e-7;
    in.liquid.density_kg_m3 = 912.7;
    const double effect = pressure_at_balance_pa(in) - without;
    // dp/dF = 1/(A (1 + 2 lambda p)); of the second order in the effect nothing is left at 1e-7.
    EXPECT_NEAR(effect / -136.8262482, 1 / (1 + 2 * in.distortion_per_pa * without), 1e-9);
}

TEST(PressureEquation, ComputedRegressionSlopeAgainstForce) {
    ForceBalance<double> forces = force_balance(worked_case());
    const double force = forces.force_n;
    forces.force_n = force * (1 + 1e-4);
    const double above = solve_pa(forces);
    forces.force_n = force * (1 - 1e-4);
    const double below = solve_pa(forces);
    EXPECT_NEAR(std::log(above / below) / std::log((1 + 1e-4) / (1 - 1e-4)), 0.999952893609, 1e-11);
}

TEST(PressureEquation, SmallDistortionMeetsNoneWithoutAStep) {
    RangeInputs<double> in = worked_case();
    in.distortion_per_pa = 0;
    const double none = pressure_at_balance_pa(in);
    EXPECT_DOUBLE_EQ(none, force_balance(in).force_n / force_balance(in).area_m2);
    for (const double lambda : {1e-15, 1e-18, 1e-21, 1e-24, 1e-30, -1e-24, -1e-15}) {
        in.distortion_per_pa = lambda;
        EXPECT_NEAR(pressure_at_balance_pa(in) / none - 1, -lambda * none, 1e-14 + 3e-15 * std::abs(lambda) / 1e-15);
    }
}

TEST(PressureEquation, NewtonMeetsTheClosedFormInTheLimit) {
    RangeInputs<double> in = worked_case();
    const double closed = pressure_at_balance_pa(in);
    in.distortion2_per_pa2 = 1e-40;
    EXPECT_NEAR(pressure_at_balance_pa(in) / closed, 1, 3e-16);
    in.distortion2_per_pa2 = 0;
    in.immersed_volume_m3 = 1e-30;
    in.liquid.density_kg_m3 = 900;
    EXPECT_NEAR(pressure_at_balance_pa(in) / closed, 1, 3e-16);
}

// An independent solution: the balance of forces, bisected in extended precision.
TEST(PressureEquation, EveryPathMeetsALongDoubleBisection) {
    std::mt19937_64 dice(20260101);
    for (int round = 0; round < 300; ++round) {
        const auto between = [&](double low, double high) {
            return std::uniform_real_distribution<double>(low, high)(dice);
        };
        RangeInputs<double> in = worked_case();
        in.masses[2].mass_kg = between(0, 100);
        in.distortion_per_pa = between(-3e-12, 6e-12);
        if (round % 3 != 0) in.distortion2_per_pa2 = between(-2e-21, 2e-21);
        if (round % 3 != 1) in.immersed_volume_m3 = between(-1e-6, 1e-6);
        in.liquid.density_kg_m3 = between(700, 1900);
        in.liquid.compressibility_per_pa = between(0, 8e-10);
        in.liquid.expansion_per_k = between(0, 1e-3);
        in.tilt_loss = between(0, 1e-5);

        using Long = long double;
        Long weight = 0;
        for (const auto& piece : in.masses) {
            weight += Long(piece.mass_kg) * (1 - Long(in.air_density_kg_m3) / Long(piece.density_kg_m3));
        }
        const Long g = in.gravity_m_s2;
        const Long force =
            weight * g * (1 - Long(in.tilt_loss)) + Long(in.surface_tension_n_per_m) * Long(in.circumference_m);
        const Long warm = Long(in.piston_temperature_c) - 20;
        const Long area = Long(in.area_m2) * (1 + Long(in.thermal_expansion_per_k) * warm);
        const auto upward = [&](Long p) {
            const Long rho = Long(in.liquid.density_kg_m3) * (1 - Long(in.liquid.expansion_per_k) * warm) *
                             (1 + Long(in.liquid.compressibility_per_pa) * p);
            return p * area * (1 + Long(in.distortion_per_pa) * p + Long(in.distortion2_per_pa2) * p * p) +
                   Long(in.immersed_volume_m3) * (rho - Long(in.air_density_kg_m3)) * g - force;
        };
        Long low = 0;
        Long high = 4e8L;
        for (int step = 0; step < 120; ++step) {
            const Long middle = (low + high) / 2;
            (upward(middle) < 0 ? low : high) = middle;
        }
        const double p = pressure_at_balance_pa(in);
        EXPECT_NEAR(p / static_cast<double>(low), 1, 2e-15) << "round " << round;
    }
}

TEST(PressureEquation, AreaIsForceOverPressure) {
    RangeInputs<double> in = worked_case();
    in.distortion2_per_pa2 = 1e-21;
    in.area_drift = 1e-5;
    const double p = pressure_at_balance_pa(in);
    EXPECT_NEAR(area_at_m2(in, p) * p / force_balance(in).force_n, 1, 1e-15);
}

TEST(PressureEquation, AnAreaThatGrewMakesLessPressure) {
    RangeInputs<double> in = worked_case();
    in.distortion_per_pa = 0;
    const double p = pressure_at_balance_pa(in);
    in.area_drift = 3e-5;
    EXPECT_NEAR(pressure_at_balance_pa(in) / p, 1 / (1 + 3e-5), 3e-16);
}

TEST(PressureEquation, ATiltedPistonCarriesTheCosineOfTheWeightAndAllOfTheSurfaceTension) {
    RangeInputs<double> in = worked_case();
    const double weight_n = force_balance(in).force_n - in.surface_tension_n_per_m * in.circumference_m;
    in.tilt_loss = 1 - std::cos(0.02);
    EXPECT_NEAR(force_balance(in).force_n, weight_n * std::cos(0.02) + in.surface_tension_n_per_m * in.circumference_m,
                1e-12);
}

TEST(PressureEquation, NoTemperatureTermAtTheReferenceTemperature) {
    RangeInputs<double> in = worked_case();
    in.piston_temperature_c = in.reference_temperature_c;
    const double p = pressure_at_balance_pa(in);
    in.thermal_expansion_per_k = 24e-6;
    EXPECT_EQ(pressure_at_balance_pa(in), p);
}

TEST(PressureEquation, AWarmPistonIsWiderAndMakesLessPressure) {
    RangeInputs<double> in = worked_case();
    const double warm = pressure_at_balance_pa(in);
    in.piston_temperature_c -= 1;
    EXPECT_NEAR(pressure_at_balance_pa(in) / warm - 1, 9e-6, 1e-9);
}

// Published as a method: M_e may include an equivalent mass for surface tension (C. M. Sutton, M. P. Fitzgerald,
// W. Giardini, Metrologia 42 (2005) S212).
TEST(PressureEquation, SurfaceTensionIsWorthAMassOfSigmaCOverG) {
    RangeInputs<double> in = worked_case();
    const double with = pressure_at_balance_pa(in);
    const double net = in.surface_tension_n_per_m * in.circumference_m / in.gravity_m_s2;
    in.surface_tension_n_per_m = 0;
    EXPECT_LT(pressure_at_balance_pa(in), with);
    in.masses.push_back({net / (1 - in.air_density_kg_m3 / 8000), 8000, false});
    EXPECT_NEAR(pressure_at_balance_pa(in) / with, 1, 3e-16);
}

TEST(PressureEquation, ScalingMassesAndAreaTogetherChangesNothing) {
    RangeInputs<double> in = worked_case();
    in.surface_tension_n_per_m = 0;
    const double p = pressure_at_balance_pa(in);
    for (auto& piece : in.masses)
        piece.mass_kg *= 4;
    in.area_m2 *= 4;
    EXPECT_EQ(pressure_at_balance_pa(in), p);
}

TEST(PressureEquation, WithoutARootThereIsNoNumber) {
    RangeInputs<double> in = worked_case();
    in.distortion_per_pa = -1e-8; // no real piston: the area would shrink faster than the pressure grows
    EXPECT_TRUE(std::isnan(pressure_at_balance_pa(in)));
    in.distortion2_per_pa2 = -1e-14;
    EXPECT_FALSE(std::isfinite(pressure_at_balance_pa(in)) && pressure_at_balance_pa(in) > 0);
}

} // namespace
} // namespace stillmark::metrology
