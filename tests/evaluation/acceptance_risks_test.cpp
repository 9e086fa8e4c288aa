#include "daemon/metrology/evaluation/acceptance_risks.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace stillmark::metrology {
namespace {

// Deaver (NCSL), as the tests of an open national laboratory's library cite it: a tolerance of two standard deviations
// of the process, which is four standard uncertainties wide for each of them: 0.8 % false accepts, 1.5 % false rejects.
TEST(AcceptanceRisks, TwoStandardDeviationsAndARatioOfFour) {
    const auto risks = acceptance_risks({0, 1}, 0.25, 2, 2);
    EXPECT_NEAR(risks.consumers, 0.008, 5e-4);
    EXPECT_NEAR(risks.producers, 0.015, 5e-4);
    EXPECT_NEAR(risks.consumers, 0.0080060848, 5e-11);
    EXPECT_NEAR(risks.producers, 0.014850884, 5e-10);
}

// The same: 2.5 standard deviations, ratios of 4 and 1.
TEST(AcceptanceRisks, TwoAndAHalfStandardDeviations) {
    EXPECT_NEAR(acceptance_risks({0, 1}, 0.25, 2.5, 2.5).consumers, 0.0024453487, 5e-11);
    EXPECT_NEAR(acceptance_risks({0, 1}, 1, 2.5, 2.5).consumers, 0.0047235665, 5e-11);
}

// In-tolerance probability 95 %, test uncertainty ratios of 4, 2 and 1 (recomputed figures).
TEST(AcceptanceRisks, AProcessOf95PerCent) {
    const double sd = 1 / 1.959963984540054;
    const struct {
        double ratio, consumers, producers;
    } rows[] = {{4, 0.0085826648, 0.015536513}, {2, 0.013373408, 0.041775296}, {1, 0.018011555, 0.12957158}};
    for (const auto& row : rows) {
        const auto risks = acceptance_risks({0, sd}, 1 / (2 * row.ratio), 1, 1);
        EXPECT_NEAR(risks.conforming, 0.95, 1e-12);
        EXPECT_NEAR(risks.consumers, row.consumers, 1e-9);
        EXPECT_NEAR(risks.producers, row.producers, 1e-8);
    }
}

// Each of the four parts of all instruments, and what of the accepted and of the rejected is wrong.
TEST(AcceptanceRisks, TheConditionalRisksAreOfTheAcceptedAndTheRejected) {
    const auto risks = acceptance_risks({0.3, 1}, 0.5, 2, 1.6);
    const double conforming_accepted = risks.conforming - risks.producers;
    EXPECT_NEAR(conforming_accepted + risks.consumers, risks.accepted, 1e-12);
    EXPECT_NEAR(risks.of_accepted * risks.accepted, risks.consumers, 1e-15);
    EXPECT_NEAR(risks.of_rejected * (1 - risks.accepted), risks.producers, 1e-15);
    EXPECT_GT(risks.of_accepted, risks.consumers);
}

// ILAC-G8:09/2019: w = U keeps the risk of a single acceptance under 2.5 % (2.28 % where U = 2 u), w = 0 under 50 %.
TEST(AcceptanceRisks, TheSpecificRiskAtTheLimit) {
    EXPECT_NEAR(acceptance_risks({0, 1}, 0.1, 2, 1.8).specific_at_limit, 0.0227501, 5e-8);
    EXPECT_NEAR(acceptance_risks({0, 1}, 0.1, 2, 2).specific_at_limit, 0.5, 1e-12);
}

TEST(AcceptanceRisks, ANarrowerLimitTradesOneRiskForTheOther) {
    const auto wide = acceptance_risks({0, 1}, 0.5, 2, 2), narrow = acceptance_risks({0, 1}, 0.5, 2, 1.5);
    EXPECT_LT(narrow.consumers, wide.consumers);
    EXPECT_GT(narrow.producers, wide.producers);
}

TEST(AcceptanceRisks, WhereNothingIsAccepted) {
    const auto risks = acceptance_risks({0, 1}, 0.5, 2, 0);
    EXPECT_EQ(risks.accepted, 0);
    EXPECT_TRUE(std::isnan(risks.of_accepted));
    EXPECT_NEAR(risks.producers, risks.conforming, 1e-15);
}

} // namespace
} // namespace stillmark::metrology
