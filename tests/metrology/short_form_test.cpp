#include "metrology/invented_balance.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

namespace stillmark::metrology {
namespace {

const std::string certificate = "certificate of the range high";

ReferenceInputs with_short_form(std::vector<std::string> covers) {
    ReferenceInputs in = invented_inputs();
    in.range.short_form = ShortForm{.constant_pa = 40, .of_pressure = 15e-6, .dof = 50, .covers = std::move(covers)};
    return in;
}

const BudgetLine* line(const ReferencePressure& p, const std::string& input) {
    const auto found =
        std::find_if(p.budget.begin(), p.budget.end(), [&](const BudgetLine& one) { return one.input == input; });
    return found == p.budget.end() ? nullptr : &*found;
}

TEST(ShortForm, StandsForWhatItCoversAndNothingElse) {
    const std::vector<std::string> covers(short_form_may_cover.begin(), short_form_may_cover.end());
    const ReferencePressure full = reference_pressure(invented_inputs());
    const ReferencePressure p = reference_pressure(with_short_form(covers));
    EXPECT_EQ(p.at_instrument_pa, full.at_instrument_pa) << "it changes what is known, not what is there";
    std::vector<std::string> left;
    for (const BudgetLine& one : p.budget)
        left.push_back(one.input);
    std::sort(left.begin(), left.end());
    // Local gravity, temperatures, levels and drift are the user's own and are still added.
    EXPECT_EQ(left,
              (std::vector<std::string>{"air pressure", "air temperature", certificate, "density of the liquid",
                                        "density of water", "drift of the area", "equation of the air density",
                                        "float height", "height of head segment 1", "height of head segment 2",
                                        "humidity", "level of the range", "local gravity", "piston temperature"}));
    for (const char* own : {"local gravity", "piston temperature", "drift of the area", "level of the range"}) {
        ASSERT_NE(line(p, own), nullptr) << own;
        EXPECT_EQ(line(p, own)->contribution_pa, line(full, own)->contribution_pa) << own;
    }
}

TEST(ShortForm, ItsTwoTermsAddUpAsOneError) {
    const ReferencePressure p = reference_pressure(with_short_form({"effective area"}));
    const BudgetLine* own = line(p, certificate);
    ASSERT_NE(own, nullptr);
    EXPECT_NEAR(own->contribution_pa / (40 + 15e-6 * p.at_balance_pa), 1, 1e-12);
    EXPECT_EQ(own->dof, 50);
    EXPECT_EQ(line(p, "effective area"), nullptr);
    EXPECT_NE(line(p, "masses of set"), nullptr) << "not covered, so still added";
}

TEST(ShortForm, WhatItDoesNotCoverKeepsItsPlaceInTheCombination) {
    for (const char* kind : {"effective area", "distortion coefficient", "masses", "tilt"}) {
        const ReferencePressure none = reference_pressure(with_short_form({}));
        const ReferencePressure one = reference_pressure(with_short_form({kind}));
        EXPECT_LT(one.u_pa, none.u_pa) << kind;
        EXPECT_LT(one.budget.size(), none.budget.size()) << kind;
    }
}

TEST(MassCorrelation, RAppearsBetweenTheErrorsOfTheDiscs) {
    const auto u_of_masses_pa = [](double r) {
        ReferenceInputs in = invented_inputs();
        for (MassPiece& disc : in.discs)
            disc.mass_correlation = r;
        const ReferencePressure p = reference_pressure(in);
        double variance = 0;
        for (const BudgetLine& one : p.budget)
            if (one.input == "masses of set" || one.input.starts_with("own error of "))
                variance += one.contribution_pa * one.contribution_pa;
        return std::sqrt(variance);
    };
    const double one_kilogram_pa = 9.80731 / 11.3e-6 * (1 - 1.13 / 7920);
    const double a = 3e-5 * one_kilogram_pa, c = 6e-6 * one_kilogram_pa;
    for (const double r : {0.0, 0.3, 0.8, 1.0}) {
        // JCGM 100:2008, 5.2.2, equation 16, over three discs of which two are alike.
        const double expected = std::sqrt(2 * a * a + c * c + 2 * r * (a * a + 2 * a * c));
        EXPECT_NEAR(u_of_masses_pa(r) / expected, 1, 5e-4) << r;
    }
    EXPECT_GT(u_of_masses_pa(1), u_of_masses_pa(0.8));
}

TEST(MassCorrelation, OfOneLeavesNoErrorOfItsOwn) {
    const ReferencePressure p = reference_pressure(invented_inputs());
    EXPECT_EQ(line(p, "own error of A1"), nullptr);
}

TEST(Budget, SharesSumToOneAndFallDownTheTable) {
    const ReferencePressure p = reference_pressure(invented_inputs());
    double sum = 0, before = 1;
    for (const BudgetLine& one : p.budget) {
        EXPECT_NEAR(one.share, one.contribution_pa * one.contribution_pa / (p.u_pa * p.u_pa), 1e-15);
        EXPECT_LE(one.share, before);
        before = one.share;
        sum += one.share;
    }
    EXPECT_NEAR(sum, 1, 1e-14);
}

// JCGM 100:2008, table G.2, 95.45 %: t is 2.00 for infinite degrees of freedom, 2.06 for 40, 2.28 for 10.
TEST(Budget, ExpandsByStudentsTForTheCoverageOfAllResults) {
    ReferenceInputs in = invented_inputs();
    const ReferencePressure p = reference_pressure(in);
    EXPECT_GT(p.dof, 40);
    EXPECT_GE(p.k, 2.00);
    EXPECT_LT(p.k, 2.06);
    EXPECT_EQ(p.expanded_pa, p.k * p.u_pa);
    in.range.area_m2 = {.value = 11.3e-6, .u = 1e-6, .dof = 10}; // so much that it decides alone
    EXPECT_NEAR(reference_pressure(in).k, 2.28, 5e-3);
}

TEST(Notes, SayWhatIsAnEstimate) {
    ReferenceInputs in = invented_inputs();
    EXPECT_TRUE(reference_pressure(in).notes.empty());
    in.range.distortion_is_estimate = true;
    in.air.temperature_c.value = 35;
    const auto notes = reference_pressure(in).notes;
    ASSERT_EQ(notes.size(), 2u);
    EXPECT_NE(notes[0].find("estimate from material constants"), std::string::npos);
    EXPECT_NE(notes[1].find("CIPM-2007"), std::string::npos);
}

} // namespace
} // namespace stillmark::metrology
