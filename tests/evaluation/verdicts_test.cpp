#include "daemon/metrology/evaluation/evaluation.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

// What a verdict rests on and what it covers.
namespace stillmark::metrology {
namespace {

/// One way over the given references, all off by `deviation`.
void add_way(std::vector<Observation>& to, int series, bool rising, const std::vector<double>& references,
             double deviation = 0) {
    for (const double reference : references) {
        Observation one;
        one.series = series;
        one.rising = rising;
        one.reference = reference;
        one.reading = reference + deviation;
        to.push_back(one);
    }
}

std::vector<double> even(int points, double top = 10) {
    std::vector<double> all;
    all.reserve(static_cast<std::size_t>(points));
    for (int i = 0; i < points; ++i)
        all.push_back(top * i / (points - 1));
    return all;
}

std::vector<Observation> cycle(const std::vector<double>& references, double deviation = 0) {
    std::vector<Observation> all;
    add_way(all, 1, true, references, deviation);
    add_way(all, 2, false, references, deviation);
    return all;
}

EvaluationSettings settings_of(const char* method, std::optional<PermissibleError> permissible = of_class(1.6)) {
    EvaluationSettings settings;
    settings.method = method_named(method);
    settings.u_reference = [](double) { return 0.01; };
    settings.span_low = 0;
    settings.span_high = 10;
    settings.permissible = std::move(permissible);
    settings.decision = DecisionRule{Rule::guard_band};
    return settings;
}

PermissibleError absolute(double limit) {
    return {{{PermissibleTerm::Kind::absolute, limit, 0}}, false, {}, false, as_it_is("a figure")};
}

bool says(const Evaluation& evaluation, const std::string& what, const std::string& why) {
    return std::any_of(evaluation.unsaid.begin(), evaluation.unsaid.end(), [&](const Unsaid& one) {
        return english(one.what).find(what) != std::string::npos && why_words(one).find(why) != std::string::npos;
    });
}

// EN 837-1 (second hand): at least ten points for classes 0.1 to 0.6, five for classes 1 to 4.
TEST(Verdicts, TooFewPointsForEn837PassNothing) {
    EXPECT_EQ(evaluate(cycle(even(5)), settings_of("EN 837-1")).verdict, Verdict::pass);
    const auto four = evaluate(cycle(even(4)), settings_of("EN 837-1"));
    EXPECT_FALSE(four.verdict.has_value());
    EXPECT_TRUE(says(four, "a verdict", "asks for 5 points for this class, here are 4"));
    const auto finer = evaluate(cycle(even(9)), settings_of("EN 837-1", of_class(0.6)));
    EXPECT_FALSE(finer.verdict.has_value());
    EXPECT_EQ(evaluate(cycle(even(10)), settings_of("EN 837-1", of_class(0.6))).verdict, Verdict::pass);
}

TEST(Verdicts, PointsThatDoNotReachTheEndsOfTheScalePassNothing) {
    const auto result = evaluate(cycle({0, 1, 2, 3, 4, 5, 6, 7}), settings_of("EN 837-1"));
    EXPECT_FALSE(result.verdict.has_value());
    EXPECT_TRUE(says(result, "a verdict", "was read from 0 % to 70 %"));
    const auto high = evaluate(cycle({4, 5, 6, 7, 8, 10}), settings_of("EN 837-1"));
    EXPECT_FALSE(high.verdict.has_value());
    // Common practice: spread over the scale.
    const auto gap = evaluate(cycle({0, 0.1, 0.2, 0.3, 10}), settings_of("EN 837-1"));
    EXPECT_TRUE(says(gap, "a verdict", "nothing was read between 3 % and 100 %"));
}

TEST(Verdicts, AFailureTakenOutOfTheTableDoesNotMakeAPass) {
    auto rows = cycle(even(5));
    for (auto& one : rows)
        if (one.reference == 10) one.reading += 1;
    EXPECT_EQ(evaluate(rows, settings_of("EN 837-1")).verdict, Verdict::fail);
    auto taken_out = rows;
    std::erase_if(taken_out, [](const Observation& one) { return one.reference == 10; });
    EXPECT_FALSE(evaluate(taken_out, settings_of("EN 837-1")).verdict.has_value());
    // Of a free list too, where the rows stand there as void.
    auto voided = rows;
    for (auto& one : voided)
        if (one.reference == 10) one.left_out = "void: invented";
    const auto result = evaluate(voided, settings_of("free", absolute(0.2)));
    EXPECT_FALSE(result.verdict.has_value());
    EXPECT_TRUE(says(result, "a verdict", "no reading counts rising at 10"));
    EXPECT_TRUE(says(result, "a verdict", "no reading counts falling at 10"));
    rows.front().left_out = "void: invented"; // and a failure that stands fails whatever else is missing
    EXPECT_EQ(evaluate(rows, settings_of("free", absolute(0.2))).verdict, Verdict::fail);
}

TEST(Verdicts, AVoidReadingThatWasReadAgainLacksNothing) {
    auto rows = cycle(even(5));
    rows.push_back(rows[2]);
    rows[2].left_out = "void: invented";
    EXPECT_EQ(evaluate(rows, settings_of("EN 837-1")).verdict, Verdict::pass);
}

// DKD-R 6-1 B (points second hand, series from memory): nine points spread evenly, up, down, up.
TEST(Verdicts, PointsOfAMethodHaveTheirPlaces) {
    const auto with = [](const std::vector<double>& references) {
        auto rows = cycle(references);
        add_way(rows, 3, true, references);
        return evaluate(rows, settings_of("DKD-R 6-1 B", absolute(0.2)));
    };
    EXPECT_EQ(with(even(9)).verdict, Verdict::pass);
    EXPECT_EQ(with({0, 1, 2.5, 4, 5, 6, 7.5, 9, 10}).verdict, Verdict::pass); // rounded to what discs make
    // A point more, such as the overlap of two ranges, is none too many.
    EXPECT_EQ(with({0, 1.25, 2.5, 3.75, 5, 5.2, 6.25, 7.5, 8.75, 10}).verdict, Verdict::pass);
    EXPECT_FALSE(says(with({0, 1.25, 2.5, 3.75, 5, 5.2, 6.25, 7.5, 8.75, 10}), "conformity with", ""));
    const auto low = with({0, 0.01, 0.02, 0.03, 0.04, 0.05, 0.06, 0.07, 10});
    EXPECT_FALSE(low.verdict.has_value());
    EXPECT_TRUE(says(low, "conformity with DKD-R 6-1 B", "nothing was read near 12.5 %, 25 %, 37.5 %, 50 %"));
    const auto without_top = with({0, 1.25, 2.5, 3.75, 5, 6.25, 7.5, 8.75});
    EXPECT_TRUE(says(without_top, "a verdict", "near 100 %"));
}

TEST(Verdicts, DirectionsAndSeriesOfAMethodAreAskedFor) {
    auto rows = cycle(even(9));
    const auto two = evaluate(rows, settings_of("DKD-R 6-1 B", absolute(0.2)));
    EXPECT_FALSE(two.verdict.has_value());
    EXPECT_TRUE(says(two, "a verdict", "asks for 3 series, here are 2"));
    add_way(rows, 3, true, even(9));
    std::erase_if(rows, [](const Observation& one) { return !one.rising && one.reference == 5; });
    const auto hole = evaluate(rows, settings_of("DKD-R 6-1 B", absolute(0.2)));
    EXPECT_FALSE(hole.verdict.has_value());
    EXPECT_TRUE(says(hole, "a verdict", "nothing was read falling near 50 %"));
}

TEST(Verdicts, WithoutASpanAMethodCoversWhatWasRead) {
    auto settings = settings_of("DKD-R 6-1 C", absolute(0.2));
    settings.span_low.reset();
    settings.span_high.reset();
    EXPECT_EQ(evaluate(cycle(even(5)), settings).verdict, Verdict::pass);
    EXPECT_FALSE(evaluate(cycle(even(4)), settings).verdict.has_value());
}

TEST(Verdicts, ASequenceUpToLessThanTheSpanCoversThat) {
    auto settings = settings_of("DKD-R 6-1 C", absolute(0.2));
    settings.span_high = 16;
    EXPECT_FALSE(evaluate(cycle(even(5)), settings).verdict.has_value());
    settings.method_low = 0;
    settings.method_high = 10;
    const auto result = evaluate(cycle(even(5)), settings);
    EXPECT_EQ(result.verdict, Verdict::pass);
    EXPECT_EQ(english(result.verdict_covers),
              "5 points from 0 to 10, rising and falling; of the span nothing was read above 62.5 %");
}

TEST(Verdicts, AFreeListSaysWhatItCovers) {
    std::vector<Observation> rows;
    add_way(rows, 1, true, {2, 5, 10});
    const auto one_way = evaluate(rows, settings_of("free", absolute(0.2)));
    EXPECT_EQ(one_way.verdict, Verdict::pass);
    EXPECT_EQ(english(one_way.verdict_covers),
              "3 points from 2 to 10, only rising; of the span nothing was read below 20 %");
    add_way(rows, 2, false, {10, 2});
    EXPECT_EQ(
        english(evaluate(rows, settings_of("free", absolute(0.2))).verdict_covers),
        "3 points from 2 to 10, rising and falling, but only rising at 5; of the span nothing was read below 20 %");
}

// German Verification Ordinance, annex 16, 3.3: the limits of a class hold for rising and falling pressure.
TEST(Verdicts, OneDirectionPassesNoClass) {
    std::vector<Observation> rows;
    add_way(rows, 1, true, even(5));
    const auto result = evaluate(rows, settings_of("free"));
    EXPECT_FALSE(result.verdict.has_value());
    EXPECT_TRUE(says(result, "a verdict", "nothing was read falling at 0, 2.5, 5, 7.5"));
    add_way(rows, 2, false, {0, 2.5, 5, 7.5}); // the series turns at the top, which is read once
    EXPECT_EQ(evaluate(rows, settings_of("free")).verdict, Verdict::pass);
}

TEST(Verdicts, ARunThatGoesOnPassesNothing) {
    auto settings = settings_of("free", absolute(0.2));
    settings.unfinished = sentence("the run is not finished");
    const auto result = evaluate(cycle(even(5)), settings);
    EXPECT_FALSE(result.verdict.has_value());
    EXPECT_TRUE(says(result, "a verdict", "the run is not finished"));
    EXPECT_EQ(evaluate(cycle(even(5), 1), settings).verdict, Verdict::fail);
}

// ISO/IEC 17025:2017, 7.8.6.2: results, specification and rule stand with the statement.
TEST(Verdicts, SpecificationAndRuleStandBesideTheVerdict) {
    const auto result = evaluate(cycle(even(5)), settings_of("EN 837-1"));
    EXPECT_EQ(english(result.specification), "class 1.6: 1.6 % of span (EN 837-1:1996, table 11)");
    ASSERT_TRUE(result.decision.has_value());
    // ILAC-G8:09/2019 says under 2.5 % for w = U; of a normal distribution beyond two standard deviations it is 2.28 %.
    EXPECT_NE(words(*result.decision).find("at most 2.28 %"), std::string::npos);
    EXPECT_NE(words(*result.decision).find("w = 1 U"), std::string::npos);
    EXPECT_NE(words(DecisionRule{}).find("up to 50 %"), std::string::npos);
    EXPECT_EQ(english(result.verdict_covers), "5 points from 0 to 10, rising and falling");
}

TEST(Verdicts, EachDirectionHasWhatItWasJudgedBy) {
    auto rows = cycle(even(5));
    for (auto& one : rows)
        if (!one.rising) one.reading += 0.1;
    const auto result = evaluate(rows, settings_of("EN 837-1"));
    for (const auto& point : result.points)
        for (const auto* direction : {&point.up, &point.down}) {
            EXPECT_NEAR(*(*direction)->acceptance, 0.16 - *(*direction)->expanded, 1e-12);
            EXPECT_LE(*(*direction)->expanded, *point.mean->expanded);
        }
    EXPECT_LT(*result.points[1].up->expanded, *result.points[1].mean->expanded); // the hysteresis is in the mean alone
}

TEST(Verdicts, TheErrorOfTheMeterIsTheSameInEveryReading) {
    auto rows = cycle(even(5));
    for (int series = 3; series < 9; ++series)
        add_way(rows, series, series % 2 != 0, even(5));
    auto settings = settings_of("free", absolute(0.2));
    settings.u_meter = [](double p) { return 0.01 + 0.001 * p; };
    const auto result = evaluate(rows, settings);
    const auto& parts = result.points[2].mean->contains;
    const auto meter = std::find_if(parts.begin(), parts.end(), [](const Part& part) { return part.name == "meter"; });
    ASSERT_NE(meter, parts.end());
    EXPECT_NEAR(meter->u, 0.015, 1e-15);
    EXPECT_NEAR(*result.points[2].up->u, std::hypot(0.01, 0.015), 1e-15);
}

TEST(Verdicts, WhereTheGuardBandLeavesNothingThereIsNoVerdictAndItIsSaidOnce) {
    auto settings = settings_of("EN 837-1");
    settings.u_reference = [](double) { return 0.1; }; // U 0.2, permitted 0.16
    const auto result = evaluate(cycle(even(5), 0.1), settings);
    EXPECT_FALSE(result.verdict.has_value());
    for (const auto& point : result.points) {
        EXPECT_FALSE(point.verdict.has_value());
        EXPECT_LE(*point.up->acceptance, 0);
    }
    EXPECT_EQ(std::count_if(
                  result.unsaid.begin(), result.unsaid.end(),
                  [](const Unsaid& one) { return english(one.why).find("no result could pass") != std::string::npos; }),
              1);
    EXPECT_TRUE(says(result, "conformity at 0, 2.5, 5, 7.5, 10", "no result could pass"));
    // Beyond the limit by more than the guard band it fails by any rule.
    EXPECT_EQ(evaluate(cycle(even(5), 0.4), settings).verdict, Verdict::fail);
}

// German Verification Ordinance, annex 16, 3.4: the hysteresis is at most the verification limit, also in service.
TEST(Verdicts, TheHysteresisInServiceIsHeldAgainstTheVerificationLimit) {
    const auto with = [](double hysteresis, std::optional<PermissibleError> permissible) {
        std::vector<Observation> rows;
        add_way(rows, 1, true, even(5), -hysteresis / 2);
        add_way(rows, 2, false, even(5), hysteresis / 2);
        auto settings = settings_of("EN 837-1", std::move(permissible));
        settings.u_reference = [](double) { return 0.001; };
        settings.decision = DecisionRule{};
        return evaluate(rows, settings).verdict;
    };
    // Class 1.6 of 10: 0.16 at verification, 0.24 in service.
    EXPECT_EQ(with(0.15, of_verification_class(1.6, true)), Verdict::pass);
    EXPECT_EQ(with(0.20, of_verification_class(1.6, true)), Verdict::fail);
    EXPECT_EQ(with(0.20, of_verification_class(1.6, false)), Verdict::fail);
    EXPECT_EQ(with(0.20, of_class(1.6)), Verdict::fail);
    EXPECT_EQ(with(0.20, of_class(2.5)), Verdict::pass);
}

TEST(Verdicts, SimpleAcceptanceTooNeedsAnUncertainty) {
    auto settings = settings_of("free", absolute(0.2));
    settings.u_reference = nullptr;
    settings.decision = DecisionRule{};
    for (const double deviation : {0.0, 1.0}) {
        const auto result = evaluate(cycle(even(5), deviation), settings);
        EXPECT_FALSE(result.verdict.has_value()) << deviation;
        EXPECT_TRUE(says(result, "a verdict", "no uncertainty is known at any point"));
    }
}

TEST(Verdicts, APermissibleErrorOfTheReadingLeavesTheZeroOut) {
    const PermissibleError of_reading{
        {{PermissibleTerm::Kind::of_reading, 0.1, 0}}, false, {}, false, as_it_is("10 % of reading")};
    const auto result = evaluate(cycle(even(5), 0.05), settings_of("free", of_reading));
    EXPECT_EQ(result.verdict, Verdict::pass);
    EXPECT_FALSE(result.points[0].verdict.has_value());
    EXPECT_TRUE(says(result, "a verdict at 0", "nothing at zero"));
}

} // namespace
} // namespace stillmark::metrology
