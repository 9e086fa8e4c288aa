#include "daemon/metrology/evaluation/inverse_reading.hpp"
#include "evaluation/load_cell.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <string>

namespace stillmark::metrology {
namespace {

LeastSquares curve_of(std::vector<double> coefficients) {
    LeastSquares curve;
    curve.solved = true;
    curve.covariance.assign(coefficients.size() * coefficients.size(), 0);
    curve.coefficients = std::move(coefficients);
    return curve;
}

std::string why(const LeastSquares& curve, double reading, double low, double high) {
    const auto found = reference_of(curve, reading, 0, low, high);
    return found.why ? word(*found.why) : "";
}

// ISO/TS 28037:2010, clause 6.3 example and its use backwards: y = 10.5, u 0.5 gives x = 4.913, u 0.322 (as an open
// national laboratory's library documents it; recomputed 4.913279133, 0.3220355601).
TEST(InverseReading, OfTheLineOfTheStandardsExample) {
    const std::vector<double> x{1, 2, 3, 4, 5, 6}, y{3.3, 5.6, 7.1, 9.3, 10.7, 12.1}, u(6, 0.5);
    const auto found = reference_of(fit_polynomial(x, y, 1, u), 10.5, 0.5, 1, 6);
    ASSERT_FALSE(found.why);
    EXPECT_NEAR(found.reference, 4.913279133, 1e-9);
    EXPECT_NEAR(found.u, 0.3220355601, 1e-9);
}

// NIST/SEMATECH e-Handbook, 4.6.1.10: a deflection of 1.239722 is a load of 1705106 (numpy: 1705105.57).
TEST(InverseReading, OfTheParabolaOfALoadCell) {
    const auto cell = load_cell();
    const auto fit = fit_polynomial(cell.load, cell.deflection, 2);
    const auto found = reference_of(fit, 1.239722, fit.residual_sd, cell.load.front(), cell.load.back());
    ASSERT_FALSE(found.why);
    EXPECT_NEAR(found.reference, 1705106, 0.5);
    // By trying it: the mean reading there is off by its own u, and by that of the curve, over the slope.
    const double slope = fit.coefficients[1] + 2 * fit.coefficients[2] * found.reference;
    EXPECT_GT(found.u, fit.residual_sd / slope);
    EXPECT_LT(found.u, 1.1 * fit.residual_sd / slope);
}

// Against the change of the root when each coefficient is moved, one at a time, correlated as the fit says.
TEST(InverseReading, TheUncertaintyIsThatOfTheMovedRoot) {
    const auto cell = load_cell();
    const auto fit = fit_polynomial(cell.load, cell.deflection, 3);
    const double low = cell.load.front(), high = cell.load.back(), reading = 0.7;
    const double at = reference_of(fit, reading, 0, low, high).reference;
    std::vector<double> moved(4);
    for (std::size_t i = 0; i < 4; ++i) {
        const double step = 0.1 * fit.u(i);
        auto up = fit, down = fit;
        up.coefficients[i] += step;
        down.coefficients[i] -= step;
        moved[i] =
            (reference_of(up, reading, 0, low, high).reference - reference_of(down, reading, 0, low, high).reference) /
            (2 * step);
    }
    double variance = 0;
    for (std::size_t i = 0; i < 4; ++i)
        for (std::size_t j = 0; j < 4; ++j)
            variance += moved[i] * moved[j] * fit.covariance_of(i, j);
    EXPECT_NEAR(reference_of(fit, reading, 0, low, high).u, std::sqrt(variance), 1e-4 * std::sqrt(variance));
    EXPECT_GT(at, low);
}

TEST(InverseReading, AFallingCurveHasReferencesToo) {
    const auto found = reference_of(curve_of({10, -2}), 4, 0.2, 0, 5);
    ASSERT_FALSE(found.why);
    EXPECT_DOUBLE_EQ(found.reference, 3);
    EXPECT_DOUBLE_EQ(found.u, 0.1);
}

TEST(InverseReading, TheEndsOfTheRangeBelongToIt) {
    const auto line = curve_of({1, 2});
    EXPECT_EQ(reference_of(line, 1, 0, 0, 10).reference, 0);
    EXPECT_EQ(reference_of(line, 21, 0, 0, 10).reference, 10);
}

TEST(InverseReading, WhereAReadingHasNoReferenceTheReasonIsNamed) {
    const auto line = curve_of({1, 2});
    EXPECT_EQ(why(line, 21.001, 0, 10), "outside the range");
    EXPECT_EQ(why(line, 0.999, 0, 10), "outside the range");
    EXPECT_EQ(why(line, std::nan(""), 0, 10), "outside the range");
    EXPECT_EQ(why(curve_of({1, 0}), 1, 0, 10), "no slope");
    EXPECT_EQ(why(curve_of({1}), 1, 0, 10), "no slope");
    EXPECT_EQ(why(curve_of({4, 1e-17}), 4, 0, 2), "no slope") << "what rounding leaves of equal readings";
    const auto parabola = curve_of({0, 0, 1}); // turns at 0
    EXPECT_EQ(why(parabola, 4, -1, 10), "not monotone");
    EXPECT_EQ(why(parabola, 4, 0, 10), "no slope");
    EXPECT_EQ(why(parabola, 4, 0.5, 10), "");
    // x^3 - 3 x rises at both ends of -2 to 2, and falls between -1 and 1.
    const auto cubic = curve_of({0, -3, 0, 1});
    EXPECT_EQ(why(cubic, 0.5, -2, 2), "not monotone");
    EXPECT_EQ(why(cubic, 1, 1.5, 2), "");
    EXPECT_EQ(why(curve_of({0, 0, 0, 1}), 0.5, -1, 1), "no slope");
}

} // namespace
} // namespace stillmark::metrology
