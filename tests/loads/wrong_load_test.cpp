#include "daemon/metrology/loads/wrong_load.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <random>

namespace stillmark::metrology {
namespace {

using Offsets = std::vector<ChannelOffset>;

TEST(CommonOffset, ChannelsThatAgreeGiveTheirWeightedMean) {
    const auto common = common_offset(Offsets{{-100, 10}, {-104, 10}, {-90, 20}});
    ASSERT_TRUE(common);
    const double weights = 1 / 100.0 + 1 / 100.0 + 1 / 400.0;
    EXPECT_NEAR(common->off_pa, (-100 / 100.0 - 104 / 100.0 - 90 / 400.0) / weights, 1e-9);
    EXPECT_NEAR(common->u_pa, 1 / std::sqrt(weights), 1e-12);
    EXPECT_EQ(common->agreeing, 3U);
}
TEST(CommonOffset, OneFaultyInstrumentOfThreeDoesNotHideIt) {
    const auto common = common_offset(Offsets{{-100, 10}, {-104, 10}, {900, 10}});
    ASSERT_TRUE(common);
    EXPECT_EQ(common->agreeing, 2U);
    EXPECT_NEAR(common->off_pa, -102, 1e-9);
}
TEST(CommonOffset, InstrumentsThatAreOffEachByItselfAreNoLoadsDoing) {
    EXPECT_FALSE(common_offset(Offsets{{-100, 10}, {100, 10}}));
    EXPECT_FALSE(common_offset(Offsets{{-100, 10}, {0, 10}, {100, 10}}));
}
TEST(CommonOffset, WhatTheInstrumentsMayBeOffByIsNoSuspicion) {
    EXPECT_FALSE(common_offset(Offsets{{20, 10}, {25, 10}}));
    EXPECT_FALSE(common_offset(Offsets{}));
}

/// An invented range of 1 cm2: 1 kg makes 1 bar, 2 kg of floating parts.
LoadCase invented(const std::vector<double>& discs_kg, const std::vector<std::size_t>& stated) {
    LoadCase load;
    load.discs_kg = discs_kg;
    load.stated.assign(discs_kg.size(), false);
    for (const auto disc : stated)
        load.stated[disc] = true;
    load.moved = load.stated;
    load.usable.assign(discs_kg.size(), true);
    load.parts_kg = {1.2, 0.8};
    load.pressure_pa = [](double kg) { return 1e5 * (kg + 2) * (1 - 1e-9 * 1e5 * (kg + 2) / 1e5); };
    double sum = 0;
    for (const auto disc : stated)
        sum += discs_kg[disc];
    load.reference_pa = load.pressure_pa(sum);
    return load;
}
CommonOffset seen(double off_pa, double u_pa = 3000) {
    return {off_pa, u_pa, 3};
}

TEST(WrongLoad, ADiscThatIsNotThere) {
    const auto load = invented({10, 5, 2, 1, 0.5}, {0, 2, 3});
    const auto ranked = explain(load, seen(-2.01e5));
    ASSERT_FALSE(ranked.empty());
    EXPECT_EQ(ranked[0].fault, LoadFault::missing_disc);
    EXPECT_EQ(ranked[0].disc, 2U);
    EXPECT_NEAR(ranked[0].predicted_pa, -2e5, 10);
    EXPECT_NEAR(ranked[0].misfit, 1000 / 3000.0, 0.01);
    EXPECT_GT(ranked[0].probability, 0.9);
}
TEST(WrongLoad, ADiscThatWasNotStated) {
    const auto ranked = explain(invented({10, 5, 2, 1, 0.5}, {0, 2}), seen(0.5e5));
    EXPECT_EQ(ranked[0].fault, LoadFault::extra_disc);
    EXPECT_EQ(ranked[0].disc, 4U);
}
TEST(WrongLoad, OneDiscInThePlaceOfAnother) {
    const auto ranked = explain(invented({10, 5, 2, 1, 0.5}, {0, 1}), seen(-3e5));
    EXPECT_EQ(ranked[0].fault, LoadFault::swapped_disc);
    EXPECT_EQ(ranked[0].disc, 1U);
    EXPECT_EQ(ranked[0].other, 2U);
}
TEST(WrongLoad, AForgottenFloatingPart) {
    auto load = invented({10, 5, 2}, {0});
    load.first_load = true;
    const auto ranked = explain(load, seen(-1.2e5));
    EXPECT_EQ(ranked[0].fault, LoadFault::forgotten_part);
    EXPECT_EQ(ranked[0].disc, 0U);
}
TEST(WrongLoad, ValvesOfAnotherRange) {
    auto load = invented({10, 5, 2, 1}, {0, 1});
    load.others = {{1, 9 * load.reference_pa}};
    load.range_changed = true;
    EXPECT_EQ(explain(load, seen(8 * load.reference_pa))[0].fault, LoadFault::other_range);
    EXPECT_EQ(explain(load, seen(4.4321 * load.reference_pa))[0].fault, LoadFault::between_ranges);
}
TEST(WrongLoad, WhatNoSingleFaultMakesIsSaidToBeNone) {
    const auto ranked = explain(invented({10, 5, 2}, {0, 1}), seen(-0.7e5));
    EXPECT_EQ(ranked[0].fault, LoadFault::none);
}
TEST(WrongLoad, WhatWasJustMovedComesFirst) {
    auto load = invented({10, 2, 2.0001}, {0, 1, 2});
    load.moved = {false, false, true};
    EXPECT_EQ(explain(load, seen(-2e5))[0].disc, 2U);
    load.moved = {false, true, false};
    EXPECT_EQ(explain(load, seen(-2e5))[0].disc, 1U);
}
TEST(WrongLoad, EqualDiscsAreToldOnce) {
    const auto ranked = explain(invented({10, 10, 10, 10}, {0, 1, 2}), seen(-1e6));
    EXPECT_EQ(std::count_if(ranked.begin(), ranked.end(),
                            [](const auto& one) { return one.fault == LoadFault::missing_disc; }),
              1);
}
TEST(WrongLoad, ProbabilitiesFallAndStayWithinOne) {
    const auto ranked = explain(invented({10, 5, 2, 1, 0.5, 0.2}, {0, 2, 3}), seen(-1.1e5, 30000));
    double sum = 0;
    for (std::size_t i = 0; i < ranked.size(); ++i) {
        if (i > 0) {
            EXPECT_LE(ranked[i].probability, ranked[i - 1].probability);
        }
        sum += ranked[i].probability;
    }
    EXPECT_LE(sum, 1 + 1e-12);
    EXPECT_GT(ranked.size(), 1U);
}

// Random benches, random single faults in what was just moved: the truth stands first, except where another fault makes
// the same offset within what the instruments can tell.
TEST(WrongLoad, TheTruthStandsFirstOnRandomBenches) {
    std::mt19937 draw(31);
    const auto among = [&](std::size_t least, std::size_t most) {
        return std::uniform_int_distribution<std::size_t>(least, most)(draw);
    };
    std::normal_distribution<double> normal;
    int first = 0, told = 0;
    constexpr int cases = 400;
    for (int i = 0; i < cases; ++i) {
        std::vector<double> discs;
        for (const double nominal : {10.0, 5.0, 2.0, 1.0, 0.5})
            for (std::size_t k = 0; k < among(1, 3); ++k)
                discs.push_back(nominal * (1 + 1e-5 * normal(draw)));
        std::vector<std::size_t> stated;
        for (std::size_t disc = 0; disc < discs.size(); ++disc)
            if (among(0, 1) == 0) stated.push_back(disc);
        if (stated.empty()) stated.push_back(0);
        auto load = invented(discs, stated);
        load.moved.assign(discs.size(), false);
        const std::size_t slip = stated[among(0, stated.size() - 1)];
        load.moved[slip] = true;
        double true_pa = -1e5 * discs[slip];
        auto fault = LoadFault::missing_disc;
        std::size_t on_table = discs.size();
        for (std::size_t disc = 0; disc < discs.size(); ++disc)
            if (!load.stated[disc] && std::abs(discs[disc] - discs[slip]) > 0.1) on_table = disc;
        if (among(0, 2) == 0 && on_table < discs.size()) {
            fault = LoadFault::swapped_disc;
            true_pa += 1e5 * discs[on_table];
        }
        const double u_pa = 2000;
        const auto ranked = explain(load, seen(true_pa + u_pa * normal(draw), u_pa));
        const auto is_it = [&](const LoadExplanation& one) {
            return one.fault == fault && std::abs(discs[one.disc] - discs[slip]) < 0.01;
        };
        first += is_it(ranked[0]) ? 1 : 0;
        const bool rival = std::any_of(ranked.begin(), ranked.end(), [&](const LoadExplanation& one) {
            return !is_it(one) && std::abs(one.predicted_pa - true_pa) < 4 * u_pa;
        });
        const bool found = std::any_of(ranked.begin(), ranked.end(), is_it);
        told += found || rival ? 1 : 0;
        if (!rival) {
            EXPECT_TRUE(is_it(ranked[0])) << "case " << i;
        }
    }
    EXPECT_GE(told, cases * 98 / 100);
    EXPECT_GE(first, cases * 60 / 100);
    RecordProperty("first", first);
}

} // namespace
} // namespace stillmark::metrology
