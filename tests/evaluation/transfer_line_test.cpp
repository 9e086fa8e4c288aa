#include "daemon/metrology/evaluation/linearity.hpp"
#include "daemon/metrology/evaluation/transfer_line.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

namespace stillmark::metrology {
namespace {

using Numbers = std::vector<double>;

// Static calibration of a pressure gauge (Doebelin, Measurement Systems, chapter 3): true 0 to 10 kPa.
const Numbers kpa{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10};
const Numbers rising{-1.12, .21, 1.18, 2.09, 3.33, 4.50, 5.26, 6.59, 7.73, 8.68, 9.80};
const Numbers falling{-.69, .42, 1.65, 2.48, 3.62, 4.71, 5.87, 6.89, 7.92, 9.10, 10.20};

Numbers both(const Numbers& a, const Numbers& b) {
    Numbers all = a;
    all.insert(all.end(), b.begin(), b.end());
    return all;
}

// Published: slope 1.08, intercept -0.85 over all 22 readings; recomputed 1.082318182, -0.8470454545.
TEST(TransferLine, PressureGaugeOverAllReadings) {
    const auto line = fit_line(both(kpa, kpa), both(rising, falling));
    ASSERT_TRUE(line.fitted);
    EXPECT_NEAR(line.slope, 1.08, 0.005);
    EXPECT_NEAR(line.intercept, -0.85, 0.005);
    EXPECT_NEAR(line.slope, 1.082318182, 5e-10);
    EXPECT_NEAR(line.intercept, -0.8470454545, 5e-11);
}

// Published: residual standard deviation 0.208 (n - 2); recomputed 0.20805807.
TEST(TransferLine, PressureGaugeResiduals) {
    const auto line = fit_line(both(kpa, kpa), both(rising, falling));
    EXPECT_NEAR(line.residual_sd, 0.208, 5e-4);
    EXPECT_NEAR(line.residual_sd, 0.20805807, 5e-9);
    EXPECT_EQ(line.dof, 20);
}

// From memory: s_m 0.0140 and s_b 0.083; s_m is s_yx over the root of the sum of squares of x, 220.
TEST(TransferLine, PressureGaugeUncertaintiesOfTheLine) {
    const auto line = fit_line(both(kpa, kpa), both(rising, falling));
    EXPECT_NEAR(line.u_slope, 0.0140, 5e-5);
    EXPECT_NEAR(line.u_slope, 0.20805807 / std::sqrt(220), 5e-9);
    EXPECT_NEAR(line.u_intercept, 0.08299, 5e-6);
}

// Published: 1.08, -1.03 (s 0.116) rising and 1.08, -0.67 (s 0.072) falling.
TEST(TransferLine, PressureGaugeEachDirection) {
    const auto up = fit_line(kpa, rising), down = fit_line(kpa, falling);
    EXPECT_NEAR(up.slope, 1.082363636, 5e-10);
    EXPECT_NEAR(up.intercept, -1.025454545, 5e-10);
    EXPECT_NEAR(up.residual_sd, 0.116, 5e-4);
    EXPECT_NEAR(down.slope, 1.082272727, 5e-10);
    EXPECT_NEAR(down.intercept, -0.6686363636, 5e-11);
    EXPECT_NEAR(down.residual_sd, 0.072, 5e-4);
}

// Published: a reading of 4.32 is 4.79 kPa with rounded coefficients; recomputed unrounded 4.774054, and three standard
// deviations of the inferred input, residuals divided by n, 0.549863.
TEST(TransferLine, PressureGaugeReadBackwards) {
    const auto line = fit_line(both(kpa, kpa), both(rising, falling));
    EXPECT_NEAR((4.32 + 0.85) / 1.08, 4.79, 0.005);
    EXPECT_NEAR(inverse(line, 4.32, 0).value, 4.774054, 5e-7);
    const double s_divided_by_n = line.residual_sd * std::sqrt(20.0 / 22.0);
    EXPECT_NEAR(3 * s_divided_by_n / line.slope, 0.549863, 5e-7);
}

// Natrella, NBS Handbook 91 (1963), worksheet 5-4.1.
TEST(TransferLine, NatrellaWorksheet) {
    const Numbers x{30, 100, 200, 300, 400, 500, 600, 700, 800, 900, 1000, 1100, 1200, 1300, 1400, 1500};
    const Numbers y{4642, 4612, 4565, 4513, 4476, 4433, 4389, 4347, 4303, 4251, 4201, 4140, 4100, 4073, 4024, 3999};
    const auto line = fit_line(x, y);
    EXPECT_NEAR(line.slope, -0.44985482, 5e-9);
    EXPECT_NEAR(line.intercept, 4654.9846, 5e-5);
    EXPECT_NEAR(line.residual_sd, 9.277617, 1e-6);
    EXPECT_NEAR(line.u_slope * line.u_slope, 0.000025649045, 6e-13);
    EXPECT_NEAR(line.u_intercept * line.u_intercept, 19.879452, 2e-6);
}

// ISO/TS 28037:2010, 6.3: six points with u(y) = 0.5.
TEST(TransferLine, Iso28037WithEqualUncertainties) {
    const Numbers x{1, 2, 3, 4, 5, 6}, y{3.3, 5.6, 7.1, 9.3, 10.7, 12.1}, u(6, 0.5);
    const auto line = fit_line(x, y, u);
    EXPECT_NEAR(line.intercept, 1.867, 5e-4);
    EXPECT_NEAR(line.u_intercept, 0.465, 5e-4);
    EXPECT_NEAR(line.slope, 1.757, 5e-4);
    EXPECT_NEAR(line.u_slope, 0.120, 5e-4);
    EXPECT_NEAR(line.covariance, -0.050, 5e-4);
    EXPECT_NEAR(line.chi_squared, 1.665, 5e-4);
    EXPECT_NEAR(line.intercept, 1.86666666667, 5e-12);
    EXPECT_NEAR(line.u_intercept, .465474668126, 5e-13);
}

// ISO/TS 28037:2010, 11: x for y = 10.5 (u 0.5) is 4.913 (u 0.322).
TEST(TransferLine, Iso28037ReadBackwards) {
    const Numbers x{1, 2, 3, 4, 5, 6}, y{3.3, 5.6, 7.1, 9.3, 10.7, 12.1}, u(6, 0.5);
    const auto back = inverse(fit_line(x, y, u), 10.5, 0.5);
    EXPECT_NEAR(back.value, 4.913, 5e-4);
    EXPECT_NEAR(back.u, 0.322, 5e-4);
}

// Recomputed: y for x = 3.5 (u 0.2).
TEST(TransferLine, Iso28037ReadForwards) {
    const Numbers x{1, 2, 3, 4, 5, 6}, y{3.3, 5.6, 7.1, 9.3, 10.7, 12.1}, u(6, 0.5);
    const auto value = forward(fit_line(x, y, u), 3.5, 0.2);
    EXPECT_NEAR(value.value, 8.016666667, 5e-10);
    EXPECT_NEAR(value.u, 0.4064095317, 5e-11);
}

// ISO/TS 28037:2010, 7.4: uncertainties in x and y.
TEST(TransferLine, Iso28037WithUncertaintiesInBoth) {
    const Numbers x{1.2, 1.9, 2.9, 4.0, 4.7, 5.9}, y{3.4, 4.4, 7.2, 8.5, 10.8, 13.5};
    const Numbers u_x(6, 0.2), u_y{0.2, 0.2, 0.2, 0.4, 0.4, 0.4};
    const auto line = fit_line(x, y, u_x, u_y);
    ASSERT_TRUE(line.fitted);
    EXPECT_NEAR(line.intercept, 0.5788, 5e-5);
    EXPECT_NEAR(line.u_intercept, 0.4764, 5e-5);
    EXPECT_NEAR(line.slope, 2.159, 1e-3);
    EXPECT_NEAR(line.u_slope, 0.1355, 5e-5);
    EXPECT_NEAR(line.covariance, -0.0577, 5e-5);
    EXPECT_NEAR(line.chi_squared, 2.743, 5e-4);
    // The digits of an independent library.
    EXPECT_NEAR(line.intercept, .578822122145264, 1e-9);
    EXPECT_NEAR(line.slope, 2.15965656740064, 1e-9);
    EXPECT_NEAR(line.chi_squared, 2.74267678973, 1e-9);
}

// 33 points of a chemical calibration, as an uncertainty library of a national laboratory documents them: intercept
// 3.829633197588708, u 1.768447327250652, slope 0.903643210579323, u 0.050118973559182, correlation
// -0.9481240708919155.
const Numbers stimulus{3,  7,  11, 15, 18, 27, 29, 30, 30, 31, 31, 32, 33, 33, 34, 36, 36,
                       36, 37, 38, 39, 39, 39, 40, 41, 42, 42, 43, 44, 45, 46, 47, 50};
const Numbers response{5,  11, 21, 16, 16, 28, 27, 25, 35, 30, 40, 32, 34, 32, 34, 37, 38,
                       34, 36, 38, 37, 36, 45, 39, 41, 40, 44, 37, 44, 46, 46, 49, 51};

TEST(TransferLine, ThirtyThreePointsWithCorrelation) {
    const auto line = fit_line(stimulus, response);
    EXPECT_NEAR(line.intercept, 3.829633197588708, 1e-12);
    EXPECT_NEAR(line.u_intercept, 1.768447327250652, 1e-12);
    EXPECT_NEAR(line.slope, .903643210579323, 1e-13);
    EXPECT_NEAR(line.u_slope, .050118973559182, 1e-13);
    EXPECT_NEAR(line.covariance / (line.u_slope * line.u_intercept), -.9481240708919155, 1e-12);
    EXPECT_EQ(line.dof, 31);
}

// The same documentation: the line at 21.5 is 23.2579622250441, u 0.821607058888506; a single response there has u
// 3.332409257957110, with the scatter of one response beside the line's.
TEST(TransferLine, ThirtyThreePointsReadForwards) {
    const auto line = fit_line(stimulus, response);
    const auto value = forward(line, 21.5, 0);
    EXPECT_NEAR(value.value, 23.2579622250441, 1e-12);
    EXPECT_NEAR(value.u, 0.821607058888506, 1e-12);
    EXPECT_NEAR(std::hypot(value.u, line.residual_sd), 3.332409257957110, 1e-12);
}

// The same documentation: three responses 31.4, 29.3, 27.1 come from 28.14942133275184, u 2.175140873342519.
TEST(TransferLine, ThirtyThreePointsReadBackwards) {
    const auto line = fit_line(stimulus, response);
    const auto found = inverse(line, (31.4 + 29.3 + 27.1) / 3, line.residual_sd / std::sqrt(3));
    EXPECT_NEAR(found.value, 28.14942133275184, 1e-12);
    EXPECT_NEAR(found.u, 2.175140873342519, 1e-12);
}

TEST(TransferLine, WithoutUncertaintyInXBothFormsAgree) {
    const Numbers x{1, 2, 3, 4, 5, 6}, y{3.3, 5.6, 7.1, 9.3, 10.7, 12.1}, u{.5, .4, .3, .5, .6, .5}, none(6, 0.0);
    const auto one = fit_line(x, y, u), other = fit_line(x, y, none, u);
    EXPECT_NEAR(one.slope, other.slope, 1e-12);
    EXPECT_NEAR(one.u_intercept, other.u_intercept, 1e-12);
    EXPECT_NEAR(one.covariance, other.covariance, 1e-12);
}

TEST(TransferLine, WithoutSlopeNothingIsReadBackwards) {
    TransferLine flat;
    flat.intercept = 5;
    EXPECT_TRUE(std::isnan(inverse(flat, 5, 0).value));
    EXPECT_FALSE(fit_line(Numbers{2, 2}, Numbers{1, 2}).fitted);
}

// Constructed, exact: errors 0, 0.2, 0.3, 0.2 and 0 % at 0, 25, 50, 75 and 100 % of span.
TEST(Linearity, ThreeDefinitionsOfOneCurve) {
    const Numbers x{0, 25, 50, 75, 100}, y{0, 0.2, 0.3, 0.2, 0};
    const auto found = linearity(x, y);
    EXPECT_NEAR(found.terminal, 0.3, 1e-15);
    EXPECT_NEAR(found.independent, 0.15, 1e-15);
    EXPECT_NEAR(found.zero_based, 0.2, 1e-15);
    EXPECT_NEAR(found.zero_based_slope, 0.2 / 100, 1e-15);
}

TEST(Linearity, OfAStraightLineIsNothing) {
    const Numbers x{0, 1, 2, 5}, y{1, 3, 5, 11};
    const auto found = linearity(x, y);
    EXPECT_NEAR(found.terminal, 0, 1e-14);
    EXPECT_NEAR(found.zero_based, 0, 1e-14);
    EXPECT_NEAR(found.independent, 0, 1e-14);
    EXPECT_NEAR(found.independent_slope, 2, 1e-14);
}

TEST(Linearity, TheBetterPlacedLineIsNeverWorse) {
    const Numbers x{0, 1, 2, 3, 4, 5, 6}, y{0.1, 1.2, 1.7, 3.3, 3.9, 5.4, 5.8};
    const auto found = linearity(x, y);
    EXPECT_LE(found.independent, found.zero_based);
    EXPECT_LE(found.zero_based, found.terminal);
    EXPECT_TRUE(std::isnan(linearity(Numbers{1}, Numbers{1}).terminal));
}

} // namespace
} // namespace stillmark::metrology
