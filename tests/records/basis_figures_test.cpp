#include "daemon/records/basis_figures.hpp"

#include <gtest/gtest.h>

#include <cmath>

// What is printed of a verdict leads to it.
namespace stillmark::records {
namespace {

using metrology::ConformityBasis;
using metrology::DecisionRule;
using metrology::Rule;
using metrology::Verdict;

ConformityBasis judged(double deviation, double u, double permissible, const DecisionRule& rule,
                       double dof = ConformityBasis::infinite_dof) {
    ConformityBasis basis;
    basis.deviation = deviation;
    metrology::put_uncertainty(basis, {{u, dof}}, 0);
    metrology::judge(basis, permissible, rule);
    return basis;
}

TEST(BasisFigures, TwoDigitsOfTheUncertaintyAreEnoughFarFromTheLimit) {
    const auto basis = judged(-2.04, 0.8, 10, {}, 16.43);
    const Basis one = basis_figures(basis, DecisionRule{}, 1, 1);
    EXPECT_EQ(one.expanded.text, "1.7");
    EXPECT_EQ(one.deviation.text, "-2.0");
    EXPECT_EQ(one.k.text, "2.16");
    EXPECT_EQ(one.dof.text, "16.4");
    EXPECT_EQ(one.permissible.text, "10");
    EXPECT_EQ(one.acceptance.text, "10.0");
    EXPECT_EQ(one.verdict, Verdict::pass);
}

// 10.004 is beyond 10 and would be printed as 10.00.
TEST(BasisFigures, AVerdictThatHangsOnMoreDigitsShowsThem) {
    const Basis one = basis_figures(judged(10.004, 0.1, 10, {}), DecisionRule{}, 1, 1);
    EXPECT_EQ(one.verdict, Verdict::fail);
    EXPECT_EQ(one.deviation.text, "10.004");
    EXPECT_EQ(one.expanded.text, "0.200");
    EXPECT_EQ(one.acceptance.text, "10.000");
}

// The limit 3.5 - 1.638 = 1.862 is 1.9 in two digits, and so is a deviation of 1.88, which fails.
TEST(BasisFigures, SoDoesAGuardBand) {
    const DecisionRule rule{Rule::guard_band};
    const Basis one = basis_figures(judged(1.88, 0.819, 3.5, rule), rule, 1, 1);
    EXPECT_EQ(one.verdict, Verdict::fail);
    EXPECT_GT(printed_value(one.deviation), printed_value(one.acceptance));
    EXPECT_GT(printed_value(one.deviation), 3.5 - printed_value(one.expanded));
}

TEST(BasisFigures, AProbabilityAtTheRiskIsToldApartFromIt) {
    const DecisionRule rule{Rule::specific_risk, 1, false, 0.05};
    const auto at_limit = judged(0, 1, 10, rule, 4);
    const auto basis = judged(*at_limit.acceptance + 1e-4, 1, 10, rule, 4);
    const Basis one = basis_figures(basis, rule, 1, 1);
    EXPECT_EQ(one.verdict, Verdict::fail);
    EXPECT_GT(printed_value(one.outside), 5);
    EXPECT_GT(printed_value(one.deviation), printed_value(one.acceptance));
}

TEST(BasisFigures, WithoutAnUncertaintyOnlyTheDeviationStands) {
    ConformityBasis basis;
    basis.deviation = 0.123456;
    const Basis one = basis_figures(basis, std::nullopt, 1, 0.01);
    EXPECT_EQ(one.deviation.text, "0.123");
    for (const Figure* figure : {&one.expanded, &one.k, &one.dof, &one.permissible, &one.acceptance, &one.outside})
        EXPECT_FALSE(figure->there());
}

TEST(BasisFigures, InfiniteDegreesOfFreedomAreAWord) {
    const Basis one = basis_figures(judged(0, 1, 10, {}), DecisionRule{}, 1, 1);
    EXPECT_EQ(one.dof.text, infinite_dof);
    EXPECT_EQ(one.k.text, "2.00");
    EXPECT_EQ(basis_figures(judged(0, 1, 10, {}, 12345), DecisionRule{}, 1, 1).dof.text, infinite_dof);
    EXPECT_EQ(basis_figures(judged(0, 1, 10, {}, 9123), DecisionRule{}, 1, 1).dof.text, "9120");
}

TEST(BasisFigures, AProcessIsScaledWithItsUnit) {
    const auto rule = rule_in_unit(DecisionRule{Rule::global_risk, 1, false, 0.02, metrology::Process{1e4, 2e5}}, 1e-5);
    EXPECT_DOUBLE_EQ(rule->process->mean, 0.1);
    const auto figures = rule_figures(*rule);
    ASSERT_EQ(figures.size(), 3U);
    EXPECT_EQ(figures[1].figure.text, "2");
    EXPECT_TRUE(figures[1].in_unit);
    EXPECT_EQ(figures[2].figure.text, "0.02");
}

} // namespace
} // namespace stillmark::records
