#include "daemon/metrology/gravity.hpp"

#include <GeographicLib/NormalGravity.hpp>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace stillmark::metrology {
namespace {

double at(double latitude_deg, double height_m = 0) {
    return normal_gravity_m_s2(latitude_deg * std::numbers::pi / 180, height_m);
}

double oiml(double latitude_deg) {
    const double s = std::sin(latitude_deg * std::numbers::pi / 180);
    const double s2 = std::sin(2 * latitude_deg * std::numbers::pi / 180);
    return 9.780318 * (1 + 0.0053024 * s * s - 0.0000058 * s2 * s2);
}

// Published: H. Moritz, Geodetic Reference System 1980, J. Geodesy 54 (1980) 395 and 74 (2000) 128. The value at 45 deg
// is from memory.
TEST(Gravity, OfTheEllipsoidAsPublished) {
    EXPECT_NEAR(at(0), 9.7803267715, 5e-11);
    EXPECT_NEAR(at(90), 9.8321863685, 5e-11);
    EXPECT_NEAR(at(-90), 9.8321863685, 5e-11);
    EXPECT_NEAR(at(45), 9.806199203, 5e-10);
}

TEST(Gravity, MeetsGeographicLibOnTheEllipsoid) {
    const auto& exact = GeographicLib::NormalGravity::GRS80();
    for (int latitude = -90; latitude <= 90; latitude += 5) {
        EXPECT_NEAR(at(latitude), exact.SurfaceGravity(latitude), 1e-11) << latitude;
    }
}

TEST(Gravity, HeightMeetsGeographicLibToItsSecondOrder) {
    const auto& exact = GeographicLib::NormalGravity::GRS80();
    struct Band {
        double height_m, relative;
    };
    for (const Band& band :
         {Band{-100, 1e-8}, Band{80, 1e-8}, Band{300, 1e-8}, Band{1000, 2e-8}, Band{2640, 5e-8}, Band{8820, 3e-7}}) {
        for (int latitude = 0; latitude <= 90; latitude += 10) {
            double up = 0;
            double north = 0;
            exact.Gravity(latitude, band.height_m, north, up);
            EXPECT_NEAR(at(latitude, band.height_m) / std::hypot(up, north), 1, band.relative)
                << latitude << " deg, " << band.height_m << " m";
        }
    }
}

// Published: NIMA TR 8350.2, 3rd edition, WGS 84. Ours is GRS 80, which differs by 1.4e-6 m/s2 and must not be mixed.
TEST(Gravity, IsNotThatOfWgs84) {
    EXPECT_NEAR(at(0) - 9.7803253359, 1.44e-6, 1e-8);
    EXPECT_NEAR(at(90) - 9.8321849378, 1.43e-6, 1e-8);
}

// Published: WELMEC Guide 2 formula as quoted in the documentation of ahrs: 9.812483709897048 at 52.3 deg, 80 m. It
// allows for the mass of the atmosphere and so stands about 9e-6 m/s2 below GRS 80.
TEST(Gravity, NearTheWelmecFormula) {
    EXPECT_NEAR(oiml(52.3) - 0.000003085 * 80, 9.812483709897048, 2e-14);
    EXPECT_NEAR(at(52.3, 80) - 9.812483709897048, 9e-6, 1e-6);
}

// Published: S. A. Thulin, "A standardized gravity formula", Bulletin de l'OIML 127 (1992): 8.7e-6 m/s2 of atmosphere.
TEST(Gravity, ComputedRegressionOimlFormulaLiesItsAtmosphereBelow) {
    struct Case {
        double latitude, computed;
    };
    for (const Case& c : {Case{0, 9.780318}, Case{30, 9.7932402452}, Case{45, 9.8061908532}, Case{60, 9.8191698242},
                          Case{90, 9.8321771582}}) {
        EXPECT_NEAR(oiml(c.latitude), c.computed, 5e-11);
        EXPECT_NEAR(at(c.latitude) - c.computed, 8.7e-6, 7e-7);
    }
}

// Published: S. A. Thulin, Bulletin de l'OIML 94 (1984): at 45 deg g_n is about 47 parts in 10^6 higher, by the formula
// of 1967, which lies 0.9 parts below GRS 80.
TEST(Gravity, StandardGravityIsHigherThanThatAt45Degrees) {
    EXPECT_NEAR(standard_gravity_m_s2 / at(45) - 1, 47e-6, 1.5e-6);
}

// Published: S. A. Thulin, Bulletin de l'OIML 94 (1984), equation 3: K1 = 0.051859 m/s2, K2 = 3.086e-6 /s2.
TEST(Gravity, DifferencesFollowThePublishedRule) {
    const auto sine2 = [](double degrees) { return std::pow(std::sin(degrees * std::numbers::pi / 180), 2); };
    EXPECT_NEAR(at(55, 300) - at(50, 100), 0.051859 * (sine2(55) - sine2(50)) - 3.086e-6 * 200, 1e-5);
}

// Published: WAFO toolbox, test of gravity.m: the formula of 1930, on the Potsdam datum. Obsolete; ours lies below it.
TEST(Gravity, IsNotTheObsoleteFormulaOf1930) {
    EXPECT_GT(9.78049 - at(0), 1.6e-4);
    EXPECT_GT(9.806293866767 - at(45), 9e-5);
    EXPECT_GT(9.832213143316 - at(90), 2.6e-5);
}

// Published: NPL, answer on local gravity, as quoted publicly: below 5e-5 relative.
TEST(Gravity, WithinTheClaimOfTheNplFormula) {
    const auto npl = [](double latitude_deg, double height_m) {
        const double s = std::sin(latitude_deg * std::numbers::pi / 180);
        const double s2 = std::sin(2 * latitude_deg * std::numbers::pi / 180);
        return 9.780327 * (1 + 0.0053024 * s * s - 0.0000058 * s2 * s2) - 3.086e-6 * height_m;
    };
    EXPECT_NEAR(npl(45, 0), 9.806199877, 5e-10);
    for (int latitude = 0; latitude <= 90; latitude += 15) {
        EXPECT_NEAR(at(latitude), npl(latitude, 0), 1e-6);
        EXPECT_NEAR(at(latitude, 2000) / npl(latitude, 2000), 1, 5e-5);
    }
}

// Published: Thulin 1984 and R. Lewisch, Bulletin de l'OIML 128 (1992): free-air gradient 3.086e-6 /s2.
// Published: G. Barbato et al., Bulletin de l'OIML (April 1994), equation 7: less 0.042 rho on land, 0.207e-5 per metre
// for 2400 kg/m3.
TEST(Gravity, FreeAirGradientAsPublished) {
    const double gradient = (at(45, -0.5) - at(45, 0.5));
    EXPECT_NEAR(gradient, 3.086e-6, 5e-10);
    EXPECT_NEAR(gradient * 1e5 - 0.042 * 2.4, 0.207, 1.5e-3);
}

// Published measured values; latitudes and heights from memory. A formula and a site differ by up to 1e-4.
// BIPM Sevres: ICAG-2001, Metrologia 39 (2002) 407. Gaithersburg: D. R. Tate, J. Res. NBS 70C (1966) 149. Flensburg and
// Mittenwald: M. Kochsiek, W. Wunsche, Bulletin de l'OIML 80 (1980).
TEST(Gravity, SitesLieWithinATenThousandth) {
    struct Site {
        double latitude, height, measured;
    };
    for (const Site& site : {Site{48.83, 60, 9.809257012}, Site{39.13, 140, 9.801018}, Site{54.78, 20, 9.81486},
                             Site{47.44, 920, 9.80524}}) {
        EXPECT_NEAR(at(site.latitude, site.height) / site.measured, 1, 1e-4) << site.latitude;
    }
}

TEST(Gravity, FromPositionCarriesItsDefaultUncertainty) {
    const Uncertain g = gravity_from_position(48.1 * std::numbers::pi / 180, 430);
    EXPECT_EQ(g.value, at(48.1, 430));
    EXPECT_DOUBLE_EQ(g.u / g.value, 5e-5);
}

} // namespace
} // namespace stillmark::metrology
