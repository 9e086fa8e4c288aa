#include "daemon/metrology/effective_dof.hpp"
#include "daemon/metrology/mark_uncertainty.hpp"
#include "daemon/metrology/uncertain.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <limits>
#include <vector>

namespace stillmark::metrology {
namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();

// Published: "Testing of weights: Part 1", Bulletin de l'OIML XXXVIII 2 (1997), 7.3.1: air density not measured,
// u = 0.12/sqrt(3) kg/m3.
TEST(Uncertain, AirDensityNotMeasuredAsPublished) {
    EXPECT_NEAR(standard_uncertainty(0.12, Distribution::rectangular), 0.0692820, 5e-8);
}

// JCGM 100:2008, 4.3.6, 4.3.7, 4.3.9; JCGM 101:2008, table 1 for the arcsine.
TEST(Uncertain, LimitsByDistribution) {
    EXPECT_DOUBLE_EQ(standard_uncertainty(3, Distribution::normal), 1);
    EXPECT_DOUBLE_EQ(standard_uncertainty(3, Distribution::rectangular), std::sqrt(3.0));
    EXPECT_DOUBLE_EQ(standard_uncertainty(6, Distribution::triangular), std::sqrt(6.0));
    EXPECT_DOUBLE_EQ(standard_uncertainty(2, Distribution::arcsine), std::sqrt(2.0));
}

TEST(EffectiveDof, OfOneShareIsItsOwn) {
    EXPECT_DOUBLE_EQ(effective_dof(std::array<Share, 1>{{{2e7, 9}}}), 9);
}

TEST(EffectiveDof, EqualSharesAddTheirs) {
    EXPECT_DOUBLE_EQ(effective_dof(std::vector<Share>(4, {0.5, 10})), 40);
}

// JCGM 100:2008, G.4.1, equation G.2b, by hand: (9 + 16)^2 / (81/8 + 256/5).
TEST(EffectiveDof, ByWelchAndSatterthwaite) {
    EXPECT_DOUBLE_EQ(effective_dof(std::array<Share, 2>{{{3, 8}, {4, 5}}}), 625 / (81.0 / 8 + 256.0 / 5));
}

TEST(EffectiveDof, InfiniteWhereNothingIsLimited) {
    EXPECT_EQ(effective_dof(std::array<Share, 2>{{{3, infinite}, {4, infinite}}}), infinite);
    EXPECT_EQ(effective_dof(std::array<Share, 2>{{{3, infinite}, {0, 1}}}), infinite);
    EXPECT_EQ(effective_dof({}), infinite);
}

TEST(EffectiveDof, DoesNotDependOnTheUnit) {
    for (const double scale : {1e-90, 1.0, 1e90}) {
        EXPECT_NEAR(effective_dof(std::array<Share, 2>{{{3 * scale, 8}, {4 * scale, 5}}}), 625 / (81.0 / 8 + 256.0 / 5),
                    1e-12);
    }
}

// JCGM 100:2008, F.2.2.1: a display of resolution q has u = q / sqrt(12) = 0.29 q.
TEST(MarkUncertainty, ResolutionOfADisplay) {
    EXPECT_NEAR(resolution_uncertainty_pa(100), 28.87, 5e-3);
}

TEST(MarkUncertainty, ResolutionEntersOnce) {
    const MarkUncertainty mark = combine(0, infinite, 0, 3, 1000);
    EXPECT_DOUBLE_EQ(mark.u_pa, 1000 / std::sqrt(12.0));
    EXPECT_EQ(mark.dof, infinite);
}

TEST(MarkUncertainty, CombinesIndependentParts) {
    const MarkUncertainty mark = combine(300, infinite, 400, 10, 0);
    EXPECT_DOUBLE_EQ(mark.u_pa, 500);
    EXPECT_NEAR(mark.dof, 10 * std::pow(500.0 / 400, 4), 1e-12);
    EXPECT_EQ(mark.u_resolution_pa, 0);
    const MarkUncertainty all = combine(300, 40, 400, 10, 1000);
    EXPECT_NEAR(all.u_pa, std::sqrt(250000 + 1e6 / 12), 1e-10);
    EXPECT_NEAR(all.dof, std::pow(all.u_pa, 4) / (std::pow(300, 4) / 40 + std::pow(400, 4) / 10), 1e-9);
}

} // namespace
} // namespace stillmark::metrology
