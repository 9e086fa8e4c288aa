#include "daemon/metrology/evaluation/conformity.hpp"
#include "daemon/metrology/evaluation/permissible_error.hpp"

#include <boost/math/distributions/normal.hpp>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <vector>

namespace stillmark::metrology {
namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

// JCGM 106:2012, table 1 (from memory, recomputed): one-sided, conformance probability and z.
TEST(Conformity, OneSidedProbabilitiesOfTable1) {
    const std::pair<double, double> rows[] = {
        {.841621, .80}, {1.28155, .90}, {1.64485, .95}, {2.32635, .99}, {3.09023, .999}};
    for (const auto& [z, p] : rows)
        EXPECT_NEAR(probability_within(-z, 1, -infinity, 0), p, 2e-6) << z;
}

// JCGM 106:2012 (from memory, recomputed 0.919243): Zener voltage -5.47 V, u 0.05 V, upper limit -5.40 V.
TEST(Conformity, ZenerDiodeUnderAnUpperLimit) {
    EXPECT_NEAR(probability_within(-5.47, 0.05, -infinity, -5.40), 0.92, 0.005);
    EXPECT_NEAR(probability_within(-5.47, 0.05, -infinity, -5.40), 0.919243, 5e-7);
}

// JCGM 106:2012 (from memory, recomputed 0.98901): bursting strength 509.7 kPa, u 8.6 kPa, lower limit 490 kPa.
TEST(Conformity, BurstingStrengthOverALowerLimit) {
    EXPECT_NEAR(probability_within(509.7, 8.6, 490, infinity), 0.98901, 5e-6);
}

// JCGM 106:2012 (from memory, recomputed 0.66263): viscosity 13.6, u 1.8, between 12.5 and 16.3.
TEST(Conformity, ViscosityBetweenTwoLimits) {
    EXPECT_NEAR(probability_within(13.6, 1.8, 12.5, 16.3), 0.66263, 5e-6);
}

// JCGM 106:2012 (from memory): with w = U = 2 u the specific risk at the acceptance limit is at most 2.3 %.
TEST(Conformity, GuardBandOfTheWholeU) {
    const Judged at_limit{8, 1, 2, 10};
    EXPECT_EQ(judge(at_limit, {Rule::guard_band}), Verdict::pass);
    EXPECT_NEAR(1 - probability_within(8, 1, -infinity, 10), .0227501, 5e-8);
    EXPECT_NEAR(capability_index(-10, 10, 1), 20.0 / 4, 1e-15);
}

// ILAC-G8:09/2019: risks of false acceptance for w = 0 and w = U (read), 3 U, 1.5 U and 0.83 U (from memory).
TEST(Conformity, RisksOfTheUsualGuardBands) {
    const std::pair<double, double> rows[] = {{0, .5}, {1, .0227501}, {3, 9.87e-10}, {1.5, .00135}, {.83, .04846}};
    for (const auto& [factor, risk] : rows) {
        const double w = *guard_band({0, 1, 2, 10}, {Rule::guard_band, factor});
        EXPECT_NEAR(w, 2 * factor, 1e-15);
        EXPECT_NEAR(1 - probability_within(10 - w, 1, -infinity, 10), risk, risk * 2e-3) << factor;
    }
}

// MSL Technical Guide 13: span 4000 kPa, class 1, U 25 kPa: a correction of up to 15 kPa conforms.
TEST(Conformity, GaugeOfClass1WithItsUncertainty) {
    const auto error = *of_class(1);
    const double limit = permissible_at(error, 2000, 0, 4000);
    EXPECT_DOUBLE_EQ(limit, 40);
    EXPECT_EQ(judge({15, 12.5, 25, limit}, {Rule::guard_band}), Verdict::pass);
    EXPECT_EQ(judge({15.01, 12.5, 25, limit}, {Rule::guard_band}), Verdict::fail);
    EXPECT_EQ(judge({-15, 12.5, 25, limit}, {Rule::guard_band}), Verdict::pass);
}

// ILAC-G8:09/2019 (from memory): four statements of the non-binary rule.
TEST(Conformity, NonBinaryStatements) {
    const DecisionRule rule{Rule::guard_band, 1, true};
    const std::pair<double, Verdict> rows[] = {{7, Verdict::pass},
                                               {-8, Verdict::pass},
                                               {9, Verdict::conditional_pass},
                                               {-10, Verdict::conditional_pass},
                                               {11, Verdict::conditional_fail},
                                               {12, Verdict::conditional_fail},
                                               {-12.5, Verdict::fail}};
    for (const auto& [deviation, verdict] : rows)
        EXPECT_EQ(judge({deviation, 1, 2, 10}, rule), verdict) << deviation;
}

TEST(Conformity, SimpleAcceptanceAsksOnlyForTheLimit) {
    EXPECT_EQ(judge({10, 1, 2, 10}, {}), Verdict::pass);
    EXPECT_EQ(judge({std::nextafter(10, 11), 1, 2, 10}, {}), Verdict::fail);
}

// A rule that could accept nothing says nothing, short of a deviation that fails by any rule.
TEST(Conformity, ARuleThatCouldAcceptNothingSaysNothing) {
    for (const double deviation : {0.0, 5.0, -9.9, 11.9, 22.0})
        EXPECT_EQ(judge({deviation, 6, 12, 10}, {Rule::guard_band}), std::nullopt) << deviation;
    EXPECT_EQ(judge({22.1, 6, 12, 10}, {Rule::guard_band}), Verdict::fail);
    EXPECT_EQ(judge({0, 5, 10, 10}, {Rule::guard_band}), std::nullopt); // w = MPE leaves a single number
    EXPECT_LE(*acceptance_limit({0, 6, 12, 10}, {Rule::guard_band}), 0);
    EXPECT_EQ(judge({15, 6, 12, 10}, {Rule::guard_band, 1, true}), std::nullopt);
    const DecisionRule by_ratio{Rule::guard_band, 1, false, 0.05, {}, ByRatio::whole_u};
    EXPECT_EQ(judge({0, 6, 12, 10}, by_ratio), std::nullopt);
    EXPECT_EQ(judge({22.1, 6, 12, 10}, by_ratio), Verdict::fail);
    // Two standard uncertainties or less from the middle to either limit leave 5 % or more outside.
    const DecisionRule risk{Rule::specific_risk, 1, false, 0.04, {}};
    EXPECT_EQ(judge({0, 5, 10, 10}, risk), std::nullopt);
    EXPECT_EQ(judge({20.1, 5, 10, 10}, risk), Verdict::fail);
}

// The verdict comes from what was measured, not from what is printed: 10.004 prints as 10.00.
TEST(Conformity, NothingIsRoundedBeforeTheVerdict) {
    EXPECT_EQ(judge({10.004, 0.1, 0.2, 10}, {}), Verdict::fail);
}

TEST(Conformity, SpecificRiskCountsBothLimits) {
    const DecisionRule rule{Rule::specific_risk, 1, false, 0.05, {}};
    EXPECT_EQ(judge({0, 1, 2, 1.97}, rule), Verdict::pass);   // 95.1 % within
    EXPECT_EQ(judge({0.53, 1, 2, 2.2}, rule), Verdict::fail); // 94.94 %, and 95.25 % with the nearer limit alone
    EXPECT_EQ(judge({0.51, 1, 2, 2.2}, rule), Verdict::pass); // 95.12 %
    // By SciPy: the root of P(|d + N(0, 1)| < 2.2) = 0.95.
    EXPECT_NEAR(*acceptance_limit({0, 1, 2, 2.2}, rule), 0.5229335749859931, 1e-12);
}

TEST(Conformity, GlobalRiskNeedsAProcess) {
    DecisionRule rule{Rule::global_risk, 1, false, 0.008, {}};
    EXPECT_EQ(judge({1, 1, 2, 10}, rule), std::nullopt);
    rule.process = Process{0, 1};
    // Of the process below, accepting up to the limit itself has a risk of 0.0080060848 (next test).
    EXPECT_EQ(judge({2, .25, .5, 2}, rule), Verdict::fail);
    rule.risk = 0.0081;
    EXPECT_EQ(judge({2, .25, .5, 2}, rule), Verdict::pass);
}

// Deaver: tolerance of two standard deviations of the process, sigma/u = 4: false accept 0.008, false reject 0.015.
TEST(GlobalRisk, DeaverTwoSigma) {
    const auto risk = global_risk({0, 1}, 0.25, 2, 2);
    EXPECT_NEAR(risk.false_accept, .008, 5e-4);
    EXPECT_NEAR(risk.false_reject, .015, 5e-4);
    EXPECT_NEAR(risk.false_accept, .0080060848, 5e-11);
    EXPECT_NEAR(risk.false_reject, .014850884, 5e-10);
}

// Deaver: tolerance 2.5 standard deviations, ratio 4 and 1.
TEST(GlobalRisk, DeaverTwoAndAHalfSigma) {
    EXPECT_NEAR(global_risk({0, 1}, 0.25, 2.5, 2.5).false_accept, .0024453487, 5e-11);
    EXPECT_NEAR(global_risk({0, 1}, 1, 2.5, 2.5).false_accept, .0047235665, 5e-11);
}

// Published: C_pk of N(10, 0.4), N(10.5, 0.4) and N(12, 0.4) in 9 to 11, and the share outside.
TEST(GlobalRisk, ProcessCapability) {
    const struct {
        double mean, cpk, outside;
    } rows[] = {{10, .833333, .0124193}, {10.5, .416667, .105738}, {12, -.833333, .99379}};
    for (const auto& row : rows) {
        EXPECT_NEAR(process_capability({row.mean, .4}, 9, 11), row.cpk, 5e-7);
        EXPECT_NEAR(1 - probability_within(row.mean, .4, 9, 11), row.outside, 5e-6);
    }
}

// Recomputed: in-tolerance probability 95 %, test uncertainty ratio 4, 2 and 1; and 89 % with 4. U = 2 u.
TEST(GlobalRisk, ByRatioAndInToleranceProbability) {
    const struct {
        double in_tolerance, ratio, accept, reject;
    } rows[] = {{.95, 4, .0085826648, .015536513},
                {.95, 2, .013373408, .041775296},
                {.95, 1, .018011555, .12957158},
                {.89, 4, .014556458, .021618487}};
    for (const auto& row : rows) {
        const double sd = 1 / boost::math::quantile(boost::math::normal(), (1 + row.in_tolerance) / 2);
        const auto risk = global_risk({0, sd}, 1 / (2 * row.ratio), 1, 1);
        EXPECT_NEAR(risk.false_accept, row.accept, 1e-8) << row.ratio;
        EXPECT_NEAR(risk.false_reject, row.reject, 1e-8) << row.ratio;
    }
}

// From memory (Harben and Reese 2012), recomputed: at a ratio of 4.6 no process has more than 2 % false accepts; at 4
// one has 2.238 %.
TEST(GlobalRisk, WorstProcessForARatio) {
    const auto worst = [](double ratio) {
        double largest = 0;
        for (int i = 0; i < 600; ++i) {
            const double sd = 0.05 * std::pow(1.01, i);
            largest = std::max(largest, global_risk({0, sd}, 1 / (2 * ratio), 1, 1).false_accept);
        }
        return largest;
    };
    EXPECT_NEAR(worst(4.6), .01965, 1e-5);
    EXPECT_NEAR(worst(4), .02238, 1e-5);
}

// From memory (Harben and Reese 2012), recomputed: where 89 % or more of the items are found within their limits at the
// end of the interval, no ratio gives more than 2 % false accepts; the worst has 1.951 %. What is found includes the
// uncertainty.
TEST(GlobalRisk, WorstRatioForAnObservedReliability) {
    const auto worst = [](double observed) {
        const double found_sd = 1 / boost::math::quantile(boost::math::normal(), (1 + observed) / 2);
        double largest = 0;
        for (int i = 1; i < 1000; ++i) {
            const double u = found_sd * i / 1000, sd = std::sqrt(found_sd * found_sd - u * u);
            largest = std::max(largest, global_risk({0, sd}, u, 1, 1).false_accept);
        }
        return largest;
    };
    EXPECT_NEAR(worst(.89), .01951, 1e-5);
    EXPECT_GT(worst(.88), .02);
}

// ANSI/NCSL Z540.3 (read in Castrup, Risk analysis methods for complying with Z540.3): the probability of false
// acceptance is at most 2 %; where it cannot be estimated, the test uncertainty ratio is at least 4:1.
TEST(GlobalRisk, FalseAcceptsOfAtMostTwoPerCentOrARatioOfFour) {
    DecisionRule rule{Rule::global_risk, 1, false, 0.02, Process{0, 0.7}};
    for (const double u : {0.05, 0.15, 0.3, 0.5}) {
        const double accepted = *acceptance_limit({0, u, 2 * u, 1}, rule);
        const double risk = global_risk(*rule.process, u, 1, accepted).false_accept;
        EXPECT_LE(risk, 0.02 + 1e-12) << u;
        if (accepted == 1) continue;
        EXPECT_NEAR(risk, 0.02, 1e-9) << u; // and no more is taken off than that
    }
    rule = {Rule::uncertainty_ratio};
    EXPECT_EQ(judge({0.99, 0.125, 0.25, 1}, rule), Verdict::pass);
    EXPECT_EQ(judge({1.01, 0.125, 0.25, 1}, rule), Verdict::fail);
    EXPECT_EQ(judge({0, 0.126, 0.252, 1}, rule), std::nullopt);
    EXPECT_EQ(judge({0.99, 0.1, 0.1 * 0.25 * 10, 1}, rule), Verdict::pass); // four to the rounding of a product
}

// Constructed, exact: mean on a limit and no uncertainty, or one that drowns the truth.
TEST(GlobalRisk, Corners) {
    EXPECT_NEAR(global_risk({0, 1}, 0, 2, 2).false_accept, 0, 1e-15);
    EXPECT_NEAR(global_risk({0, 1}, 0, 2, 2).false_reject, 0, 1e-15);
    EXPECT_NEAR(global_risk({0, 1}, 0, 1, 2).false_accept,
                probability_within(0, 1, -2, 2) - probability_within(0, 1, -1, 1), 1e-14);
    EXPECT_EQ(global_risk({0, 1}, 0.5, 2, 0).false_accept, 0);
    EXPECT_NEAR(global_risk({0, 1}, 0.5, 2, 0).false_reject, probability_within(0, 1, -2, 2), 1e-14);
    // Half of the process lies above the limit, far from the other; correlation 1/sqrt(2), asin of it pi/4: of the
    // truths above, the share that reads below the limit is 1/2 - 2 (1/4 + (pi/4)/(2 pi)) + 1/2 = 1/4 of all of them.
    const auto on_limit = global_risk({100, 1}, 1, 100, 100);
    EXPECT_NEAR(on_limit.false_accept, 0.125, 1e-14);
    EXPECT_NEAR(on_limit.false_reject, 0.125, 1e-14);
}

TEST(GlobalRisk, NarrowerAcceptanceFewerFalseAccepts) {
    double before = 1;
    for (const double acceptance : {2.0, 1.8, 1.5, 1.0, 0.1}) {
        const auto risk = global_risk({0.3, 1}, 0.25, 2, acceptance);
        EXPECT_LT(risk.false_accept, before);
        before = risk.false_accept;
    }
}

// Published formulas of guard bands by the test uncertainty ratio; recomputed for ratios of 2 and 4.
TEST(GlobalRisk, AcceptanceByTheTestUncertaintyRatio) {
    EXPECT_NEAR(acceptance_factor(ByRatio::root_sum_of_squares, 2), .866025, 5e-7);
    EXPECT_NEAR(acceptance_factor(ByRatio::root_sum_of_squares, 4), .968246, 5e-7);
    EXPECT_DOUBLE_EQ(acceptance_factor(ByRatio::whole_u, 2), .5);
    EXPECT_DOUBLE_EQ(acceptance_factor(ByRatio::from_four, 2), .75);
    EXPECT_DOUBLE_EQ(acceptance_factor(ByRatio::from_four, 5), 1);
    EXPECT_NEAR(acceptance_factor(ByRatio::managed_risk, 2), .859177, 5e-7);
    EXPECT_NEAR(acceptance_factor(ByRatio::managed_risk, 4), .98672, 5e-6);
    EXPECT_EQ(acceptance_factor(ByRatio::root_sum_of_squares, 0.5), 0);
    EXPECT_EQ(acceptance_factor(ByRatio::whole_u, std::nan("")), 0);
    DecisionRule rule{Rule::guard_band};
    rule.by_ratio = ByRatio::from_four;
    EXPECT_EQ(judge({7.49, 2.5, 5, 10}, rule), Verdict::pass);
    EXPECT_EQ(judge({7.51, 2.5, 5, 10}, rule), Verdict::fail);
}

TEST(NormalizedError, IsOneWhereTheUncertaintiesJustMeet) {
    EXPECT_DOUBLE_EQ(normalized_error(5, 3, 0, 4), 1);
    EXPECT_GT(normalized_error(5.01, 3, 0, 4), 1);
}

// EN 837-1:1996, table 11: the class is the limit of permissible error in per cent of span.
TEST(PermissibleErrors, ClassesOfEn837) {
    const std::vector<double> classes{0.1, 0.25, 0.6, 1, 1.6, 2.5, 4};
    ASSERT_TRUE(std::equal(classes.begin(), classes.end(), accuracy_classes().begin(), accuracy_classes().end()));
    for (const double one : classes)
        EXPECT_NEAR(permissible_at(*of_class(one), 3, 0, 100), one, 1e-12);
    EXPECT_FALSE(of_class(0.5).has_value());
}

// Second hand (a test instruction): 0 to 10 bar, class 1.6: 0.16 bar; -1 to +5 bar, class 1: 6 bar of span, 0.06 bar.
TEST(PermissibleErrors, OfTheSpanNotOfItsEnd) {
    EXPECT_NEAR(permissible_at(*of_class(1.6), 4, 0, 10), 0.16, 1e-12);
    EXPECT_NEAR(permissible_at(*of_class(1), 4, -1, 5), 0.06, 1e-12);
}

// German Verification Ordinance, annex 16, 3.1: verification limit and limit in service.
TEST(PermissibleErrors, VerificationAndService) {
    const std::pair<double, double> rows[] = {{.1, .15}, {.25, .4}, {.6, .9}, {1, 1.5}, {1.6, 2.4}, {2.5, 3.8}, {4, 6}};
    for (const auto& [verification, service] : rows) {
        EXPECT_NEAR(permissible_at(*of_verification_class(verification, false), 1, 0, 100), verification, 1e-12);
        EXPECT_NEAR(permissible_at(*of_verification_class(verification, true), 1, 0, 100), service, 1e-12);
    }
}

// ASME B40.100 (from memory; A, 4A and D second hand): per cent of span in the outer quarters and in the middle half.
TEST(PermissibleErrors, GradesByQuarters) {
    const struct {
        const char* grade;
        double ends, middle;
    } rows[] = {{"4A", .1, .1}, {"3A", .25, .25}, {"2A", .5, .5}, {"1A", 1, 1},
                {"A", 2, 1},    {"B", 3, 2},      {"C", 4, 3},    {"D", 5, 5}};
    for (const auto& row : rows) {
        const auto error = *of_grade(row.grade);
        for (const double outer : {0.0, 24.9, 75.1, 100.0})
            EXPECT_NEAR(permissible_at(error, outer, 0, 100), row.ends, 1e-12) << row.grade << outer;
        for (const double inner : {25.0, 50.0, 75.0})
            EXPECT_NEAR(permissible_at(error, inner, 0, 100), row.middle, 1e-12) << row.grade << inner;
    }
    EXPECT_FALSE(of_grade("E").has_value());
}

TEST(PermissibleErrors, AQuarterEndsNoUlpBeforeItself) {
    const auto error = *of_grade("A");
    EXPECT_EQ(permissible_at(error, std::nextafter(25.0, 0.0), 0, 100), 1);
    EXPECT_EQ(permissible_at(error, std::nextafter(75.0, 100.0), 0, 100), 1);
}

TEST(PermissibleErrors, ASingleFigureIsTheTightestFromATenthOfTheSpan) {
    using Kind = PermissibleTerm::Kind;
    EXPECT_NEAR(least_permissible(*of_grade("A"), 0, 100), 1, 1e-12);
    EXPECT_NEAR(least_permissible(*of_class(1.6), -1, 5), 0.096, 1e-12);
    EXPECT_NEAR(least_permissible({{{Kind::of_reading, 0.001, 0}}, false, {}}, 0, 1000), 0.1, 1e-12);
    EXPECT_NEAR(least_permissible({{{Kind::of_reading, 0.001, 0}}, false, {}}, -5, 5), 0.001, 1e-12);
    EXPECT_NEAR(least_permissible({{{Kind::absolute, 0.5, 0}}, false, {}}, 0, 1000), 0.5, 1e-12);
}

TEST(PermissibleErrors, TheLargerAndTheSum) {
    using Kind = PermissibleTerm::Kind;
    PermissibleError error{{{Kind::of_reading, 0.01, 0}, {Kind::absolute, 0.5, 0}}, true, {}};
    EXPECT_DOUBLE_EQ(permissible_at(error, 10, 0, 100), 0.5);
    EXPECT_DOUBLE_EQ(permissible_at(error, -80, 0, 100), 0.8);
    error.larger = false;
    EXPECT_DOUBLE_EQ(permissible_at(error, 10, 0, 100), 0.6);
    EXPECT_FALSE(needs_span(error));
    EXPECT_TRUE(needs_span(*of_grade("A")));
}

} // namespace
} // namespace stillmark::metrology
