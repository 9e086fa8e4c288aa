#include "daemon/metrology/propagation/draws.hpp"

#include <boost/math/distributions/arcsine.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/distributions/triangular.hpp>
#include <boost/math/distributions/uniform.hpp>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace stillmark::metrology {
namespace {

std::vector<double> sample(const Standardized& what, std::size_t count, std::uint64_t seed = 7) {
    const DrawPlan plan({what}, {});
    Draws draws(plan, RandomStream(seed));
    std::vector<double> out;
    std::vector<Lanes> deviation(1);
    while (out.size() < count) {
        draws.next(deviation);
        out.insert(out.end(), deviation[0].lane.begin(), deviation[0].lane.end());
    }
    return out;
}

/// Kolmogorov's statistic times sqrt(n): over 1.95 once in a thousand.
template <class Distribution>
double distance(std::vector<double> values, const Distribution& distribution) {
    std::sort(values.begin(), values.end());
    const auto n = static_cast<double>(values.size());
    double worst = 0;
    for (std::size_t i = 0; i < values.size(); ++i) {
        const double expected = boost::math::cdf(distribution, values[i]);
        worst = std::max({worst, std::abs(expected - static_cast<double>(i) / n),
                          std::abs(expected - static_cast<double>(i + 1) / n)});
    }
    return worst * std::sqrt(n);
}

double variance(const std::vector<double>& values) {
    double sum = 0;
    for (const double x : values)
        sum += x * x;
    return sum / static_cast<double>(values.size());
}

constexpr std::size_t many = 200'000;

TEST(Draws, FollowTheirDistributions) {
    EXPECT_LT(distance(sample({}, many), boost::math::normal()), 1.95);
    const double a = std::sqrt(3.0);
    EXPECT_LT(distance(sample({Distribution::rectangular}, many), boost::math::uniform(-a, a)), 1.95);
    const double b = std::sqrt(6.0);
    EXPECT_LT(distance(sample({Distribution::triangular}, many), boost::math::triangular(-b, 0, b)), 1.95);
    const double c = std::sqrt(2.0);
    EXPECT_LT(distance(sample({Distribution::arcsine}, many), boost::math::arcsine(-c, c)), 1.95);
}

TEST(Draws, TOfSeveralDegreesOfFreedom) {
    for (const double dof : {1.0, 1.5, 4.0, 17.3, 200.0})
        EXPECT_LT(distance(sample({Distribution::normal, dof}, many), boost::math::students_t(dof)), 1.95) << dof;
}

// What a ziggurat is most likely to get wrong: the tail beyond its lowest layer, the edges of the layers, one sign.
TEST(Draws, NormalInEveryPartOfItsRange) {
    const auto values = sample({}, 8'000'000, 3);
    const std::vector<double> edges{-4.5, -4, -3.6541528853610088, -3, -2, -1, -0.5, -0.2, 0, 0.2, 0.5, 1,
                                    2,    3,  3.6541528853610088,  4,  4.5};
    const boost::math::normal normal;
    const auto n = static_cast<double>(values.size());
    for (std::size_t i = 0; i + 1 < edges.size(); ++i) {
        const auto inside =
            std::count_if(values.begin(), values.end(), [&](double x) { return x >= edges[i] && x < edges[i + 1]; });
        const double p = boost::math::cdf(normal, edges[i + 1]) - boost::math::cdf(normal, edges[i]);
        EXPECT_NEAR(static_cast<double>(inside), n * p, 4.5 * std::sqrt(n * p * (1 - p))) << "from " << edges[i];
    }
    EXPECT_NEAR(variance(values), 1, 5 * std::sqrt(2 / n));
}

// JCGM 101:2008, 6.4.3: limits that are known to a part d of the half width add d^2/3 of the variance.
TEST(Draws, LimitsThatAreThemselvesUncertain) {
    const double dof = 50;
    const auto values = sample({Distribution::rectangular, dof}, many);
    const double part = 1 / std::sqrt(2 * dof);
    const double expected = 1 + part * part / 3;
    EXPECT_NEAR(variance(values), expected, 5 * expected / std::sqrt(static_cast<double>(many)));
    const auto [low, high] = std::minmax_element(values.begin(), values.end());
    EXPECT_GT(*high, std::sqrt(3.0));
    EXPECT_LE(*high, std::sqrt(3.0) * (1 + part));
    EXPECT_GE(*low, -std::sqrt(3.0) * (1 + part));
}

TEST(Draws, CorrelatedInputsHaveTheirCorrelations) {
    const std::vector<double> r{1, 0.9, -0.3, 0.9, 1, 0.1, -0.3, 0.1, 1};
    const DrawPlan plan({{}, {}, {}, {}}, {{{0, 2, 3}, r, 8}});
    Draws draws(plan, RandomStream(5));
    std::vector<Lanes> z(4);
    constexpr int groups = 40'000;
    std::vector<double> products(16, 0.0);
    for (int i = 0; i < groups; ++i) {
        draws.next(z);
        for (std::size_t a = 0; a < 4; ++a)
            for (std::size_t b = 0; b < 4; ++b)
                for (std::size_t lane = 0; lane < Lanes::width; ++lane)
                    products[a * 4 + b] += z[a][lane] * z[b][lane];
    }
    const std::vector<std::size_t> place{0, 2, 3};
    const double n = groups * static_cast<double>(Lanes::width);
    const double t_variance = 8.0 / 6;
    for (std::size_t i = 0; i < 3; ++i)
        for (std::size_t j = 0; j < 3; ++j)
            EXPECT_NEAR(products[place[i] * 4 + place[j]] / n, t_variance * r[i * 3 + j], 0.015);
    EXPECT_NEAR(products[1 * 4 + 1] / n, 1, 0.015);
    EXPECT_NEAR(products[1 * 4 + 0] / n, 0, 0.015);
}

TEST(Cholesky, GivesItsMatrixBackAndRefusesWhatIsNone) {
    const std::vector<double> r{1, 0.5, 0.2, 0.5, 1, -0.4, 0.2, -0.4, 1};
    const auto lower = cholesky(r, 3);
    ASSERT_EQ(lower.size(), 9U);
    for (std::size_t i = 0; i < 3; ++i) {
        for (std::size_t j = 0; j < 3; ++j) {
            double sum = 0;
            for (std::size_t k = 0; k < 3; ++k)
                sum += lower[i * 3 + k] * lower[j * 3 + k];
            EXPECT_NEAR(sum, r[i * 3 + j], 1e-15);
        }
    }
    EXPECT_FALSE(cholesky(std::vector<double>{1, 1, 1, 1}, 2).empty());
    EXPECT_FALSE(cholesky(std::vector<double>{1, -1, -1, 1}, 2).empty());
    // Three quantities cannot all oppose each other.
    EXPECT_TRUE(cholesky(std::vector<double>{1, -0.9, -0.9, -0.9, 1, -0.9, -0.9, -0.9, 1}, 3).empty());
    // Two that are the same cannot differ about a third.
    EXPECT_TRUE(cholesky(std::vector<double>{1, 1, 0.5, 1, 1, -0.5, 0.5, -0.5, 1}, 3).empty());
}

} // namespace
} // namespace stillmark::metrology
