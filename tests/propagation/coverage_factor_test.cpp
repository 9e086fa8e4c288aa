#include "daemon/metrology/effective_dof.hpp"
#include "daemon/metrology/propagation/coverage_factor.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <limits>
#include <vector>

namespace stillmark::metrology {
namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();

constexpr std::array<double, 6> fractions{0.6827, 0.90, 0.95, 0.9545, 0.99, 0.9973};

struct Row {
    double dof;
    std::array<double, 6> t;
};

// Table G.2 of JCGM 100:2008, worked out to six digits (computed: a regression test of every row). The table prints two
// decimals; its 235.80 for one degree of freedom and 99.73 % is a misprint of 235.784.
const std::vector<Row> table_g2 = {
    {1, {1.83741, 6.31375, 12.7062, 13.9678, 63.6567, 235.784}},
    {2, {1.32132, 2.91999, 4.30265, 4.52655, 9.92484, 19.206}},
    {3, {1.19691, 2.35336, 3.18245, 3.30683, 5.84091, 9.2187}},
    {4, {1.14165, 2.13185, 2.77645, 2.86932, 4.60409, 6.62007}},
    {5, {1.11053, 2.01505, 2.57058, 2.64865, 4.03214, 5.50698}},
    {6, {1.09059, 1.94318, 2.44691, 2.51653, 3.70743, 4.90399}},
    {7, {1.07674, 1.89458, 2.36462, 2.42881, 3.49948, 4.52991}},
    {8, {1.06655, 1.85955, 2.306, 2.36642, 3.35539, 4.27658}},
    {9, {1.05875, 1.83311, 2.26216, 2.31981, 3.24984, 4.0942}},
    {10, {1.05259, 1.81246, 2.22814, 2.28368, 3.16927, 3.95689}},
    {11, {1.04759, 1.79588, 2.20099, 2.25487, 3.10581, 3.84989}},
    {12, {1.04346, 1.78229, 2.17881, 2.23135, 3.05454, 3.76424}},
    {13, {1.03999, 1.77093, 2.16037, 2.2118, 3.01228, 3.69415}},
    {14, {1.03704, 1.76131, 2.14479, 2.19529, 2.97684, 3.63576}},
    {15, {1.03449, 1.75305, 2.13145, 2.18117, 2.94671, 3.58639}},
    {16, {1.03226, 1.74588, 2.11991, 2.16894, 2.92078, 3.54409}},
    {17, {1.03031, 1.73961, 2.10982, 2.15826, 2.89823, 3.50746}},
    {18, {1.02858, 1.73406, 2.10092, 2.14885, 2.87844, 3.47544}},
    {19, {1.02704, 1.72913, 2.09302, 2.1405, 2.86093, 3.4472}},
    {20, {1.02566, 1.72472, 2.08596, 2.13303, 2.84534, 3.42212}},
    {25, {1.02043, 1.70814, 2.05954, 2.10509, 2.78744, 3.3296}},
    {30, {1.01697, 1.69726, 2.04227, 2.08685, 2.75, 3.2703}},
    {35, {1.01451, 1.68957, 2.03011, 2.074, 2.72381, 3.22907}},
    {40, {1.01268, 1.68385, 2.02108, 2.06446, 2.70446, 3.19874}},
    {45, {1.01126, 1.67943, 2.0141, 2.0571, 2.68959, 3.1755}},
    {50, {1.01012, 1.67591, 2.00856, 2.05125, 2.67779, 3.15712}},
    {100, {1.00505, 1.66023, 1.98397, 2.02531, 2.62589, 3.07673}},
    {infinite, {1.00002, 1.64485, 1.95996, 2.00000, 2.57583, 2.99998}},
};

TEST(CoverageFactor, TableG2OfJcgm100Computed) {
    for (const Row& row : table_g2) {
        for (std::size_t i = 0; i < fractions.size(); ++i) {
            EXPECT_NEAR(coverage_factor(fractions[i], row.dof), row.t[i], 6e-6 * row.t[i])
                << row.dof << " degrees of freedom, " << fractions[i];
        }
    }
}

// Spot values of JCGM 100:2008, table G.2, as printed there (by way of suncal's test_ttable.py). For one degree of
// freedom and 99.73 % that test expects 235.8, the rounded exact value.
TEST(CoverageFactor, SpotValuesOfTableG2) {
    EXPECT_NEAR(coverage_factor(0.6827, 1), 1.84, 5e-3);
    EXPECT_NEAR(coverage_factor(0.95, 1), 12.71, 5e-3);
    EXPECT_NEAR(coverage_factor(0.9973, 5), 5.51, 5e-3);
    EXPECT_NEAR(coverage_factor(0.90, 20), 1.72, 5e-3);
    EXPECT_NEAR(coverage_factor(0.9545, infinite), 2.00, 5e-3);
    EXPECT_NEAR(coverage_factor(0.9973, 1), 235.8, 5e-2);
    EXPECT_NEAR(coverage_factor(0.9973, 2), 19.21, 5e-3);
    EXPECT_NEAR(coverage_factor(0.99, 11), 3.11, 5e-3);
}

TEST(CoverageFactor, IsNotANumberOutsideItsRange) {
    for (const double bad : {0.0, 1.0, -0.5, 1.5, std::nan("")}) {
        EXPECT_TRUE(std::isnan(coverage_factor(bad, 5))) << bad;
        EXPECT_TRUE(std::isnan(t_quantile(bad, 5))) << bad;
    }
    EXPECT_TRUE(std::isnan(coverage_factor(0.95, 0)));
    EXPECT_TRUE(std::isnan(coverage_factor(0.95, std::nan(""))));
}

TEST(CoverageFactor, GoesOverIntoTheNormalDistribution) {
    EXPECT_NEAR(coverage_factor(0.95, 1e9), coverage_factor(0.95, infinite), 1e-8);
    EXPECT_NEAR(t_quantile(0.5, 3), 0, 1e-15);
    EXPECT_NEAR(t_quantile(0.975, 7.5), -t_quantile(0.025, 7.5), 1e-12);
}

// JCGM 100:2008, G.4.1: relative uncertainties 0.25 %, 0.57 %, 0.82 % from 10, 5 and 15 readings (from memory, and
// computed): u = 1.03 %, nu = 19.0, U95 = 2.2 %.
TEST(WelchSatterthwaite, ExampleOfG41FromMemory) {
    const std::vector<Share> shares{{0.25, 9}, {0.57, 4}, {0.82, 14}};
    const double u = std::sqrt(0.25 * 0.25 + 0.57 * 0.57 + 0.82 * 0.82);
    const double dof = effective_dof(shares);
    EXPECT_NEAR(u, 1.02947, 1e-5);
    EXPECT_NEAR(dof, 18.998742, 1e-5);
    EXPECT_NEAR(coverage_factor(0.95, dof) * u, 2.1547, 1e-4);
    EXPECT_NEAR(dof, 19.0, 0.05);
    EXPECT_NEAR(coverage_factor(0.95, dof) * u, 2.2, 0.05);
}

// 0.57 with 9 degrees of freedom and 0.25 with infinitely many: 12.8 (suncal's tests).
TEST(WelchSatterthwaite, OneShareOfInfiniteDof) {
    const std::vector<Share> shares{{0.57, 9}, {0.25, infinite}};
    EXPECT_NEAR(effective_dof(shares), 12.8, 0.05);
    EXPECT_NEAR(effective_dof(shares), 12.795649, 1e-5);
}

// Willink, Metrologia 45 (2008) 63 (by way of GTC's tests): a line through three points at x = -1, 0, 1, each of u with
// nu degrees of freedom, read at x = 2/3: variance 5 u^2/9, degrees of freedom 25 nu/17. Exact.
TEST(WelchSatterthwaite, LineOfWillink) {
    const double u = 0.1;
    const double nu = 7;
    const double x = 2.0 / 3;
    std::vector<Share> shares;
    double variance = 0;
    for (const double place : {-1.0, 0.0, 1.0}) {
        const double weight = 1.0 / 3 + place * x / 2;
        shares.push_back({std::abs(weight) * u, nu});
        variance += weight * weight * u * u;
    }
    EXPECT_NEAR(variance, 5 * u * u / 9, 1e-15);
    EXPECT_NEAR(effective_dof(shares), 25 * nu / 17, 1e-12);
}

} // namespace
} // namespace stillmark::metrology
