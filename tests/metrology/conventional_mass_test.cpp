#include "daemon/metrology/conventional_mass.hpp"
#include "daemon/metrology/pressure_equation.hpp"

#include <gtest/gtest.h>

namespace stillmark::metrology {
namespace {

// Published: E. Debler, "Uncertainty of mass, conventional mass, and force", Bulletin de l'OIML XXXV 4 (1994),
// equation 17: 1 - 1.2/8000 = 0.999 850. A weightless-in-effect density lays it bare.
TEST(ConventionalMass, FactorAsPublished) {
    EXPECT_NEAR(true_mass_kg(1.0, 1e18), 0.999850, 5e-7);
}

TEST(ConventionalMass, IsTrueMassAtTheConventionalDensity) {
    EXPECT_DOUBLE_EQ(true_mass_kg(20.0, 8000.0), 20.0);
}

TEST(ConventionalMass, ComputedRegressionByDensity) {
    struct Case {
        double density, ppm;
    };
    for (const Case& c : {Case{7700, 5.8450668}, Case{7800, 3.8467457}, Case{7920, 1.5153811}, Case{7950, 0.94353865},
                          Case{8400, -7.1438777}, Case{8600, -10.466577}, Case{2700, 294.57537}, Case{2800, 278.69087},
                          Case{14000, -64.291225}, Case{14950, -69.738039}, Case{21500, -94.191304}}) {
        EXPECT_NEAR((true_mass_kg(1.0, c.density) - 1) * 1e6, c.ppm, 6e-6 * std::abs(c.ppm) / 100 + 1e-8) << c.density;
    }
}

// Published: Debler 1994, section 2.1: the relative difference is about 1.2 (1/8000 - 1/rho).
TEST(ConventionalMass, DifferenceFollowsThePublishedApproximation) {
    for (const double density : {2700.0, 7920.0, 8600.0, 14950.0}) {
        EXPECT_NEAR(1 - true_mass_kg(1.0, density), 1.2 * (1 / 8000.0 - 1 / density), 2e-7);
    }
}

// The definition: in air of 1.2 kg/m3 the density does not matter.
TEST(ConventionalMass, InConventionalAirAllDensitiesWeighTheSame) {
    const double reference = mass_in_air_kg<double>({5, 8000, true}, 1.2);
    for (const double density : {1500.0, 2700.0, 7920.0, 8600.0, 21500.0}) {
        EXPECT_NEAR(mass_in_air_kg<double>({5, density, true}, 1.2) / reference, 1, 3e-16);
    }
}

// The linear form m_c (0.99985 + (1.2 - rho_a)/rho) of the force (from memory: EURAMET cg-3) and the exact one.
TEST(ConventionalMass, ComputedRegressionExactAgainstLinearForm) {
    const auto linear_over_exact = [](double density, double air) {
        return (0.99985 + (1.2 - air) / density) / mass_in_air_kg<double>({1, density, true}, air) - 1;
    };
    EXPECT_NEAR(linear_over_exact(7920, 1.0), -3.8e-11, 5e-13);
    EXPECT_NEAR(linear_over_exact(2700, 1.0), -2.2e-8, 5e-10);
    EXPECT_NEAR(linear_over_exact(8000, 1.0), 0, 3e-16);
}

// Published: E. Debler 1994, section 3.1: the force of a true mass is m (1 - rho_a/rho) g.
TEST(ConventionalMass, TrueMassIsTakenAsItStands) {
    EXPECT_DOUBLE_EQ(mass_in_air_kg<double>({50, 7920, false}, 1.1852), 50 * (1 - 1.1852 / 7920));
}

} // namespace
} // namespace stillmark::metrology
