#include "daemon/metrology/propagation/monte_carlo.hpp"
#include "daemon/metrology/propagation/trial_figures.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <limits>
#include <numeric>
#include <thread>
#include <vector>

namespace stillmark::metrology {
namespace {

MonteCarloModel sum_of(std::vector<Standardized> inputs, std::vector<double> weights) {
    return {DrawPlan(std::move(inputs), {}), 1, [weights]() -> Trials {
                return [weights](std::span<const Lanes> z, std::span<Lanes> out) {
                    out[0] = 0.0;
                    for (std::size_t i = 0; i < z.size(); ++i)
                        out[0] += weights[i] * z[i];
                };
            }};
}

void last_first(std::size_t count, const std::function<void(std::size_t)>& job) {
    while (count > 0)
        job(--count);
}

BlockRunner threads(unsigned number) {
    return [number](std::size_t count, const std::function<void(std::size_t)>& job) {
        std::atomic<std::size_t> next{0};
        std::vector<std::jthread> all;
        for (unsigned i = 0; i < number; ++i)
            all.emplace_back([&next, &job, count] {
                for (std::size_t k = next++; k < count; k = next++)
                    job(k);
            });
    };
}

TEST(MonteCarlo, SumOfNormalInputsIsNormal) {
    const auto result = monte_carlo(sum_of({{}, {}, {}}, {3, 4, 12}), {}, one_after_the_other);
    ASSERT_EQ(result.outputs.size(), 1U);
    EXPECT_TRUE(result.stable);
    const auto& y = result.outputs[0];
    const double n = static_cast<double>(result.trials);
    EXPECT_NEAR(y.mean, 0, 5 * 13 / std::sqrt(n));
    EXPECT_NEAR(y.u, 13, 5 * 13 / std::sqrt(2 * n));
    EXPECT_EQ(y.tolerance, 0.5);
    // The tolerance is what was promised; equal tails are better known: p(1-p)/n over the density at the end.
    EXPECT_NEAR(y.shortest.low, -1.959964 * 13, 0.5);
    EXPECT_NEAR(y.shortest.high, 1.959964 * 13, 0.5);
    const double end = 5 * 13 * std::sqrt(0.025 * 0.975 / n) / 0.058445;
    EXPECT_NEAR(y.symmetric.low, -1.959964 * 13, end);
    EXPECT_NEAR(y.symmetric.high, 1.959964 * 13, end);
    EXPECT_NEAR(y.shortest.width(), y.symmetric.width(), 0.05);
}

TEST(MonteCarlo, SquareOfANormalInputIsChiSquare) {
    const MonteCarloModel model{DrawPlan({{}}, {}), 1, [] {
                                    return [](std::span<const Lanes> z, std::span<Lanes> out) { out[0] = z[0] * z[0]; };
                                }};
    MonteCarloSettings settings;
    settings.trials = 1'000'000;
    const auto result = monte_carlo(model, settings, one_after_the_other);
    const auto& y = result.outputs.at(0);
    EXPECT_NEAR(y.mean, 1, 5 * std::sqrt(2e-6));
    EXPECT_NEAR(y.u, std::sqrt(2.0), 5 * std::sqrt(56e-6 / 8));
    // Its density falls from zero on, so the shortest interval begins there and ends at the 95 % point.
    EXPECT_NEAR(y.shortest.low, 0, 1e-3);
    EXPECT_NEAR(y.shortest.high, 3.841459, 0.03);
    EXPECT_NEAR(y.symmetric.low, 0.000982069, 1e-4);
    EXPECT_NEAR(y.symmetric.high, 5.023886, 0.04);
}

TEST(MonteCarlo, TheSameSeedGivesTheSameDigitsWhateverRunsTheBlocks) {
    const auto model =
        sum_of({{Distribution::normal, 5}, {Distribution::rectangular}, {Distribution::arcsine, 9}}, {1, 2, 0.5});
    MonteCarloSettings settings;
    settings.seed = 42;
    settings.digits = 1;
    const auto expected = monte_carlo(model, settings, one_after_the_other);
    for (const BlockRunner& runner : {BlockRunner(last_first), threads(1), threads(2), threads(3)}) {
        const auto found = monte_carlo(model, settings, runner);
        EXPECT_EQ(found.trials, expected.trials);
        EXPECT_EQ(found.outputs[0].mean, expected.outputs[0].mean);
        EXPECT_EQ(found.outputs[0].u, expected.outputs[0].u);
        EXPECT_EQ(found.outputs[0].shortest.low, expected.outputs[0].shortest.low);
        EXPECT_EQ(found.outputs[0].shortest.high, expected.outputs[0].shortest.high);
        EXPECT_EQ(found.outputs[0].symmetric.low, expected.outputs[0].symmetric.low);
    }
    settings.seed = 43;
    EXPECT_NE(monte_carlo(model, settings, one_after_the_other).outputs[0].mean, expected.outputs[0].mean);
}

TEST(MonteCarlo, CorrelationOfTheOutputs) {
    const MonteCarloModel model{DrawPlan({{}, {}}, {}), 3, [] {
                                    return [](std::span<const Lanes> z, std::span<Lanes> out) {
                                        out[0] = z[0];
                                        out[1] = 0.6 * z[0] + 0.8 * z[1];
                                        out[2] = -2.0 * z[0];
                                    };
                                }};
    MonteCarloSettings settings;
    settings.trials = 200'000;
    const auto result = monte_carlo(model, settings, one_after_the_other);
    EXPECT_NEAR(result.correlation[1], 0.6, 0.01);
    EXPECT_NEAR(result.correlation[3], 0.6, 0.01);
    EXPECT_NEAR(result.correlation[2], -1, 1e-12);
    EXPECT_EQ(result.correlation[4], 1);
}

TEST(MonteCarlo, NothingIsConcludedWhereTheModelIsOftenUndefined) {
    const MonteCarloModel model{DrawPlan({{}}, {}), 1, [] {
                                    return [](std::span<const Lanes> z, std::span<Lanes> out) {
                                        out[0] = sqrt(z[0] + 3.0); // one trial in 741 is below
                                    };
                                }};
    const auto result = monte_carlo(model, {}, one_after_the_other);
    EXPECT_TRUE(result.outputs.empty());
    EXPECT_FALSE(result.stable);
    EXPECT_NEAR(static_cast<double>(result.undefined), static_cast<double>(result.trials) / 741,
                5 * std::sqrt(static_cast<double>(result.trials) / 741));
    EXPECT_NE(result.trouble.find("no finite number"), std::string::npos);
}

TEST(MonteCarlo, RareUndefinedTrialsAreCountedAndLeftOut) {
    const MonteCarloModel model{DrawPlan({{}}, {}), 2, [] {
                                    return [](std::span<const Lanes> z, std::span<Lanes> out) {
                                        out[0] = sqrt(z[0] + 4.2); // one in 75 000
                                        out[1] = z[0];
                                    };
                                }};
    MonteCarloSettings settings;
    settings.trials = 2'000'000;
    const auto result = monte_carlo(model, settings, one_after_the_other);
    ASSERT_EQ(result.outputs.size(), 2U);
    EXPECT_GT(result.undefined, 5U);
    EXPECT_LT(result.undefined, 80U);
    // What is left out of one output is left out of all.
    EXPECT_NEAR(result.outputs[1].mean, 0, 5 / std::sqrt(2e6));
    EXPECT_NEAR(result.outputs[1].u, 1, 0.01);
    EXPECT_TRUE(std::isfinite(result.outputs[0].shortest.low));
}

TEST(MonteCarlo, AHeavyTailNeverBecomesStableAndThatIsSaid) {
    MonteCarloSettings settings;
    settings.most_trials = 500'000;
    const auto result = monte_carlo(sum_of({{Distribution::normal, 1}}, {1}), settings, one_after_the_other);
    EXPECT_TRUE(result.adaptive);
    EXPECT_FALSE(result.stable);
    EXPECT_EQ(result.trials, 500'000U);
    EXPECT_EQ(result.outputs.size(), 1U);
}

TEST(MonteCarlo, AConstantIsAConstant) {
    const MonteCarloModel model{DrawPlan({}, {}), 1,
                                [] { return [](std::span<const Lanes>, std::span<Lanes> out) { out[0] = 7.25; }; }};
    const auto result = monte_carlo(model, {}, one_after_the_other);
    EXPECT_TRUE(result.stable);
    EXPECT_EQ(result.outputs.at(0).mean, 7.25);
    EXPECT_EQ(result.outputs[0].u, 0);
    EXPECT_EQ(result.outputs[0].shortest.low, 7.25);
    EXPECT_EQ(result.outputs[0].shortest.high, 7.25);
}

// JCGM 101:2008, 7.9.2: u = 0.035 with two digits is 35 10^-3, delta = 0.0005; with one digit 0.03 or 0.04, 0.005.
TEST(NumericalTolerance, OfTheDigitsThatCount) {
    EXPECT_NEAR(numerical_tolerance(0.035, 2), 0.0005, 1e-18);
    EXPECT_NEAR(numerical_tolerance(0.035, 1), 0.005, 1e-17);
    EXPECT_EQ(numerical_tolerance(2000, 1), 500);
    EXPECT_NEAR(numerical_tolerance(0.0999, 2), 0.005, 1e-17);
    EXPECT_EQ(numerical_tolerance(0, 2), 0);
}

// JCGM 101:2008, 8.1.
TEST(Validation, ComparesTheEndsWithTheTolerance) {
    const Validation good = validate(10, 2, 1.0, {8.04, 11.97}, 2);
    EXPECT_NEAR(good.off_low, 0.04, 1e-12);
    EXPECT_NEAR(good.off_high, 0.03, 1e-12);
    EXPECT_NEAR(good.tolerance, 0.05, 1e-15);
    EXPECT_TRUE(good.validated);
    EXPECT_FALSE(validate(10, 2, 1.0, {8.06, 11.97}, 2).validated);
    EXPECT_FALSE(validate(10, 2, 1.0, {8.04, 11.9}, 2).validated);
    EXPECT_TRUE(validate(10, 2, 1.0, {8.06, 11.9}, 1).validated);
}

// Of M sorted values the interval from r to r + q, q = p M (JCGM 101:2008, 7.7.1); the tails against all of them
// sorted.
TEST(Tails, AreThoseOfTheSortedValues) {
    RandomStream random(11);
    std::vector<double> scratch;
    for (const std::size_t count : {20U, 1'000U, 10'000U, 100'000U, 300'001U}) {
        std::vector<double> values;
        for (std::size_t i = 0; i < count; ++i)
            values.push_back(std::floor(1e5 * unit_interval(random())));
        for (const double coverage : {0.5, 0.95, 0.99}) {
            const std::size_t size = tail_size(count, coverage);
            const auto inside = static_cast<std::size_t>(std::floor(coverage * static_cast<double>(count) + 0.5));
            EXPECT_EQ(size, std::max<std::size_t>(count - inside, 1));
            const Tails tails = tails_of(values, size, scratch);
            std::vector<double> sorted = values;
            std::sort(sorted.begin(), sorted.end());
            EXPECT_TRUE(std::equal(tails.low.begin(), tails.low.end(), sorted.begin()));
            EXPECT_TRUE(std::equal(tails.high.rbegin(), tails.high.rend(), sorted.rbegin()));
        }
    }
}

TEST(Tails, IntervalsOfTwentyNumbersByHand) {
    // 1 ... 20, the upper ones farther apart: q = 19 of 20, one interval; q = 18 of 20 leaves two.
    std::vector<double> values(20);
    std::iota(values.begin(), values.end(), 1);
    values[19] = 30;
    std::vector<double> scratch;
    const Interval wide = shortest_interval(tails_of(values, tail_size(20, 0.95), scratch));
    EXPECT_EQ(wide.low, 1);
    EXPECT_EQ(wide.high, 30);
    const Interval narrow = shortest_interval(tails_of(values, tail_size(20, 0.9), scratch));
    EXPECT_EQ(narrow.low, 1);
    EXPECT_EQ(narrow.high, 19);
    const Interval even = symmetric_interval(tails_of(values, tail_size(20, 0.8), scratch));
    EXPECT_EQ(even.low, 2);
    EXPECT_EQ(even.high, 18);
}

// Skewed: the shortest interval of the exponential distribution lies at its beginning; of x = 1 - exp(-...) mirrored.
TEST(Tails, ShortestIntervalsAtEitherEnd) {
    RandomStream random(12);
    std::vector<double> falling, rising, scratch;
    for (int i = 0; i < 200'000; ++i) {
        falling.push_back(-std::log(unit_interval(random())));
        rising.push_back(-falling.back());
    }
    const Interval low = shortest_interval(tails_of(falling, tail_size(falling.size(), 0.95), scratch));
    EXPECT_NEAR(low.low, 0, 1e-3);
    EXPECT_NEAR(low.high, 2.995732, 0.05);
    const Interval high = shortest_interval(tails_of(rising, tail_size(rising.size(), 0.95), scratch));
    EXPECT_NEAR(high.high, 0, 1e-3);
    EXPECT_NEAR(high.low, -2.995732, 0.05);
}

} // namespace
} // namespace stillmark::metrology
