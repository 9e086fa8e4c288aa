#include "daemon/metrology/overlap.hpp"
#include "metrology/invented_balance.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

namespace stillmark::metrology {
namespace {

BudgetLine line(const char* input, double contribution_pa) {
    BudgetLine out;
    out.input = input;
    out.contribution_pa = contribution_pa;
    return out;
}

TEST(Overlap, WhatBothRangesShareCancels) {
    const std::vector<BudgetLine> low{line("local gravity", 30), line("effective area", 3)};
    const std::vector<BudgetLine> high{line("local gravity", 30), line("effective area", 4)};
    EXPECT_DOUBLE_EQ(u_of_difference_pa(low, high), 5);
}

TEST(Overlap, WhatMovesBothOppositelyAddsUp) {
    EXPECT_DOUBLE_EQ(u_of_difference_pa({line("air pressure", 2)}, {line("air pressure", -1)}), 3);
}

TEST(Overlap, AnInputOfOneRangeAloneCountsWhole) {
    EXPECT_DOUBLE_EQ(u_of_difference_pa({line("mass of wide piston", 3)}, {line("height of head segment 2", 4)}), 5);
}

// Renaming an input of the budget must not make it shared.
TEST(Overlap, EveryInputOfOneRangeStandsInABudget) {
    const auto budget = reference_pressure(invented_inputs()).budget;
    const auto of_one_range = std::count_if(budget.begin(), budget.end(),
                                            [](const BudgetLine& one) { return belongs_to_one_range(one.input); });
    EXPECT_EQ(of_one_range, 9);
    EXPECT_FALSE(belongs_to_one_range("local gravity"));
    // A range against itself leaves only what belongs to it, twice.
    double own = 0;
    for (const auto& one : budget)
        own += belongs_to_one_range(one.input) ? 2 * one.contribution_pa * one.contribution_pa : 0;
    EXPECT_NEAR(u_of_difference_pa(budget, budget), std::sqrt(own), 1e-9 * std::sqrt(own));
}

} // namespace
} // namespace stillmark::metrology
