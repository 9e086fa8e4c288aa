#include "daemon/metrology/evaluation/evaluation.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <limits>
#include <string>
#include <vector>

// How rows become points and passes, and what is said of those that do not fit.
namespace stillmark::metrology {
namespace {

Observation row(int series, bool rising, double reference, double deviation) {
    Observation one;
    one.series = series;
    one.rising = rising;
    one.reference = reference;
    one.reading = reference + deviation;
    return one;
}

bool says(const Evaluation& evaluation, const std::string& what, const std::string& why) {
    return std::any_of(evaluation.unsaid.begin(), evaluation.unsaid.end(), [&](const Unsaid& one) {
        return one.what.find(what) != std::string::npos && one.why.find(why) != std::string::npos;
    });
}

TEST(Sorting, APassThatLacksPointsIsNamedWithThem) {
    const std::vector<Observation> rows{row(1, true, 0, 0), row(1, true, 50, 0), row(1, true, 100, 0),
                                        row(2, false, 0, 0.1), row(2, false, 100, 0.1)};
    const auto result = evaluate(rows, {});
    EXPECT_TRUE(says(result, "series 2, falling", "no reading counts at 50"));
    EXPECT_FALSE(says(result, "series 1", "no reading counts"));
    EXPECT_EQ(result.points.size(), 3U);
    EXPECT_FALSE(result.points[1].hysteresis.has_value());
    EXPECT_NEAR(*result.points[2].hysteresis, 0.1, 1e-12);
}

// EURAMET cg-17 v4.1, 5.2.1: the series that show repeatability have few points by intention.
TEST(Sorting, RepeatedSeriesMayHaveFewPoints) {
    const std::vector<Observation> rows{row(1, true, 0, 0), row(1, true, 40, 0), row(2, false, 40, 0),
                                        row(2, false, 0, 0), row(3, true, 40, 0.1)};
    EvaluationSettings settings;
    settings.method = method_named("EURAMET cg-17 basic");
    EXPECT_FALSE(says(evaluate(rows, settings), "series 3", "no reading counts"));
    settings.method = nullptr;
    EXPECT_TRUE(says(evaluate(rows, settings), "series 3", "no reading counts at 0"));
}

TEST(Sorting, APointReadTwiceInOnePassIsNoStepBetweenPoints) {
    const std::vector<Observation> rows{row(1, true, 50, 0), row(1, true, 50.0004, 0.02), row(1, true, 100, 0),
                                        row(2, false, 100.002, 0), row(2, false, 50.003, 0)};
    const auto result = evaluate(rows, {});
    ASSERT_EQ(result.points.size(), 2U);
    EXPECT_TRUE(says(result, "single readings at 50", "2 times"));
    EXPECT_NEAR(*result.points[0].hysteresis, 0.01, 1e-9);
}

TEST(Sorting, EqualReferencesGiveThemselvesToTheLastDigit) {
    for (const double reference : {6.25, 0.1, 1.0 / 3, 1e7 / 3})
        for (int n = 1; n <= 40; ++n) {
            const std::vector<Observation> rows(static_cast<std::size_t>(n), row(1, true, reference, 0));
            EXPECT_EQ(evaluate(rows, {}).points.front().reference, reference) << n;
        }
}

// EN 837-1 (from memory): with a pointer stop the scale is valid from 10 % of the span on, that point included. A tenth
// of 3 is 0.30000000000000004 in the computer.
TEST(Sorting, ThePointWhereTheScaleBeginsToBeValidIsJudged) {
    EvaluationSettings settings;
    settings.u_reference = [](double) { return 1e-3; };
    settings.span_low = 0;
    settings.span_high = 3;
    settings.permissible = PermissibleError{{{PermissibleTerm::Kind::absolute, 0.3, 0}}, false, {}};
    settings.decision = DecisionRule{};
    settings.dial = Dial{0.1, 5, true};
    const std::vector<Observation> rows{row(1, true, 0.2, 0), row(1, true, 0.3, 0), row(1, true, 3, 0)};
    const auto result = evaluate(rows, settings);
    ASSERT_EQ(result.points.size(), 3U);
    EXPECT_FALSE(result.points[0].verdict.has_value());
    EXPECT_TRUE(result.points[1].verdict.has_value());
}

TEST(Sorting, AHeadOfLiquidAloneIsTheZero) {
    const std::vector<Observation> rows{row(1, true, 0.044, 0),      row(1, true, 5, 0),  row(1, true, 10, 0),
                                        row(2, false, 0.044, 0.003), row(2, false, 5, 0), row(2, false, 10, 0)};
    const auto result = evaluate(rows, {});
    EXPECT_TRUE(result.points[0].zero);
    EXPECT_NEAR(*result.zero_deviation, 0.003, 1e-12);
}

TEST(Sorting, TheLowestPointOfAGaugeWithoutZeroIsNone) {
    const std::vector<Observation> rows{row(1, true, 1, 0), row(1, true, 10, 0), row(2, false, 10, 0),
                                        row(2, false, 1, 0)};
    const auto result = evaluate(rows, {});
    EXPECT_FALSE(result.points[0].zero);
    EXPECT_TRUE(says(result, "the zero deviation", "no zero was read"));
}

TEST(Sorting, TheZeroOfACompoundRangeLiesInside) {
    const std::vector<Observation> rows{row(1, true, -1, 0), row(1, true, 0, 0),     row(1, true, 5, 0),
                                        row(2, false, 5, 0), row(2, false, 0, 0.01), row(2, false, -1, 0)};
    const auto result = evaluate(rows, {});
    EXPECT_FALSE(result.points[0].zero);
    EXPECT_TRUE(result.points[1].zero);
    EXPECT_NEAR(*result.zero_deviation, 0.01, 1e-12);
}

// EN 837-1 (from memory): a pointer on its stop shows no zero, so none is taken off either.
TEST(Sorting, AReadingOnTheStopTakesPartInNothing) {
    std::vector<Observation> rows;
    for (const int series : {1, 2, 3})
        for (const double reference : {0.0, 5.0, 10.0})
            rows.push_back(row(series, series != 2, reference, reference == 0 ? 0.9 * series : 0.01 * series));
    EvaluationSettings settings;
    settings.method = method_named("DKD-R 6-1 B");
    settings.dial = Dial{1, 5, true};
    const auto result = evaluate(rows, settings);
    ASSERT_EQ(result.points.size(), 2U);
    EXPECT_NEAR(*result.points[0].repeatability, 0.02, 1e-12);
    EXPECT_NEAR(*result.most_positive, 0.03, 1e-12);
    EXPECT_TRUE(says(result, "the zero point", "stop"));
}

// IEC 61298-2 (from memory): the spread of readings in one direction, as they were read.
TEST(Sorting, AFreeSequenceTakesNoZeroOffItsRepeatedReadings) {
    std::vector<Observation> rows;
    for (const int series : {1, 3})
        for (const double reference : {0.0, 5.0, 10.0})
            rows.push_back(row(series, true, reference, 0.02 * series));
    EXPECT_NEAR(*evaluate(rows, {}).points[1].repeatability, 0.04, 1e-12);
}

// ISA-51.1: measured accuracy is the largest positive and negative deviation of any single reading.
TEST(Sorting, MeasuredAccuracyIsThatOfSingleReadings) {
    const std::vector<Observation> rows{row(1, true, 0, 0),     row(1, true, 10, -0.3), row(2, false, 10, 0.2),
                                        row(2, false, 0, 0.05), row(3, true, 0, 0),     row(3, true, 10, 0.1)};
    const auto result = evaluate(rows, {});
    EXPECT_NEAR(*result.most_negative, -0.3, 1e-12);
    EXPECT_NEAR(*result.most_positive, 0.2, 1e-12);
    // Mean rising -0.1, falling 0.2: 0.05 at the top; at zero 0 and 0.05: 0.025.
    EXPECT_NEAR(*result.span_error, 0.025, 1e-12);
}

TEST(Sorting, NoNumberOfAnyKindBreaksIt) {
    constexpr double infinity = std::numeric_limits<double>::infinity();
    std::vector<Observation> rows{row(1, true, 0, 0), row(1, true, 10, 0), row(1, true, infinity, 0)};
    rows.push_back(row(1, true, 5, 0));
    rows.back().reading = -infinity;
    rows.push_back(row(2, false, 1e300, 0));
    rows.push_back(row(2, false, -1e300, 0));
    const auto result = evaluate(rows, {});
    EXPECT_EQ(result.points.size(), 3U); // beside 1e300, 0 and 10 are one point
    EXPECT_TRUE(says(result, "the reading at", "not a number"));
}

} // namespace
} // namespace stillmark::metrology
