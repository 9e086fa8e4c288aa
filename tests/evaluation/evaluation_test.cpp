#include "daemon/metrology/evaluation/evaluation.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <utility>
#include <vector>

namespace stillmark::metrology {
namespace {

/// One series over the given references; readings are reference + deviation.
void add_series(std::vector<Observation>& to, int series, bool rising, const std::vector<double>& references,
                const std::vector<double>& deviations) {
    for (std::size_t i = 0; i < references.size(); ++i) {
        Observation one;
        one.series = series;
        one.rising = rising;
        one.reference = references[i];
        one.reading = references[i] + deviations[i];
        to.push_back(one);
    }
}

const std::vector<double> points{0, 50, 100};

/// Six series with round deviations, in the places of M1 to M6.
std::vector<Observation> six_series() {
    std::vector<Observation> all;
    add_series(all, 1, true, points, {0.00, 0.10, 0.20});
    add_series(all, 2, false, points, {0.02, 0.16, 0.20});
    add_series(all, 3, true, points, {0.01, 0.14, 0.23});
    add_series(all, 4, false, points, {0.05, 0.19, 0.23});
    add_series(all, 5, true, points, {0.00, 0.18, 0.25});
    add_series(all, 6, false, points, {0.01, 0.20, 0.25});
    return all;
}

EvaluationSettings with_reference(double u) {
    EvaluationSettings settings;
    settings.u_reference = [u](double) { return u; };
    return settings;
}

bool says(const Evaluation& evaluation, const std::string& what, const std::string& why) {
    return std::any_of(evaluation.unsaid.begin(), evaluation.unsaid.end(), [&](const Unsaid& one) {
        return english(one.what).find(what) != std::string::npos && why_words(one).find(why) != std::string::npos;
    });
}

// DKD-R 6-1, 8 (from memory), sequence A on constructed readings.
TEST(Evaluation, SequenceAByHand) {
    EvaluationSettings settings = with_reference(0.01);
    settings.method = method_named("DKD-R 6-1 A");
    const auto result = evaluate(six_series(), settings);
    ASSERT_EQ(result.points.size(), 3U);
    // f0 = max |x2,0 - x1,0|, |x4,0 - x3,0|, |x6,0 - x5,0| = max 0.02, 0.04, 0.01.
    EXPECT_NEAR(*result.zero_deviation, 0.04, 1e-12);
    const auto& middle = result.points[1];
    // b' up: (0.14 - 0.01) - (0.10 - 0.00) = 0.03; down: (0.19 - 0.05) - (0.16 - 0.02) = 0.
    EXPECT_NEAR(*middle.repeatability, 0.03, 1e-12);
    // b up: (0.18 - 0.00) - 0.10 = 0.08; down: (0.20 - 0.01) - (0.16 - 0.02) = 0.05.
    EXPECT_NEAR(*middle.reproducibility, 0.08, 1e-12);
    // h = half of |0.16 - 0.10| + |0.19 - 0.14|; the cycle after clamping anew takes no part.
    EXPECT_NEAR(*middle.hysteresis, 0.055, 1e-12);
    EXPECT_NEAR(middle.up->deviation, 0.12, 1e-12);
    EXPECT_NEAR(middle.down->deviation, 0.175, 1e-12);
    EXPECT_NEAR(middle.mean->deviation, 0.1475, 1e-12);
    EXPECT_TRUE(says(result, "DKD-R 6-1 A", english(method_not_confirmed())));
}

// DKD-R 6-1 B: M1, M2, M3; repeatability rising only, zero deviation from the first pair.
TEST(Evaluation, SequenceBByHand) {
    auto all = six_series();
    all.resize(9);
    EvaluationSettings settings = with_reference(0.01);
    settings.method = method_named("DKD-R 6-1 B");
    const auto result = evaluate(all, settings);
    EXPECT_NEAR(*result.zero_deviation, 0.02, 1e-12);
    EXPECT_NEAR(*result.points[1].repeatability, 0.03, 1e-12);
    EXPECT_NEAR(*result.points[1].hysteresis, 0.06, 1e-12);
    EXPECT_FALSE(result.points[1].reproducibility.has_value());
}

TEST(Evaluation, TheLargestDeviationKeepsItsSign) {
    std::vector<Observation> rows;
    add_series(rows, 1, true, points, {0.1, -0.5, 0.2});
    add_series(rows, 2, false, points, {0.1, -0.3, 0.4});
    EXPECT_DOUBLE_EQ(evaluate(rows, with_reference(0.01)).largest_deviation.value(), -0.5);
    add_series(rows, 3, true, points, {0.1, -0.5, 0.2});
    rows[0].reading += 0.7;
    rows[6].reading += 0.7;
    EXPECT_DOUBLE_EQ(evaluate(rows, with_reference(0.01)).largest_deviation.value(), 0.8);
}

// Constructed exercise of the divisors: r 0.01, f0 0.02, b' 0.03, h 0.06, u_ref 0.01 give u_c 0.02273030 and U
// 0.04546061.
TEST(Evaluation, DivisorsOfTheGuides) {
    std::vector<Observation> all;
    add_series(all, 1, true, points, {0.00, 0.00, 0.10});
    add_series(all, 2, false, points, {0.02, 0.06, 0.16});
    add_series(all, 3, true, points, {0.00, 0.03, 0.13});
    EvaluationSettings settings = with_reference(0.01);
    settings.method = method_named("DKD-R 6-1 B");
    settings.resolution = 0.01;
    const auto result = evaluate(all, settings);
    const auto& middle = result.points[1];
    ASSERT_TRUE(middle.mean->u.has_value());
    const auto u_of = [&](const std::string& name) {
        for (const Part& part : middle.mean->contains)
            if (part.name == name) return part.u;
        return std::numeric_limits<double>::quiet_NaN();
    };
    EXPECT_NEAR(u_of("resolution"), 0.00288675, 5e-9);
    EXPECT_NEAR(u_of("zero deviation"), 0.00577350, 5e-9);
    EXPECT_NEAR(u_of("repeatability"), 0.00866025, 5e-9);
    EXPECT_NEAR(u_of("hysteresis"), 0.01732051, 5e-9);
    EXPECT_NEAR(*middle.mean->u, 0.02273030, 5e-9);
    EXPECT_NEAR(*middle.mean->expanded, 0.04546061, 1e-8);
    // Reported separately, a series leaves the hysteresis out.
    EXPECT_NEAR(*middle.up->u, std::sqrt(0.02273030 * 0.02273030 - 0.01732051 * 0.01732051), 1e-8);
    EXPECT_NEAR(*middle.error_span, *middle.mean->expanded + std::abs(middle.mean->deviation), 1e-12);
}

// EURAMET cg-17 v4.1, 5.2.1: what a few points show of repeatability is applied to all; U is not below 0.2 % of span.
TEST(Evaluation, Cg17BasicAppliesItsRepeatabilityToAllPoints) {
    std::vector<Observation> all;
    add_series(all, 1, true, {0, 40, 100}, {0, 0.01, 0.02});
    add_series(all, 2, false, {0, 40, 100}, {0, 0.01, 0.02});
    add_series(all, 3, true, {0, 40}, {0, 0.03});
    add_series(all, 4, true, {0, 40}, {0, 0.04});
    EvaluationSettings settings = with_reference(0.001);
    settings.method = method_named("EURAMET cg-17 basic");
    settings.span_low = 0;
    settings.span_high = 100;
    const auto result = evaluate(all, settings);
    for (const auto& point : result.points) {
        EXPECT_NEAR(*point.repeatability, 0.03, 1e-12);
        EXPECT_NEAR(*point.mean->expanded, 0.2, 1e-12);
        EXPECT_TRUE(point.mean->at_capability);
    }
}

TEST(Evaluation, TheStatedCapabilityIsTheLeastUncertainty) {
    EvaluationSettings settings = with_reference(0.001);
    settings.capability = [](double p) { return p < 60 ? 0 : 5.0; };
    const auto result = evaluate(six_series(), settings);
    EXPECT_FALSE(result.points[1].mean->at_capability);
    EXPECT_TRUE(result.points[2].mean->at_capability);
    EXPECT_EQ(*result.points[2].mean->expanded, 5.0);
}

TEST(Evaluation, AVerdictCountsOnNoLessThanTheCapability) {
    EvaluationSettings settings = with_reference(0.001);
    settings.permissible = PermissibleError{{{PermissibleTerm::Kind::absolute, 0.4, 0}}, false, {}};
    settings.capability = [](double) { return 0.4; };
    settings.decision = DecisionRule{Rule::specific_risk};
    const auto result = evaluate(six_series(), settings);
    // Deviation 0.12 rising, u 0.2: 8.6 % lie beyond the limits.
    EXPECT_GT(*result.points[1].outside, 0.08);
    EXPECT_EQ(result.verdict, Verdict::fail);
    EXPECT_NEAR(*result.points[1].capability_index, 1, 1e-12);
}

TEST(Evaluation, FewDegreesOfFreedomWidenTheInterval) {
    auto all = six_series();
    for (auto& one : all) {
        one.u_reference = 1;
        one.dof_reference = 5;
    }
    // JCGM 100:2008, table G.2: t for 95.45 % and five degrees of freedom is 2.65.
    EXPECT_NEAR(evaluate(all, {}).points[1].mean->k, 2.65, 0.005);
    EXPECT_NEAR(evaluate(six_series(), with_reference(1)).points[1].mean->k, 2, 1e-9);
}

TEST(Evaluation, VoidAndBadRowsAreNamedAndTheRestIsEvaluated) {
    auto all = six_series();
    all[1].left_out = "void: the cable was touched";
    all[4].reading = std::nan("");
    const auto result = evaluate(all, with_reference(0.01));
    EXPECT_EQ(result.points.size(), 3U);
    EXPECT_TRUE(says(result, "50, rising, series 1", "the cable was touched"));
    EXPECT_TRUE(says(result, "series 2", "not a number"));
    EXPECT_EQ(result.points[1].up->readings, 2);
    EXPECT_EQ(result.points[1].down->readings, 2);
}

TEST(Evaluation, OneSeriesAloneSaysWhatItCannot) {
    std::vector<Observation> all;
    add_series(all, 1, true, points, {0, 0.1, 0.2});
    const auto result = evaluate(all, with_reference(0.01));
    EXPECT_FALSE(result.points[1].hysteresis.has_value());
    EXPECT_FALSE(result.zero_deviation.has_value());
    EXPECT_TRUE(says(result, "hysteresis", "both rising and falling"));
    EXPECT_TRUE(says(result, "repeatability", "once"));
    EXPECT_TRUE(says(result, "zero deviation", ""));
    EXPECT_TRUE(says(result, "resolution", "no resolution"));
    EXPECT_TRUE(says(result, "a verdict", "no permissible error"));
    EXPECT_TRUE(result.line.has_value());
}

TEST(Evaluation, NothingAtAllIsNoResult) {
    EXPECT_TRUE(evaluate({}, {}).points.empty());
    EXPECT_TRUE(says(evaluate({}, {}), "anything", "no reading counts"));
}

TEST(Evaluation, WithoutAReferenceUncertaintyThereIsNoU) {
    const auto result = evaluate(six_series(), {});
    EXPECT_FALSE(result.points[0].mean->expanded.has_value());
    EXPECT_TRUE(says(result, "the uncertainty at 0, 50, 100", "no uncertainty of the reference"));
}

TEST(Evaluation, ReferencesThatDifferALittleAreOnePoint) {
    auto all = six_series();
    for (auto& one : all) {
        const double shift = one.reference * 0.002 * one.series;
        one.reference += shift;
        one.reading += shift;
    }
    const auto result = evaluate(all, with_reference(0.01));
    ASSERT_EQ(result.points.size(), 3U);
    EXPECT_NEAR(result.points[1].reference, 50 + 0.1 * 3.5, 1e-9);
    EXPECT_NEAR(result.points[1].mean->deviation, (0.10 + 0.14 + 0.18 + 0.16 + 0.19 + 0.20) / 6, 1e-9);
}

TEST(Evaluation, TwoDirectionsUnderOneSeriesNumberAreACycle) {
    std::vector<Observation> all;
    add_series(all, 1, true, points, {0, 0.1, 0.2});
    add_series(all, 1, false, points, {0.03, 0.3, 0.2});
    const auto result = evaluate(all, with_reference(0.01));
    EXPECT_NEAR(*result.points[1].hysteresis, 0.2, 1e-12);
    EXPECT_NEAR(*result.zero_deviation, 0.03, 1e-12);
}

EvaluationSettings judged(double permissible, Rule rule) {
    EvaluationSettings settings = with_reference(0.01);
    settings.permissible = PermissibleError{{{PermissibleTerm::Kind::absolute, permissible, 0}}, false, {}};
    settings.decision = DecisionRule{rule};
    return settings;
}

TEST(Evaluation, LimitsHoldForBothDirections) {
    std::vector<Observation> all;
    add_series(all, 1, true, points, {-0.5, -0.5, -0.5});
    add_series(all, 2, false, points, {0.5, 0.5, 0.5});
    const auto result = evaluate(all, judged(0.4, Rule::simple_acceptance));
    EXPECT_NEAR(result.points[1].mean->deviation, 0, 1e-12);
    EXPECT_EQ(result.points[1].verdict, Verdict::fail);
    EXPECT_EQ(result.verdict, Verdict::fail);
}

TEST(Evaluation, TheWorseDirectionDecidesWhicheverItIs) {
    for (const double rising : {0.0, 0.5}) {
        std::vector<Observation> all;
        add_series(all, 1, true, points, {rising, rising, rising});
        add_series(all, 2, false, points, {0.5 - rising, 0.5 - rising, 0.5 - rising});
        const auto result = evaluate(all, judged(0.4, Rule::simple_acceptance));
        EXPECT_EQ(result.points[1].verdict, Verdict::fail) << rising;
        EXPECT_GT(*result.points[1].outside, 0.5) << rising;
    }
}

TEST(Evaluation, APermissibleErrorBelowTheUncertaintyIsTold) {
    auto settings = judged(0.05, Rule::guard_band);
    settings.u_reference = [](double) { return 0.04; };
    const auto result = evaluate(six_series(), settings);
    EXPECT_TRUE(says(result, "conformity at", "no result could pass"));
    EXPECT_EQ(result.verdict, Verdict::fail); // 0.25 is beyond 0.05 by more than U
    settings.decision = DecisionRule{};
    EXPECT_TRUE(
        says(evaluate(six_series(), settings), "conformity with confidence at", "smaller than the uncertainty"));
}

TEST(Evaluation, WithoutADecisionRuleThereIsAProbabilityButNoVerdict) {
    auto settings = judged(1, Rule::simple_acceptance);
    settings.decision.reset();
    const auto result = evaluate(six_series(), settings);
    EXPECT_FALSE(result.verdict.has_value());
    EXPECT_NEAR(*result.points[1].outside, 0, 1e-6);
    EXPECT_TRUE(says(result, "a verdict", "decision rule"));
}

TEST(Evaluation, AMissingUncertaintyLeavesTheVerdictOpenUnlessSomethingFails) {
    auto settings = judged(1, Rule::guard_band);
    settings.u_reference = [](double p) { return p > 60 ? std::nan("") : 0.01; };
    EXPECT_FALSE(evaluate(six_series(), settings).verdict.has_value());
    settings.permissible->terms[0].value = 0.1;
    EXPECT_EQ(evaluate(six_series(), settings).verdict, Verdict::fail);
}

TEST(Evaluation, ADialHasTappingShiftAndItsStop) {
    auto all = six_series();
    for (auto& one : all)
        one.untapped = one.reading - 0.02 * one.series;
    EvaluationSettings settings = with_reference(0.01);
    settings.span_low = 0;
    settings.span_high = 100;
    settings.permissible = of_class(0.6);
    settings.decision = DecisionRule{};
    settings.method = method_named("EN 837-1");
    settings.dial = Dial{1, 5, true};
    const auto result = evaluate(all, settings);
    EXPECT_NEAR(*result.largest_tapping_shift, 0.12, 1e-12);
    EXPECT_FALSE(result.zero_deviation.has_value());
    EXPECT_TRUE(says(result, "zero deviation", "stop"));
    EXPECT_TRUE(says(result, "the zero point", "stop"));
    ASSERT_EQ(result.points.size(), 2U);
    ASSERT_FALSE(result.findings.empty());
    EXPECT_FALSE(result.findings.front().met); // two points where EN 837-1 asks for ten
    EXPECT_FALSE(result.verdict.has_value());
    // The division estimated to fifths is the resolution: 0.2.
    EXPECT_TRUE(
        std::any_of(result.points[1].mean->contains.begin(), result.points[1].mean->contains.end(),
                    [](const Part& part) { return part.name == "resolution" && std::abs(part.value - 0.2) < 1e-12; }));
}

// German Verification Ordinance, annex 16, 3.4: the hysteresis is at most the verification limit.
TEST(Evaluation, HysteresisBeyondTheClassFails) {
    std::vector<Observation> all;
    add_series(all, 1, true, points, {-0.5, -0.5, -0.5});
    add_series(all, 2, false, points, {0.2, 0.2, 0.2});
    EvaluationSettings settings = with_reference(0.01);
    settings.span_low = 0;
    settings.span_high = 100;
    settings.permissible = of_class(0.6);
    settings.decision = DecisionRule{};
    const auto result = evaluate(all, settings);
    EXPECT_EQ(result.points[1].verdict, Verdict::pass);
    EXPECT_EQ(result.verdict, Verdict::fail);
}

TEST(Evaluation, TheUncertaintyLineLiesNowhereBelowAndTouches) {
    const std::vector<double> p{0, 25, 50, 75, 100}, u{1, 1.6, 1.5, 2.4, 2.2};
    const auto line = line_above(p, u);
    ASSERT_TRUE(line.has_value());
    int touching = 0;
    for (std::size_t i = 0; i < p.size(); ++i) {
        const double over = line->a + line->b * p[i] - u[i];
        EXPECT_GE(over, -1e-12);
        touching += over < 1e-12 ? 1 : 0;
    }
    EXPECT_EQ(touching, 2);
    EXPECT_FALSE(line_above({}, {}).has_value());
    EXPECT_EQ(line_above(std::vector<double>{3}, std::vector<double>{7})->a, 7);
}

// Of all lines through two of the points that lie nowhere below the others, it has the least sum.
TEST(Evaluation, TheUncertaintyLineHasTheLeastSum) {
    const std::vector<double> p{0, 10, 20, 60, 80, 100};
    for (const auto& u : {std::vector<double>{1, 3, 3.2, 3.3, 3.1, 2},
                          {1, 1.1, 1.2, 2, 4, 5},
                          {5, 4, 3, 2.5, 2, 1.9},
                          {1, 5, 1, 1, 1, 4}}) {
        const auto sum_of = [&](double a, double b) {
            double sum = 0;
            for (const double one : p)
                sum += a + b * one;
            return sum;
        };
        double least = std::numeric_limits<double>::infinity();
        for (std::size_t i = 0; i < p.size(); ++i)
            for (std::size_t j = i + 1; j < p.size(); ++j) {
                const double b = (u[j] - u[i]) / (p[j] - p[i]), a = u[i] - b * p[i];
                bool above = true;
                for (std::size_t k = 0; k < p.size(); ++k)
                    above = above && a + b * p[k] >= u[k] - 1e-12;
                if (above) least = std::min(least, sum_of(a, b));
            }
        const auto line = line_above(p, u);
        ASSERT_TRUE(line.has_value());
        EXPECT_NEAR(sum_of(line->a, line->b), least, 1e-9);
    }
}

/// Rows with the uncertainty of their mean.
std::vector<Observation> with_scatter(std::vector<Observation> rows, double u) {
    for (auto& one : rows)
        one.u_mean = u;
    return rows;
}

// EURAMET cg-17 v4.1, 5.2.1: one cycle; the repeats show repeatability and are no part of the mean. Noise 0.01 of a
// reading is 0.01 in a direction and 0.01/sqrt 2 = 0.00707 in the mean of the two.
TEST(Evaluation, ScatterIsOfTheReadingsOfTheMeanAlone) {
    std::vector<Observation> all;
    add_series(all, 1, true, {0, 40, 100}, {0, 0, 0});
    add_series(all, 2, false, {0, 40, 100}, {0, 0, 0});
    add_series(all, 3, true, {0, 40}, {0, 0});
    add_series(all, 4, true, {0, 40}, {0, 0});
    EvaluationSettings settings = with_reference(1e-9);
    settings.method = method_named("EURAMET cg-17 basic");
    const auto result = evaluate(with_scatter(all, 0.01), settings);
    for (const auto& point : result.points) {
        EXPECT_NEAR(*point.up->u, 0.01, 1e-12) << point.reference;
        EXPECT_NEAR(*point.down->u, 0.01, 1e-12) << point.reference;
        EXPECT_NEAR(*point.mean->u, 0.00707, 5e-6) << point.reference;
    }
}

// Two rising and one falling series: 0.01/sqrt 2 rising, 0.01 falling, and half the root of their squares in the mean.
TEST(Evaluation, ScatterOfAMeanOfUnequalDirections) {
    std::vector<Observation> all;
    add_series(all, 1, true, points, {0, 0, 0});
    add_series(all, 2, false, points, {0, 0, 0});
    add_series(all, 3, true, points, {0, 0, 0});
    const auto result = evaluate(with_scatter(all, 0.01), with_reference(1e-9));
    const auto& middle = result.points[1];
    EXPECT_NEAR(*middle.up->u, 0.01 / std::sqrt(2), 1e-12);
    EXPECT_NEAR(*middle.down->u, 0.01, 1e-12);
    EXPECT_NEAR(*middle.mean->u, std::hypot(0.01 / std::sqrt(2), 0.01) / 2, 1e-12);
    // A point read twice in one pass has its own mean there.
    all.push_back(all[4]);
    EXPECT_NEAR(*evaluate(with_scatter(all, 0.01), with_reference(1e-9)).points[1].down->u, 0.01 / std::sqrt(2), 1e-12);
}

// JCGM 100:2008, table G.2, 95.45 %: 2.65 for five degrees of freedom, 2.28 for ten. Two equal shares of five have ten
// (G.4.1).
TEST(Evaluation, FewIndependentReadingsWidenTheInterval) {
    std::vector<Observation> all;
    add_series(all, 1, true, points, {0, 0, 0});
    add_series(all, 2, false, points, {0, 0, 0});
    all = with_scatter(all, 1);
    for (auto& one : all)
        one.dof_mean = 5;
    const auto& middle = evaluate(all, with_reference(1e-6)).points[1];
    EXPECT_NEAR(middle.up->k, 2.65, 0.005);
    EXPECT_NEAR(middle.down->k, 2.65, 0.005);
    EXPECT_NEAR(middle.mean->k, 2.28, 0.005);
    // Readings without scatter have none that could be few.
    for (auto& one : all)
        one.u_mean = one.dof_mean = 0;
    EXPECT_NEAR(evaluate(all, with_reference(1e-6)).points[1].mean->k, 2, 1e-12);
}

// A constant error of the reference moves the line up and down: u of the intercept by as much, times the slope.
TEST(Evaluation, TheReferenceOfTheSettingsIsInTheLine) {
    const auto u_of = [](double u) {
        const auto line = evaluate(six_series(), with_reference(u)).line;
        return std::pair{line->curve.u(0), line->curve.coefficients[1]};
    };
    const auto [fine, slope] = u_of(0.005);
    const auto [coarse, same_slope] = u_of(1);
    EXPECT_NEAR(coarse * coarse - fine * fine, slope * slope * (1 - 0.005 * 0.005), 1e-10);
    EXPECT_EQ(slope, same_slope);
    EXPECT_TRUE(says(evaluate(six_series(), {}), "the reference's part in the uncertainty of the fits",
                     "no uncertainty of the reference is given"));
}

TEST(Evaluation, WhatARowSaysOfItsReferenceComesBeforeTheSettings) {
    auto all = six_series();
    for (auto& one : all)
        one.u_reference = 1;
    EXPECT_NEAR(evaluate(all, with_reference(0.005)).line->curve.u(0),
                evaluate(all, with_reference(7)).line->curve.u(0), 1e-15);
    all[3].u_reference.reset();
    EXPECT_TRUE(says(evaluate(all, {}), "the reference's part", "1 of 18 readings"));
}

TEST(Evaluation, OneReadingWithoutUncertaintyTakesTheWeightsAwayAndIsTold) {
    auto all = with_scatter(six_series(), 0.05);
    const auto weighted = evaluate(all, with_reference(0.01));
    EXPECT_TRUE(weighted.line->weighted);
    EXPECT_EQ(weighted.weighting, "by the scatter and the resolution of each reading");
    all[4].u_mean = 0;
    const auto result = evaluate(all, with_reference(0.01));
    EXPECT_FALSE(result.line->weighted);
    EXPECT_TRUE(says(result, "the weights of the fits", "1 of 18 readings"));
    // A resolution is an uncertainty of that reading too.
    EvaluationSettings settings = with_reference(0.01);
    settings.resolution = 0.01;
    EXPECT_TRUE(evaluate(all, settings).line->weighted);
    const auto plain = evaluate(six_series(), with_reference(0.01));
    EXPECT_FALSE(plain.line->weighted);
    EXPECT_FALSE(says(plain, "the weights of the fits", ""));
    EXPECT_NE(plain.weighting.find("none carries"), std::string::npos);
}

// ISO/TS 28037:2010, 6.3.
TEST(Evaluation, ReadingsThatDoNotFitTheirUncertaintiesAreTold) {
    const auto sure = evaluate(with_scatter(six_series(), 1e-4), with_reference(0.01));
    EXPECT_GT(sure.line->enlarged, 1);
    EXPECT_TRUE(says(sure, "the uncertainty of the transfer line", "over 26.3, its 95 % quantile for 16 degrees"));
    const auto modest = evaluate(with_scatter(six_series(), 0.1), with_reference(0.01));
    EXPECT_EQ(modest.line->enlarged, 1);
    EXPECT_FALSE(says(modest, "the uncertainty of the transfer line", ""));
}

// A zero that was taken off was read with the same display: its rounding is in every reading alike.
TEST(Evaluation, AZeroThatWasTakenOffIsInTheInterceptOfTheLine) {
    EvaluationSettings settings = with_reference(0.01);
    settings.resolution = 0.5;
    const double before = evaluate(six_series(), settings).line->curve.u(0);
    settings.zeroed = true;
    EXPECT_NEAR(evaluate(six_series(), settings).line->curve.u(0), std::hypot(before, 0.5 / std::sqrt(12)), 1e-12);
}

TEST(Evaluation, RepeatedRowsAreAveragedAndTold) {
    auto all = six_series();
    all.push_back(all[1]);
    all.back().reading += 0.02;
    const auto result = evaluate(all, with_reference(0.01));
    EXPECT_TRUE(says(result, "single readings at 50", "2 times"));
}

TEST(Evaluation, PolynomialsFindWhatALineLeaves) {
    std::vector<Observation> all;
    std::vector<double> at, off;
    for (int i = 0; i <= 10; ++i) {
        at.push_back(i);
        off.push_back(0.001 * i * i);
    }
    add_series(all, 1, true, at, off);
    const auto result = evaluate(all, {});
    ASSERT_EQ(result.polynomials.size(), 2U);
    EXPECT_NEAR(result.polynomials[0].curve.coefficients[2], 0.001, 1e-12);
    EXPECT_LT(result.polynomials[0].curve.residual_sd, 1e-12);
    EXPECT_GT(result.line->curve.residual_sd, 0.005);
}

} // namespace
} // namespace stillmark::metrology
