#include "daemon/metrology/evaluation/lack_of_fit.hpp"
#include "evaluation/load_cell.hpp"

#include <gtest/gtest.h>

namespace stillmark::metrology {
namespace {

// NIST/SEMATECH e-Handbook, 4.6.1.5: a straight line through the load cell's readings, F = 214.7464 with 18 and 20
// degrees of freedom. The handbook computed it in fewer digits: its residual standard deviation is 0.0021712694 where
// these data give 0.0021712726, and so F is 214.7469 (recomputed with numpy).
TEST(LackOfFit, AStraightLineThroughALoadCellThatBends) {
    const auto cell = load_cell();
    ASSERT_EQ(cell.load.size(), 40U);
    const auto test = lack_of_fit(fit_polynomial(cell.load, cell.deflection, 1), cell.point);
    ASSERT_TRUE(test && test->f && test->p);
    EXPECT_EQ(test->lack_dof, 18);
    EXPECT_EQ(test->pure_error_dof, 20);
    EXPECT_NEAR(*test->f, 214.7464, 214.7464 * 3e-6);
    EXPECT_NEAR(*test->f, 214.74692365392545, 1e-6);
    EXPECT_NEAR(test->pure_error, 9.2215e-7, 1e-15);
    EXPECT_NEAR(test->lack, 1.7822598808271e-4, 1e-15);
    EXPECT_NEAR(*test->p / 5.503717e-19, 1, 1e-5);
}

// The same, 4.6.1.9 (F from memory): a parabola fits, F = 0.8107 with 17 and 20 degrees of freedom.
TEST(LackOfFit, AParabolaThroughIt) {
    const auto cell = load_cell();
    const auto fit = fit_polynomial(cell.load, cell.deflection, 2);
    const auto test = lack_of_fit(fit, cell.point);
    ASSERT_TRUE(test && test->f && test->p);
    EXPECT_NEAR(*test->f, 0.8107, 5e-5);
    EXPECT_EQ(test->lack_dof, 17);
    EXPECT_NEAR(*test->p, 0.66617294481, 1e-6);
    EXPECT_NEAR(test->pure_error + test->lack, fit.chi_squared, 1e-12 * fit.chi_squared);
}

TEST(LackOfFit, WeightsCountAsInTheFit) {
    const auto cell = load_cell();
    std::vector<double> u;
    for (std::size_t i = 0; i < cell.load.size(); ++i)
        u.push_back(i < 20 ? 2e-4 : 4e-4);
    const auto fit = fit_polynomial(cell.load, cell.deflection, 2, u);
    const auto test = lack_of_fit(fit, cell.point, u);
    ASSERT_TRUE(test);
    double pure = 0; // of two readings a and b with variances p and q: (a - b)^2 / (p + q)
    for (std::size_t i = 0; i < 20; ++i) {
        const double apart = cell.deflection[i] - cell.deflection[i + 20];
        pure += apart * apart / (4e-8 + 16e-8);
    }
    EXPECT_NEAR(test->pure_error, pure, 1e-9 * pure);
    EXPECT_NEAR(test->pure_error + test->lack, fit.chi_squared, 1e-9 * fit.chi_squared);
}

// A reference that differs a little from series to series moves the reading along the curve.
TEST(LackOfFit, ReadingsOfNearReferencesAreComparedByTheirDistanceFromTheCurve) {
    const std::vector<double> x{0, 0.1, 5, 5.2, 10, 10.3}, noise{0.01, -0.01, -0.02, 0.01, 0.02, -0.01};
    std::vector<double> y;
    for (std::size_t i = 0; i < x.size(); ++i)
        y.push_back(2 * x[i] + noise[i]);
    const std::vector<std::size_t> point{0, 0, 1, 1, 2, 2};
    const auto test = lack_of_fit(fit_polynomial(x, y, 1), point);
    ASSERT_TRUE(test);
    EXPECT_LT(test->pure_error, 2e-3); // and not the 0.145 by which the readings themselves differ
    EXPECT_GT(test->pure_error, 5e-4);
}

TEST(LackOfFit, WhereItCannotBeTested) {
    const std::vector<double> x{0, 1, 2, 3}, y{0, 1.1, 1.9, 3};
    const std::vector<std::size_t> once{0, 1, 2, 3}, two_points{0, 0, 1, 1};
    const auto fit = fit_polynomial(x, y, 1);
    EXPECT_FALSE(lack_of_fit(fit, once));
    EXPECT_FALSE(lack_of_fit(fit, two_points));
    EXPECT_FALSE(lack_of_fit(fit, {}));
    EXPECT_FALSE(lack_of_fit({}, once));
}

TEST(LackOfFit, RepeatedReadingsThatAgreeExactlyMeasureNothing) {
    const std::vector<double> x{0, 0, 0, 0.3, 0.3, 1, 1}, y{0.1, 0.1, 0.1, 0.7, 0.7, 0.9, 0.9};
    const std::vector<std::size_t> point{7, 7, 7, 8, 8, 9, 9};
    const auto test = lack_of_fit(fit_polynomial(x, y, 1), point);
    ASSERT_TRUE(test);
    EXPECT_EQ(test->pure_error, 0);
    EXPECT_GT(test->lack, 0);
    EXPECT_FALSE(test->f);
    EXPECT_FALSE(test->p);
}

} // namespace
} // namespace stillmark::metrology
