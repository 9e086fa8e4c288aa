#include "daemon/bench/planned_loads.hpp"
#include "daemon/bench/reference.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <sstream>

namespace stillmark::bench::testing {
namespace {

std::string whole(const std::filesystem::path& path) {
    std::ifstream file(path);
    std::stringstream text;
    text << file.rdbuf();
    return text.str();
}

BenchFile demo(const std::vector<std::pair<std::string, std::string>>& edits = {}) {
    const std::filesystem::path source = STILLMARK_SOURCE_DIR;
    auto text = whole(source / "simulator/demo/bench.json");
    for (const auto& [old, now] : edits) {
        const auto at = text.find(old);
        EXPECT_NE(at, std::string::npos) << old;
        if (at != std::string::npos) text.replace(at, old.size(), now);
    }
    std::map<std::string, std::string> profiles;
    for (const auto& entry : std::filesystem::directory_iterator(source / "drivers/profiles"))
        if (entry.path().extension() == ".json") profiles[entry.path().filename()] = whole(entry.path());
    auto bench = bench_from_texts("demo", text, profiles);
    EXPECT_TRUE(bench) << (bench ? "" : bench.error().message);
    return bench ? std::move(*bench) : BenchFile{};
}

double made_pa(const BenchFile& bench, std::size_t range, const std::vector<std::size_t>& discs) {
    return metrology::reference_pressure_pa(reference_inputs(bench, range, discs, bench.surroundings.air,
                                                             bench.surroundings.piston_temperature_c, nullptr));
}
std::vector<PlannedLoad> planned(const BenchFile& bench, const std::vector<LoadTarget>& targets) {
    return plan_loads(bench, targets, bench.surroundings.air, bench.surroundings.piston_temperature_c);
}

TEST(PlannedLoads, EveryPointOfTheDemoIsMadeAsNearAsTheFileHasIt) {
    const BenchFile bench = demo();
    std::vector<LoadTarget> targets;
    for (const auto& point : bench.sequences[0].points)
        targets.push_back({point.target_pa, point.range});
    const auto loads = planned(bench, targets);
    ASSERT_EQ(loads.size(), targets.size());
    for (std::size_t i = 0; i < loads.size(); ++i) {
        EXPECT_EQ(loads[i].pressure_pa, made_pa(bench, targets[i].range, loads[i].discs));
        const double by_file_pa = made_pa(bench, targets[i].range, bench.sequences[0].points[i].discs);
        EXPECT_LE(std::abs(loads[i].pressure_pa - targets[i].pressure_pa),
                  std::abs(by_file_pa - targets[i].pressure_pa) + load_tolerance * targets[i].pressure_pa)
            << "point " << i;
    }
    EXPECT_TRUE(loads[0].discs.empty()) << "2 bar is what the floating parts make";
}

// No load of the whole set comes nearer, whatever today's air and temperature are.
TEST(PlannedLoads, NothingComesNearerUnderTodaysSurroundings) {
    const BenchFile bench = demo();
    auto air = bench.surroundings.air;
    air.pressure_pa.value = 90000;
    metrology::Uncertain piston = bench.surroundings.piston_temperature_c;
    piston.value = 26;
    const LoadTarget target{333e5, 1};
    const auto loads = plan_loads(bench, std::vector{target}, air, piston);
    // By hand: A1..A10 are alike, so a count of them and any of the eight others.
    double nearest_pa = 1e9;
    for (std::size_t tens = 0; tens <= 10; ++tens)
        for (unsigned bits = 0; bits < 256; ++bits) {
            std::vector<std::size_t> discs;
            for (std::size_t i = 0; i < tens; ++i)
                discs.push_back(i);
            for (unsigned i = 0; i < 8; ++i)
                if ((bits >> i & 1U) != 0) discs.push_back(10 + i);
            const double pa = metrology::reference_pressure_pa(reference_inputs(bench, 1, discs, air, piston, nullptr));
            nearest_pa = std::min(nearest_pa, std::abs(pa - target.pressure_pa));
        }
    EXPECT_LE(std::abs(loads[0].pressure_pa - target.pressure_pa), nearest_pa + load_tolerance * target.pressure_pa);
    const auto figures = plan_loads_with_figures(bench, std::vector{target}, air, piston, LoadChoice::today, {});
    EXPECT_NEAR(std::abs(figures.nearest_pa[0] - target.pressure_pa), nearest_pa, 2e-3);
    EXPECT_TRUE(figures.proven) << "18 discs, but alike ones leave few loads";
}

TEST(PlannedLoads, TheNominalStackIsTheSameUnderAnySurroundings) {
    const BenchFile bench = demo();
    const std::vector<LoadTarget> targets{{20e5, 0}, {100e5, 0}, {300e5, 1}};
    auto air = bench.surroundings.air;
    const auto piston = bench.surroundings.piston_temperature_c;
    const auto here = plan_loads_with_figures(bench, targets, air, piston, LoadChoice::nominal, {});
    air.pressure_pa.value = 70000;
    const auto high = plan_loads_with_figures(bench, targets, air, piston, LoadChoice::nominal, {});
    for (std::size_t i = 0; i < targets.size(); ++i)
        EXPECT_EQ(here.loads[i].discs, high.loads[i].discs);
    EXPECT_NE(here.loads[0].pressure_pa, high.loads[0].pressure_pa) << "the pressure told is today's";
}

TEST(PlannedLoads, AVentedVisitNeedsNoLoadAndMovesNothing) {
    const BenchFile bench = demo();
    const std::vector<LoadTarget> with{{20e5, 0}, {0, 0}, {20e5, 0}};
    const auto plan = plan_loads_with_figures(bench, with, bench.surroundings.air,
                                              bench.surroundings.piston_temperature_c, LoadChoice::today, {});
    EXPECT_TRUE(plan.loads[1].discs.empty());
    EXPECT_EQ(plan.loads[1].pressure_pa, 0);
    EXPECT_EQ(plan.lifts, static_cast<std::int64_t>(plan.loads[0].discs.size()));
}

TEST(PlannedLoads, NoLoadGoesAboveTheLowestRating) {
    const BenchFile bench = demo({{R"("rating": "1000 bar"},)", R"("rating": "1000 bar"},
    {"part": "invented hose", "rating": "905 bar"},)"}});
    ASSERT_NEAR(bench.weakest().rating_pa, 905e5, 1);
    const auto loads = planned(bench, {{905e5, 1}, {912e5, 1}});
    for (const auto& load : loads)
        EXPECT_LE(load.pressure_pa, 905e5);
    EXPECT_GT(loads[0].pressure_pa, 903e5);
}

// Far above what the range may make there is no load at all, and the plan says so instead of a number.
TEST(PlannedLoads, WhatNoLoadMakesIsNotANumber) {
    BenchFile bench = demo();
    bench.balance.ranges[0].lowest_pa = 500e5;
    bench.balance.ranges[0].highest_pa = 600e5;
    const auto loads = planned(bench, {{550e5, 0}});
    EXPECT_TRUE(std::isnan(loads[0].pressure_pa));
    EXPECT_TRUE(loads[0].discs.empty());
}

TEST(PlannedLoads, ADiscOfOneRangeStaysOutOfTheOther) {
    BenchFile bench = demo({{R"({"id": "C2", )", R"({"id": "C2", "ranges": ["high"], )"}});
    ASSERT_EQ(bench.discs[12].ranges, std::vector<std::size_t>{1});
    // 4 kg beside the floating parts want both discs of 2 kg.
    const double low_pa = made_pa(bench, 0, {11, 12}), high_pa = made_pa(bench, 1, {11, 12});
    EXPECT_EQ(planned(bench, {{high_pa, 1}})[0].discs, (std::vector<std::size_t>{11, 12}));
    const auto low = planned(bench, {{low_pa, 0}})[0].discs;
    EXPECT_EQ(std::count(low.begin(), low.end(), 12U), 0);
}

// What the narrow piston carries must press the wide one along; lighter loads lift nothing properly. Here the wide
// piston is made so heavy that the empty head is too light.
TEST(PlannedLoads, TooLightALoadForTwoPistonsIsNotPlanned) {
    BenchFile bench = demo();
    bench.balance.stop_piston_mass_kg = 1.9; // of the 2 kg that float
    bench.balance.ranges[0].lowest_pa = 1e5;
    const double least_kg = 1.9 * 11.3 / (98.07 - 11.3); // carried by the narrow piston, which has 0.1 kg itself
    const auto loads = planned(bench, {{2e5, 0}});
    double carried_kg = 0.1;
    for (const auto disc : loads[0].discs)
        carried_kg += bench.discs[disc].piece.mass_kg.value;
    EXPECT_GT(carried_kg, least_kg);
    EXPECT_FALSE(loads[0].discs.empty());
}

} // namespace
} // namespace stillmark::bench::testing
