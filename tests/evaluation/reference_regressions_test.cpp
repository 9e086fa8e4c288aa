#include "daemon/metrology/evaluation/least_squares.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

// Linear regressions against the Statistical Reference Datasets of NIST (StRD); certified values stand in each file.
namespace stillmark::metrology {
namespace {

struct DataSet {
    std::vector<double> certified, certified_sd; ///< of the coefficients
    double residual_sd = 0;
    double r_squared = 0, explained = 0, f = 0; ///< of its analysis of variance; f 0 where the file says infinity
    std::vector<std::vector<double>> rows;      ///< y first
};

DataSet data_set(const std::string& name) {
    std::ifstream file(std::string(STILLMARK_SOURCE_DIR) + "/tests/checks/strd/" + name + ".dat");
    DataSet set;
    bool data = false, expects_sd = false;
    for (std::string line; std::getline(file, line);) {
        std::istringstream words(line);
        std::string first, second;
        words >> first >> second;
        if (data) {
            std::istringstream numbers(line);
            std::vector<double> row;
            for (double number = 0; numbers >> number;)
                row.push_back(number);
            if (!row.empty()) set.rows.push_back(row);
        } else if (first == "Data:" && second == "y") {
            data = true;
        } else if (first.size() > 1 && first[0] == 'B' &&
                   first.find_first_not_of("0123456789", 1) == std::string::npos &&
                   second.find_first_of("0123456789") != std::string::npos && second != "+") {
            double sd = 0;
            if (words >> sd) {
                set.certified.push_back(std::stod(second));
                set.certified_sd.push_back(sd);
            }
        } else if (first == "Residual") {
            expects_sd = true;
        } else if (first == "R-Squared") {
            set.r_squared = std::stod(second);
        } else if (first == "Regression" && !second.empty()) {
            double mean_square = 0;
            words >> set.explained >> mean_square >> set.f;
        } else if (expects_sd && first == "Standard" && second == "Deviation") {
            words >> set.residual_sd;
            expects_sd = false;
        }
    }
    return set;
}

/// Decimal digits to which a value agrees with a certified one.
double digits(double value, double certified) {
    if (value == certified) return 15;
    return std::min(15.0, -std::log10(std::abs((value - certified) / (certified == 0 ? 1 : certified))));
}

void expect_digits(const LeastSquares& fit, const DataSet& set, double of_coefficients, double of_sd) {
    ASSERT_TRUE(fit.solved);
    ASSERT_EQ(fit.coefficients.size(), set.certified.size());
    for (std::size_t i = 0; i < set.certified.size(); ++i) {
        EXPECT_GE(digits(fit.coefficients[i], set.certified[i]), of_coefficients) << "B" << i;
        if (set.certified_sd[i] > 0)
            EXPECT_GE(digits(fit.u(i), set.certified_sd[i]), of_sd) << "sd of B" << i;
        else
            EXPECT_LT(fit.u(i), 1e-8) << "sd of B" << i;
    }
    if (set.residual_sd > 0)
        EXPECT_GE(digits(fit.residual_sd, set.residual_sd), of_sd);
    else
        EXPECT_LT(fit.residual_sd, 1e-8);
}

LeastSquares polynomial_of(const DataSet& set, std::size_t degree) {
    std::vector<double> x, y;
    for (const auto& row : set.rows) {
        y.push_back(row[0]);
        x.push_back(row[1]);
    }
    return fit_polynomial(x, y, degree);
}

LeastSquares plane_of(const DataSet& set, bool constant) {
    LeastSquaresProblem problem;
    problem.columns = set.rows.front().size() - 1 + (constant ? 1 : 0);
    problem.about_mean = constant;
    for (const auto& row : set.rows) {
        problem.values.push_back(row[0]);
        if (constant) problem.design.push_back(1);
        problem.design.insert(problem.design.end(), row.begin() + 1, row.end());
    }
    return solve(problem);
}

// NIST StRD "Norris": B0 -0.262323073774029, B1 1.00211681802045, residual sd 0.884796396144373.
TEST(ReferenceRegressions, NorrisStraightLine) {
    const auto set = data_set("Norris");
    ASSERT_EQ(set.rows.size(), 36U);
    expect_digits(polynomial_of(set, 1), set, 12, 12);
}

// Analysis of variance of the same set: regression 4255954.13232369, residual 26.6173985294224, F 5436385.54079785,
// R^2 0.999993745883712.
TEST(ReferenceRegressions, NorrisAnalysisOfVariance) {
    const auto fit = polynomial_of(data_set("Norris"), 1);
    EXPECT_GE(digits(fit.chi_squared, 26.6173985294224), 12);
    EXPECT_GE(digits(fit.explained, 4255954.13232369), 14);
    EXPECT_GE(digits(fit.f, 5436385.54079785), 12);
    EXPECT_GE(digits(fit.r_squared, 0.999993745883712), 14);
}

// The analyses of variance of the other sets, as their files certify them. About the mean, except through the origin.
TEST(ReferenceRegressions, AnalysesOfVariance) {
    for (const char* name : {"NoInt1", "NoInt2", "Longley", "Filip", "Wampler3", "Wampler4", "Wampler5"}) {
        SCOPED_TRACE(name);
        const auto set = data_set(name);
        ASSERT_GT(set.explained, 0);
        ASSERT_GT(set.f, 0);
        const std::string called = name;
        const auto fit = called.starts_with("NoInt")     ? plane_of(set, false)
                         : called.starts_with("Longley") ? plane_of(set, true)
                         : called.starts_with("Filip")   ? polynomial_of(set, 10)
                                                         : polynomial_of(set, 5);
        EXPECT_GE(digits(fit.r_squared, set.r_squared), 10);
        EXPECT_GE(digits(fit.explained, set.explained), 10);
        EXPECT_GE(digits(fit.f, set.f), 6);
    }
}

// As read: Longley R^2 0.995479004577296; NoInt1 R^2 0.999365492298663 and F 15750.25; NoInt2 R^2 0.993348115299335.
TEST(ReferenceRegressions, FilesSayWhatTheirSetsAreKnownFor) {
    EXPECT_EQ(data_set("Longley").r_squared, 0.995479004577296);
    EXPECT_EQ(data_set("NoInt1").r_squared, 0.999365492298663);
    EXPECT_EQ(data_set("NoInt1").f, 15750.25);
    EXPECT_EQ(data_set("NoInt2").r_squared, 0.993348115299335);
}

// With equal uncertainties the weights change nothing of what is explained; and data that lie on a curve leave nothing.
TEST(ReferenceRegressions, PartsExplainedWithWeights) {
    const auto set = data_set("Norris");
    std::vector<double> x, y;
    for (const auto& row : set.rows) {
        y.push_back(row[0]);
        x.push_back(row[1]);
    }
    const std::vector<double> u(x.size(), 0.25);
    EXPECT_GE(digits(fit_polynomial(x, y, 1, u).r_squared, set.r_squared), 14);
    EXPECT_GE(digits(fit_polynomial(x, y, 1, u).f, set.f), 12);
    EXPECT_EQ(polynomial_of(data_set("Wampler1"), 5).r_squared, 1);
    EXPECT_TRUE(std::isnan(fit_polynomial(x, std::vector<double>(x.size(), 0.0), 1).r_squared));
}

// NIST StRD "NoInt1" and "NoInt2": lines through the origin.
TEST(ReferenceRegressions, LinesThroughTheOrigin) {
    for (const char* name : {"NoInt1", "NoInt2"}) {
        SCOPED_TRACE(name);
        const auto set = data_set(name);
        ASSERT_EQ(set.certified.size(), 1U);
        expect_digits(plane_of(set, false), set, 14, 13);
    }
}

// NIST StRD "Longley": six predictors, nearly dependent.
TEST(ReferenceRegressions, LongleyPlane) {
    const auto set = data_set("Longley");
    ASSERT_EQ(set.rows.size(), 16U);
    ASSERT_EQ(set.certified.size(), 7U);
    expect_digits(plane_of(set, true), set, 11, 11);
}

// NIST StRD "Wampler1" to "Wampler5": polynomials of the fifth degree, from exact to buried in noise.
TEST(ReferenceRegressions, WamplerPolynomials) {
    for (const char* name : {"Wampler1", "Wampler2", "Wampler3", "Wampler4", "Wampler5"}) {
        SCOPED_TRACE(name);
        const auto set = data_set(name);
        ASSERT_EQ(set.rows.size(), 21U);
        ASSERT_EQ(set.certified.size(), 6U);
        expect_digits(polynomial_of(set, 5), set, 7, 7);
    }
}

// NIST StRD "Filip": tenth degree, the columns of which double precision can hardly tell apart.
TEST(ReferenceRegressions, FilipPolynomial) {
    const auto set = data_set("Filip");
    ASSERT_EQ(set.rows.size(), 82U);
    ASSERT_EQ(set.certified.size(), 11U);
    expect_digits(polynomial_of(set, 10), set, 6, 6);
}

/// Slope of a series against its index, over its own standard uncertainty.
double trend(const std::string& name, std::size_t lines_before, double& slope) {
    std::ifstream file(std::string(STILLMARK_SOURCE_DIR) + "/tests/checks/strd/" + name + ".dat");
    std::string line;
    for (std::size_t i = 0; i < lines_before; ++i)
        std::getline(file, line);
    std::vector<double> index, value;
    for (double one = 0; file >> one;) {
        index.push_back(static_cast<double>(index.size()));
        value.push_back(one);
    }
    const auto fit = fit_polynomial(index, value, 1);
    slope = fit.solved ? fit.coefficients[1] : 0;
    return fit.solved ? slope / fit.u(1) : 0;
}

// Recomputed from the data of the StRD, a regression test: slope over the index and its t.
TEST(ReferenceRegressions, TrendsOfMavroAndMichelsoComputedRegression) {
    double slope = 0;
    EXPECT_NEAR(trend("Mavro", 41, slope), 5.581598, 5e-7);
    EXPECT_NEAR(slope, 1.8468187274912727e-05, 1e-15);
    EXPECT_NEAR(trend("Michelso", 30, slope), -3.590283, 5e-7);
    EXPECT_NEAR(slope, -.0009285328532853183, 1e-13);
}

TEST(ReferenceRegressions, WhatCannotBeSolvedIsSaid) {
    const std::vector<double> one{1}, two{1, 2}, same{3, 3, 3}, three{1, 2, 3}, bad{1, std::nan(""), 3};
    EXPECT_FALSE(fit_polynomial(one, one, 1).solved);
    EXPECT_FALSE(fit_polynomial(two, two, 2).solved);
    EXPECT_FALSE(fit_polynomial(same, three, 1).solved);
    EXPECT_FALSE(fit_polynomial(three, bad, 1).solved);
    EXPECT_FALSE(fit_polynomial(three, three, 1, std::vector<double>{1, 0, 1}).solved);
    EXPECT_FALSE(fit_polynomial(three, two, 1).solved);
    EXPECT_TRUE(fit_polynomial(three, three, 1).solved);
}

} // namespace
} // namespace stillmark::metrology
