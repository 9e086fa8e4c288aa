#include "daemon/metrology/distortion.hpp"

#include <gtest/gtest.h>

#include <limits>

namespace stillmark::metrology {
namespace {

constexpr Elasticity carbide{600e9, 0.22};
constexpr Elasticity steel{210e9, 0.29};

// Published formula: R. Lewisch, Bulletin de l'OIML 128 (1992), lambda of a simple piston and cylinder of one material,
// with bore and piston equally wide. No published figure with all its inputs could be read; these are computed from it.
TEST(Distortion, ComputedRegressionOneMaterial) {
    EXPECT_NEAR(distortion_from_materials(carbide, carbide, 3), 0.941666667e-12, 5e-22);
    EXPECT_NEAR(distortion_from_materials(steel, steel, 3), 3.35714286e-12, 5e-21);
    EXPECT_NEAR(distortion_from_materials({206e9, 0.30}, {206e9, 0.30}, 5), 3.11488673e-12, 5e-21);
}

TEST(Distortion, ComputedRegressionThickBlock) {
    const double block = distortion_from_materials(steel, steel, std::numeric_limits<double>::infinity());
    EXPECT_NEAR(block, 2.76190476e-12, 5e-21);
}

// Two-material form: R. S. Dadson, S. L. Lewis, G. N. Peggs (1982), from memory; the figure is computed from it.
TEST(Distortion, ComputedRegressionCarbideInSteel) {
    EXPECT_NEAR(distortion_from_materials(carbide, steel, 3), 3.38333333e-12, 5e-21);
}

// The published form by hand: 1/(2E) [ (3 mu - 1) + (D^2 + a^2)/(D^2 - a^2) + mu ] with a = b.
TEST(Distortion, TwoMaterialsThatAreOneMeetThePublishedForm) {
    for (const double ratio : {1.2, 2.0, 3.0, 8.0}) {
        const double published = ((3 * 0.29 - 1) + (ratio * ratio + 1) / (ratio * ratio - 1) + 0.29) / (2 * 210e9);
        EXPECT_NEAR(distortion_from_materials(steel, steel, ratio) / published, 1, 1e-14) << ratio;
    }
}

TEST(Distortion, AThinnerCylinderWidensMore) {
    EXPECT_GT(distortion_from_materials(carbide, steel, 1.5), distortion_from_materials(carbide, steel, 3));
    EXPECT_GT(distortion_from_materials(carbide, steel, 3), distortion_from_materials(carbide, carbide, 3));
}

} // namespace
} // namespace stillmark::metrology
