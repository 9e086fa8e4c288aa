#include "daemon/metrology/evaluation/reading_fit.hpp"
#include "daemon/metrology/evaluation/transfer_line.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <vector>

namespace stillmark::metrology {
namespace {

using Numbers = std::vector<double>;

/// ISO/TS 28037:2010, 6.3: six points with u(y) = 0.5, chi-squared 1.665.
FitReadings six_points(double u) {
    return {{1, 2, 3, 4, 5, 6}, {3.3, 5.6, 7.1, 9.3, 10.7, 12.1}, Numbers(6, u), {}, 0};
}

// Twenty-two readings, one relative error of all references: no number of readings averages it out.
TEST(ReadingFit, ACommonRelativeErrorIsAllTheSlopes) {
    FitReadings readings = six_points(0.5);
    const auto own = fit_readings(readings, 1).curve;
    for (const double x : readings.reference)
        readings.u_reference.push_back(1e-1 * x);
    const auto both = fit_readings(readings, 1).curve;
    // Closed form: references that are larger by a part r make the slope smaller by that part, and nothing else.
    EXPECT_NEAR(both.u(1), std::hypot(own.u(1), 1e-1 * own.coefficients[1]), 1e-14);
    EXPECT_NEAR(both.u(0), own.u(0), 1e-14);
    EXPECT_NEAR(both.covariance_of(0, 1), own.covariance_of(0, 1), 1e-14);
    EXPECT_EQ(both.coefficients, own.coefficients);
}

TEST(ReadingFit, ACommonOffsetIsAllTheIntercepts) {
    FitReadings readings = six_points(0.5);
    const auto own = fit_readings(readings, 1).curve;
    readings.u_reference.assign(6, 0.3);
    readings.u_offset = 0.4;
    const auto both = fit_readings(readings, 1).curve;
    EXPECT_NEAR(both.u(0), std::hypot(own.u(0), 0.3 * own.coefficients[1], 0.4), 1e-14);
    EXPECT_NEAR(both.u(1), own.u(1), 1e-14);
}

// The meter of an electrical output errs alike in every reading: closed form, of u = 0.1 + 0.02 x it moves the
// intercept by 0.1 and the slope by 0.02, for a hundred readings as for one.
TEST(ReadingFit, TheErrorOfTheMeterDoesNotAverageOut) {
    FitReadings readings = six_points(0.5);
    const auto own = fit_readings(readings, 1).curve;
    for (const double x : readings.reference)
        readings.u_meter.push_back(0.1 + 0.02 * x);
    const auto both = fit_readings(readings, 1).curve;
    EXPECT_NEAR(both.u(0), std::hypot(own.u(0), 0.1), 1e-14);
    EXPECT_NEAR(both.u(1), std::hypot(own.u(1), 0.02), 1e-14);
}

// Without weights as well: the scatter of the residuals says nothing of an error that all share.
TEST(ReadingFit, ACommonErrorIsThereWithoutWeights) {
    FitReadings readings = six_points(0.5);
    readings.u_own.clear();
    const auto own = fit_readings(readings, 1);
    EXPECT_FALSE(own.weighted);
    EXPECT_FALSE(own.chi_squared_limit.has_value());
    readings.u_reference.assign(6, 0.3);
    EXPECT_NEAR(fit_readings(readings, 1).curve.u(0), std::hypot(own.curve.u(0), 0.3 * own.curve.coefficients[1]),
                1e-14);
}

// An error common to all references of a curve y = x^2 shifts each reading by its slope there, 2 x: closed form, the
// coefficient of x moves by 2 u.
TEST(ReadingFit, ACommonErrorGoesThroughTheSlopeOfTheCurve) {
    FitReadings readings{{0, 1, 2, 3, 4}, {0, 1, 4, 9, 16}, Numbers(5, 1e-6), Numbers(5, 0.1), 0};
    const auto curve = fit_readings(readings, 2).curve;
    EXPECT_NEAR(curve.u(1), 0.2, 1e-9);
    EXPECT_LT(curve.u(0), 1e-5);
    EXPECT_LT(curve.u(2), 1e-5);
}

// What the line says of its slope is what slopes do: tables with one relative error each, and noise of every reading.
TEST(ReadingFit, SimulatedTablesScatterAsTheirLinesSay) {
    std::mt19937_64 random(20240611);
    std::normal_distribution<double> normal;
    constexpr int tables = 4000;
    double square = 0, claimed = 0;
    for (int table = 0; table < tables; ++table) {
        FitReadings readings;
        const double error = 1e-3 * normal(random);
        for (int i = 0; i < 22; ++i) {
            const double truth = i < 11 ? i : 21 - i;
            readings.reference.push_back(truth * (1 + error));
            readings.reading.push_back(truth + 5e-3 * normal(random));
            readings.u_own.push_back(5e-3);
            readings.u_reference.push_back(1e-3 * readings.reference.back());
        }
        const auto curve = fit_readings(readings, 1).curve;
        square += (curve.coefficients[1] - 1) * (curve.coefficients[1] - 1) / tables;
        claimed += curve.u(1) * curve.u(1) / tables;
    }
    // The relative sd of a variance from n values is sqrt(2/n): 2.2 % here; four of them.
    EXPECT_NEAR(square / claimed, 1, 0.09);
}

// The quantile for four degrees of freedom is 9.488 in any table of chi-squared (the NIST/SEMATECH
// e-Handbook, 1.3.6.7.4; from memory).
TEST(ReadingFit, StatedUncertaintiesStandWhereChiSquaredAllowsIt) {
    const auto fit = fit_readings(six_points(0.5), 1);
    EXPECT_TRUE(fit.weighted);
    ASSERT_TRUE(fit.chi_squared_limit.has_value());
    EXPECT_NEAR(*fit.chi_squared_limit, 9.488, 5e-4);
    EXPECT_NEAR(fit.curve.chi_squared, 1.665, 5e-4);
    EXPECT_EQ(fit.enlarged, 1);
    EXPECT_NEAR(fit.curve.u(1), 0.120, 5e-4);
}

// The same points said to be known to 0.1: chi-squared is 25 times as large, 41.6. Enlarged, equal weights give what
// the scatter alone gives.
TEST(ReadingFit, OtherwiseTheReadingsCountAsTheyScatter) {
    const auto fit = fit_readings(six_points(0.1), 1);
    EXPECT_NEAR(fit.curve.chi_squared, 25 * 1.66476190476, 1e-9);
    EXPECT_NEAR(fit.enlarged, std::sqrt(25 * 1.66476190476 / 4), 1e-10);
    auto unweighted = six_points(0.1);
    unweighted.u_own.clear();
    const auto by_scatter = fit_readings(unweighted, 1).curve;
    for (std::size_t i = 0; i < 4; ++i)
        EXPECT_NEAR(fit.curve.covariance[i], by_scatter.covariance[i], 1e-14);
}

// The scatter enlarges the readings' own part; what the standard's certificate states is no matter of scatter.
TEST(ReadingFit, TheCommonPartIsNotEnlarged) {
    FitReadings readings = six_points(0.1);
    const auto own = fit_readings(readings, 1);
    ASSERT_GT(own.enlarged, 1);
    readings.u_reference.assign(6, 0.3);
    EXPECT_NEAR(fit_readings(readings, 1).curve.u(0), std::hypot(own.curve.u(0), 0.3 * own.curve.coefficients[1]),
                1e-14);
}

TEST(ReadingFit, TwoWeightedReadingsLeaveNothingToTest) {
    const auto fit = fit_readings({{1, 2}, {1, 2}, {0.1, 0.1}, {}, 0}, 1);
    EXPECT_TRUE(fit.curve.solved);
    EXPECT_FALSE(fit.chi_squared_limit.has_value());
    EXPECT_FALSE(fit_readings({{1, 1}, {1, 2}, {}, {}, 0}, 1).curve.solved);
}

} // namespace
} // namespace stillmark::metrology
