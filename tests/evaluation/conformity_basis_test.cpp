#include "daemon/metrology/evaluation/conformity_basis.hpp"
#include "daemon/metrology/evaluation/evaluation.hpp"

#include <gtest/gtest.h>

#include <cmath>

// What a verdict rests on, made once. Check values: SciPy 1.10, scipy.stats.t and scipy.stats.norm.
namespace stillmark::metrology {
namespace {

ConformityBasis with(double deviation, std::vector<Share> shares, double least = 0) {
    ConformityBasis basis;
    basis.deviation = deviation;
    put_uncertainty(basis, shares, least);
    return basis;
}

TEST(ConformityBasis, TheCoverageFactorIsStudentsForTheEffectiveDegreesOfFreedom) {
    const auto few = with(0, {{0.03, 4}});
    EXPECT_DOUBLE_EQ(*few.u, 0.03);
    EXPECT_DOUBLE_EQ(few.dof, 4);
    EXPECT_NEAR(few.k, 2.8693094146, 1e-9); // scipy.stats.t.ppf((1 + 0.9544997361036416)/2, 4)
    EXPECT_DOUBLE_EQ(*few.expanded, few.k * 0.03);
    const auto many = with(0, {{0.03, ConformityBasis::infinite_dof}});
    EXPECT_EQ(many.k, 2);
    EXPECT_TRUE(std::isinf(many.dof));
}

TEST(ConformityBasis, WhereTheCapabilityDecidesItIsStatedWithTwoAndNormal) {
    const auto basis = with(0.19, {{0.001, 4}}, 0.10);
    EXPECT_TRUE(basis.at_capability);
    EXPECT_DOUBLE_EQ(*basis.u, 0.05);
    EXPECT_EQ(basis.k, 2);
    EXPECT_TRUE(std::isinf(basis.dof));
    EXPECT_DOUBLE_EQ(*basis.expanded, 0.10);
    EXPECT_FALSE(with(0.19, {{0.06, 4}}, 0.10).at_capability);
}

// Deviation 0.19, limit 0.26, capability 0.10: P(beyond 0.26) = 8.08 % whatever the degrees of freedom of what the
// capability takes the place of, so a specific risk of 5 % fails.
TEST(ConformityBasis, TheDegreesOfFreedomBehindACapabilityDoNotTurnAFailIntoAPass) {
    const DecisionRule rule{Rule::specific_risk, 1, false, 0.05, {}};
    for (const double dof : {4.0, 30.0, ConformityBasis::infinite_dof}) {
        auto basis = with(0.19, {{0.001, dof}}, 0.10);
        judge(basis, 0.26, rule);
        EXPECT_EQ(basis.verdict, Verdict::fail) << dof;
        EXPECT_NEAR(*basis.outside, 0.08075665923, 1e-10) << dof; // norm.sf(1.4) + norm.cdf(-9)
    }
}

TEST(ConformityBasis, ProbabilitiesAreStudentsWithTheEffectiveDegreesOfFreedom) {
    auto basis = with(0.19, {{0.05, 4}});
    judge(basis, 0.26, DecisionRule{});
    EXPECT_NEAR(*basis.outside, 0.11747222992, 1e-10);                                 // t.sf(1.4, 4) + t.cdf(-9, 4)
    EXPECT_NEAR(1 - probability_within(0, 1, -INFINITY, 2, 10), 0.03669401739, 1e-10); // t.sf(2, 10)
    EXPECT_EQ(probability_within(0, 0, -1, 1, 3), 1);
}

TEST(ConformityBasis, ASpecificRiskAcceptsUpToStudentsQuantile) {
    const DecisionRule rule{Rule::specific_risk, 1, false, 0.05, {}};
    auto basis = with(0, {{1, 4}});
    judge(basis, 100, rule);
    EXPECT_NEAR(*basis.acceptance, 100 - 2.13184678633, 1e-6); // t.ppf(0.95, 4); the far limit adds nothing here
    EXPECT_NEAR(*guard_band({0, 1, 2.87, 100, 4}, rule), 2.13184678633, 1e-9);
    // On either side of that limit.
    for (const double beyond : {-1e-6, 1e-6}) {
        auto one = with(*basis.acceptance + beyond, {{1, 4}});
        judge(one, 100, rule);
        EXPECT_EQ(one.verdict, beyond > 0 ? Verdict::fail : Verdict::pass);
    }
}

TEST(ConformityBasis, WithoutAnUncertaintyOnlyTheLimitIsKnown) {
    ConformityBasis basis;
    basis.deviation = 0.1;
    judge(basis, 0.2, DecisionRule{});
    EXPECT_EQ(basis.permissible, 0.2);
    EXPECT_FALSE(basis.acceptance || basis.outside || basis.verdict);
}

Observation at(double reference, double deviation, bool rising) {
    Observation one;
    one.series = rising ? 1 : 2;
    one.rising = rising;
    one.reference = reference;
    one.reading = reference + deviation;
    return one;
}

EvaluationSettings settings_of(double capability) {
    EvaluationSettings settings;
    settings.u_reference = [](double) { return 0.001; };
    settings.permissible =
        PermissibleError{{{PermissibleTerm::Kind::absolute, 0.5, 0}}, false, {}, false, as_it_is("0.5")};
    settings.decision = DecisionRule{Rule::guard_band};
    settings.capability = [capability](double p) { return p < 0 ? 0.0 : capability; };
    return settings;
}

TEST(ConformityBasis, BelowZeroTheCapabilityOfTheMagnitudeCounts) {
    const std::vector<Observation> all{at(-0.8, 0.1, true), at(5, 0.1, true), at(5, 0.2, false), at(-0.8, 0.2, false)};
    const auto result = evaluate(all, settings_of(0.3));
    ASSERT_EQ(result.points.size(), 2U);
    for (const auto& point : result.points)
        for (const auto* basis : {&point.up, &point.down, &point.mean}) {
            EXPECT_TRUE((*basis)->at_capability) << point.reference;
            EXPECT_DOUBLE_EQ(*(*basis)->expanded, 0.3) << point.reference;
        }
}

// The dial gauge of the demo: permissible 3.5, guard band of one U, deviation 2.0 rising. What is shown of a direction
// is what its verdict rests on, and the U of the mean of both, with the hysteresis in it, has no verdict.
TEST(ConformityBasis, EachDirectionCarriesWhatItsVerdictRestsOn) {
    std::vector<Observation> all;
    for (const double p : {0.0, 50.0, 100.0}) {
        all.push_back(at(p, -2.0, true));
        all.push_back(at(p, -0.2, false));
    }
    auto settings = settings_of(0.01);
    settings.permissible->terms[0].value = 3.5;
    settings.u_reference = [](double) { return 0.6; };
    const auto result = evaluate(all, settings);
    for (const auto& point : result.points) {
        const auto& up = *point.up;
        EXPECT_DOUBLE_EQ(*up.acceptance, 3.5 - *up.expanded);
        EXPECT_EQ(up.verdict, std::abs(up.deviation) <= *up.acceptance ? Verdict::pass : Verdict::fail);
        for (const Part& part : up.contains)
            EXPECT_NE(part.name, "hysteresis");
        EXPECT_GT(*point.mean->expanded, *up.expanded);
        EXPECT_FALSE(point.mean->verdict || point.mean->acceptance || point.mean->outside);
        EXPECT_EQ(point.outside, std::max(*point.up->outside, *point.down->outside));
    }
}

} // namespace
} // namespace stillmark::metrology
