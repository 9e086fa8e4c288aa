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
        return english(one.what).find(what) != std::string::npos && why_words(one).find(why) != std::string::npos;
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

// Half a metre of oil against 10 bar, and 2 bar of 2 to 1000: nobody can tell them apart by their size.
TEST(Sorting, AHeadOfLiquidIsTheZeroWhereItsReadingsAreMarkedAsVented) {
    std::vector<Observation> rows{row(1, true, 0.044, 0),      row(1, true, 5, 0),  row(1, true, 10, 0),
                                  row(2, false, 0.044, 0.003), row(2, false, 5, 0), row(2, false, 10, 0)};
    const auto unmarked = evaluate(rows, {});
    EXPECT_FALSE(unmarked.points[0].zero);
    EXPECT_FALSE(unmarked.zero_deviation.has_value());
    EXPECT_TRUE(says(unmarked, "the zero deviation", "0.044 is not zero"));
    rows[0].vented = rows[3].vented = true;
    EvaluationSettings settings;
    settings.zeros_are_marked = true;
    const auto marked = evaluate(rows, settings);
    EXPECT_TRUE(marked.points[0].zero);
    EXPECT_NEAR(*marked.zero_deviation, 0.003, 1e-12);
}

TEST(Sorting, ALowPointIsNoZero) {
    const std::vector<Observation> rows{row(1, true, 2, 0.1),  row(1, true, 500, 0),  row(1, true, 1000, 0),
                                        row(2, false, 2, 0.2), row(2, false, 500, 0), row(2, false, 1000, 0)};
    const auto result = evaluate(rows, {});
    EXPECT_FALSE(result.points[0].zero);
    EXPECT_TRUE(says(result, "the zero deviation", "no zero was read: 2 is not zero"));
}

TEST(Sorting, AReferenceThatIsZeroWithinItsUncertaintyOrTheResolutionIsTheZeroAndIsTold) {
    const std::vector<Observation> rows{row(1, true, 0.004, 0),      row(1, true, 5, 0),  row(1, true, 10, 0),
                                        row(2, false, 0.004, 0.003), row(2, false, 5, 0), row(2, false, 10, 0)};
    EXPECT_FALSE(evaluate(rows, {}).points[0].zero);
    EvaluationSettings settings;
    settings.resolution = 0.01;
    for (const bool by_resolution : {true, false}) {
        if (!by_resolution) {
            settings.resolution.reset();
            settings.u_reference = [](double) { return 0.005; };
        }
        const auto result = evaluate(rows, settings);
        EXPECT_TRUE(result.points[0].zero);
        EXPECT_NEAR(*result.zero_deviation, 0.003, 1e-12);
        EXPECT_TRUE(says(result, "the vented line", "0.004 is zero within"));
    }
    settings.zeros_are_marked = true; // and nobody marked one
    EXPECT_FALSE(evaluate(rows, settings).points[0].zero);
}

TEST(Sorting, OfTwoLowPointsOfOneSeriesOnlyTheLowerIsTheZero) {
    const std::vector<Observation> rows{row(1, true, 0, 0), row(1, true, 0.5, 0), row(1, true, 100, 0),
                                        row(2, false, 0.5, 0), row(2, false, 100, 0)};
    EvaluationSettings settings;
    settings.resolution = 2; // a coarse dial
    const auto result = evaluate(rows, settings);
    ASSERT_EQ(result.points.size(), 3U);
    EXPECT_TRUE(result.points[0].zero);
    EXPECT_FALSE(result.points[1].zero);
}

// One row a series: nothing within a series says what a step is, and the rows are five pressures all the same.
TEST(Sorting, ATableOfOneRowASeriesIsNoSinglePoint) {
    std::vector<Observation> rows;
    for (int i = 0; i < 5; ++i)
        rows.push_back(row(i + 1, true, 2.5 * i, 0.01 * i));
    const auto result = evaluate(rows, {});
    ASSERT_EQ(result.points.size(), 5U);
    for (std::size_t i = 0; i < 5; ++i) {
        EXPECT_EQ(result.points[i].reference, 2.5 * static_cast<double>(i));
        EXPECT_NEAR(result.points[i].mean->deviation, 0.01 * static_cast<double>(i), 1e-12);
    }
}

TEST(Sorting, LowPointsBesideAHighOneStayApart) {
    std::vector<Observation> rows;
    for (const int series : {1, 2})
        for (const double reference : {1.0, 3.0, 10.0, 100.0, 1000.0, 10000.0})
            rows.push_back(row(series, series == 1, reference, 0));
    const auto result = evaluate(rows, {});
    ASSERT_EQ(result.points.size(), 6U);
    EXPECT_EQ(result.points[0].reference, 1);
    EXPECT_EQ(result.points[1].reference, 3);
}

TEST(Sorting, DifferentRowsOfOneSeriesAreNeverOnePoint) {
    const std::vector<Observation> rows{row(1, true, 50, 0),     row(1, true, 50.5, 0),   row(1, true, 100, 0),
                                        row(2, false, 50.02, 0), row(2, false, 50.52, 0), row(2, false, 100.02, 0)};
    const auto result = evaluate(rows, {});
    ASSERT_EQ(result.points.size(), 3U);
    EXPECT_NEAR(result.points[0].reference, 50.01, 1e-9);
    EXPECT_NEAR(result.points[1].reference, 50.51, 1e-9);
    for (const auto& point : result.points)
        EXPECT_TRUE(point.hysteresis.has_value()) << point.reference;
}

TEST(Sorting, AReadingBetweenTwoPointsOfAnotherSeriesBelongsToNeither) {
    const std::vector<Observation> rows{row(1, true, 100, 0), row(1, true, 101, 0), row(2, false, 100.6, 0)};
    EXPECT_EQ(evaluate(rows, {}).points.size(), 3U);
}

TEST(Sorting, WhatIsJoinedFromSeriesToSeriesIsTold) {
    const std::vector<Observation> rows{row(1, true, 0, 0),  row(1, true, 50, 0),    row(1, true, 100, 0),
                                        row(2, false, 0, 0), row(2, false, 50.6, 0), row(2, false, 100, 0)};
    const auto result = evaluate(rows, {});
    ASSERT_EQ(result.points.size(), 3U);
    EXPECT_TRUE(says(result, "one exact pressure at 50.3", "2 %"));
    const std::vector<Observation> same{row(1, true, 50, 0), row(2, false, 50.001, 0)};
    EXPECT_FALSE(says(evaluate(same, {}), "one exact pressure", ""));
}

TEST(Sorting, PointsThatMayBeOneAndAreNotJoinedAreTold) {
    const std::vector<Observation> rows{row(1, true, 0, 0),  row(1, true, 1, 0),    row(1, true, 5, 0),
                                        row(2, false, 0, 0), row(2, false, 1.1, 0), row(2, false, 5, 0)};
    const auto result = evaluate(rows, {});
    EXPECT_EQ(result.points.size(), 4U);
    EXPECT_TRUE(says(result, "whether it is one point at 1 and 1.1", "targets"));
    auto named = rows;
    named[1].target = named[4].target = "1 bar";
    EXPECT_EQ(evaluate(named, {}).points.size(), 3U);
}

TEST(Sorting, ATargetOnAPressureThatIsNotItsOwnIsTold) {
    std::vector<Observation> rows{row(1, true, 10, 0), row(1, true, 50, 0), row(2, false, 50, 0)};
    for (auto& one : rows)
        one.target = one.reference == 10 ? "10 bar" : "50 bar";
    EXPECT_FALSE(says(evaluate(rows, {}), "the point", "wrong target"));
    rows[2].target = "10 bar";
    EXPECT_TRUE(says(evaluate(rows, {}), "the point 10 bar", "between 10 and 50"));
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
    EXPECT_EQ(result.points.size(), 4U);
    EXPECT_TRUE(says(result, "the reading at", "not a number"));
}

} // namespace
} // namespace stillmark::metrology
