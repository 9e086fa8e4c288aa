#include "bench/world.hpp"
#include "daemon/bench/gates.hpp"
#include "daemon/bench/health.hpp"
#include "daemon/bench/reference.hpp"
#include "daemon/bench/suspicion.hpp"

#include <gtest/gtest.h>

#include <algorithm>

namespace stillmark::bench::testing {
namespace {

double made_pa(const World& world, const std::vector<std::size_t>& discs) {
    const auto& state = world.state;
    return metrology::reference_pressure_pa(reference_inputs(*state.bench, world.interval().range, discs,
                                                             state.conditions.air,
                                                             state.conditions.piston_temperature_c, nullptr));
}
/// What the wired channels of the run read where these discs are really on the head.
std::vector<SeenReading> seen(const World& world, const std::vector<std::size_t>& really, double drift_pa_per_s = 0) {
    const double off_pa = made_pa(world, really) - made_pa(world, world.interval().discs);
    std::vector<SeenReading> all;
    for (std::size_t i = 0; i < world.state.bench->instruments.size(); ++i) {
        const auto& instrument = world.state.bench->instruments[i];
        if (instrument.manual() || !world.run().takes_part[i]) continue;
        const double reference_pa = metrology::reference_pressure_pa(
            reference_inputs(*world.state.bench, world.interval().range, world.interval().discs,
                             world.state.conditions.air, world.state.conditions.piston_temperature_c, &instrument));
        all.push_back({i, reference_pa + off_pa, drift_pa_per_s});
    }
    return all;
}
/// Stated A1, B1, C1, D1 of the small bench for 20 bar in the low range.
World loaded() {
    World world = World::at_first(StepKind::read);
    for (int steps = 0; steps < 200 && (world.at() != StepKind::read || world.interval().discs.size() < 4); ++steps)
        world.work_one_step();
    return world;
}

TEST(Suspicion, ARightLoadIsNotSuspected) {
    const World world = loaded();
    EXPECT_FALSE(suspect_wrong_load(world.state, seen(world, world.interval().discs)));
}
TEST(Suspicion, AForgottenDiscIsNamedFirst) {
    World world = loaded();
    auto really = world.interval().discs;
    const auto forgotten = really.back();
    really.pop_back();
    const auto fact = suspect_wrong_load(world.state, seen(world, really));
    ASSERT_TRUE(fact);
    EXPECT_EQ(fact->interval, world.interval().number);
    EXPECT_LT(fact->offset_pa, 0);
    EXPECT_NE(fact->explanations.front().find("disc " + world.state.bench->discs[forgotten].piece.name + " "),
              std::string::npos)
        << fact->explanations.front();
    EXPECT_NE(fact->explanations.front().find("was stated and is not on the head"), std::string::npos);
}
TEST(Suspicion, ItIsAdviceOfTheOpenFloatAlone) {
    World world = loaded();
    auto really = world.interval().discs;
    really.pop_back();
    const auto marks = world.state.marks.size();
    world.happen(*suspect_wrong_load(world.state, seen(world, really)));
    ASSERT_NE(load_suspicion(world.state), nullptr);
    EXPECT_EQ(load_suspicion(world.state)->run, world.run().id);
    EXPECT_NE(load_suspicion(world.state)->words.find("count the discs"), std::string::npos);
    EXPECT_EQ(world.state.marks.size(), marks);
    ASSERT_FALSE(world.told.empty());
    EXPECT_NE(world.told.back().words.find("most likely: disc"), std::string::npos);
    world.lost();
    EXPECT_EQ(load_suspicion(world.state), nullptr);
    EXPECT_EQ(world.state.suspicions.size(), 1U) << "it stays on record";
}
TEST(Suspicion, ASuspicionTakesNoUndoAway) {
    World world = loaded();
    ASSERT_TRUE(world.state.undo);
    auto really = world.interval().discs;
    really.pop_back();
    world.happen(*suspect_wrong_load(world.state, seen(world, really)));
    EXPECT_TRUE(world.state.undo);
}
TEST(Suspicion, ADriftIsToldWithItsReasons) {
    World world = loaded();
    const auto fact = suspect_loss(world.state, seen(world, world.interval().discs, -2000), world.now_us);
    ASSERT_TRUE(fact.reasons);
    ASSERT_FALSE(fact.reasons->empty());
    EXPECT_EQ(*fact.drift_pa_per_s, -2000);
    world.happen(fact);
    ASSERT_NE(float_suspicion(world.state), nullptr);
    EXPECT_NE(float_suspicion(world.state)->words.find("-1.2 bar a minute"), std::string::npos)
        << float_suspicion(world.state)->words;
    EXPECT_TRUE(world.state.loss_suspected);
}
TEST(Suspicion, AFactOfAnOlderBuildHasNoReasons) {
    World world = loaded();
    world.happen(LossSuspected{world.interval().number, {}, {}});
    ASSERT_NE(float_suspicion(world.state), nullptr);
    EXPECT_TRUE(float_suspicion(world.state)->ranked.empty());
}

std::string state(World& world, const HealthTexts& texts) {
    return world.does(state_health(world.state, world.press(), texts));
}

TEST(BalanceHealth, IsStatedJudgedAndKept) {
    World world;
    EXPECT_EQ(state(world, {"low", "0.5 mm/min", "", "", ""}), "");
    ASSERT_EQ(world.state.health.size(), 1U);
    EXPECT_EQ(world.state.health[0].by, "invented person");
    EXPECT_EQ(judge_health(world.state, 0).judgement.verdict, metrology::HealthVerdict::good);
    EXPECT_EQ(state(world, {"low", "", "20 s", "", ""}), "");
    EXPECT_EQ(judge_health(world.state, 1).judgement.verdict, metrology::HealthVerdict::poor);
    ASSERT_FALSE(world.told.empty());
    EXPECT_NE(world.told.back().words.find("poor"), std::string::npos);
}
TEST(BalanceHealth, AFallRateIsComparedAtTheHighestPressure) {
    World world;
    ASSERT_EQ(state(world, {"low", "0.3 mm/min", "", "", "55 bar"}), "");
    const auto judged = judge_health(world.state, 0);
    EXPECT_NEAR(judged.comparable, 0.6e-3 / 60, 1e-9) << "at 110 bar";
    EXPECT_NEAR(*judged.judgement.against_stated, 1, 1e-9);
}
TEST(BalanceHealth, ItsOwnHistoryIsItsMeasure) {
    World world;
    for (const char* time : {"300 s", "310 s", "290 s", "700 s"})
        ASSERT_EQ(state(world, {"low", "", time, "", ""}), "");
    EXPECT_FALSE(judge_health(world.state, 2).judgement.against_history);
    EXPECT_NEAR(*judge_health(world.state, 3).judgement.against_history, 700 / 300.0, 1e-9);
    EXPECT_EQ(judge_health(world.state, 3).judgement.verdict, metrology::HealthVerdict::changed);
}
std::string start(World& world, const std::string& override_health, const std::string& by = "invented person") {
    const Press press{world.now_us, world.now_us, by};
    return world.does(start_run(world.state, press, world.state.bench->sequences.front().name, "as found",
                                {"transmitter A"}, override_health));
}

TEST(BalanceHealth, ARangeInPoorHealthStartsNoRunWithoutAReason) {
    World world;
    ASSERT_EQ(state(world, {"low", "", "20 s", "", ""}), "");
    const std::string refusal = start(world, "");
    EXPECT_NE(refusal.find("needs a range in poor health (low range, spin time: 20 s, "), std::string::npos) << refusal;
    EXPECT_NE(refusal.find("Clean it and state its health again, or start with an override"), std::string::npos);
    EXPECT_TRUE(world.state.runs.empty());
    EXPECT_NE(start(world, "the spare piston comes on Monday", "").find("an override has a name"), std::string::npos);
    EXPECT_NE(start(world, std::string(2001, 'x')).find("is longer than 2000 bytes"), std::string::npos);
    ASSERT_TRUE(world.state.runs.empty());

    ASSERT_EQ(start(world, "the spare piston comes on Monday"), "");
    EXPECT_EQ(world.run().override_health, "the spare piston comes on Monday");
    EXPECT_EQ(world.run().poor_at_start, std::vector<std::size_t>{0});
    EXPECT_TRUE(world.told.back().alarm);
    EXPECT_NE(world.told.back().words.find("overridden by invented person: the spare piston"), std::string::npos);
    const auto gates = overridden_at_start(world.state, world.run());
    ASSERT_EQ(gates.size(), 1U);
    EXPECT_EQ(gates[0].code, GateCode::range_in_poor_health);
    EXPECT_EQ(gates[0].subject, "1");
}

TEST(BalanceHealth, WhatWasStatedLastOfASignDecides) {
    World world;
    ASSERT_EQ(state(world, {"low", "", "20 s", "", ""}), "");
    ASSERT_EQ(state(world, {"low", "0.5 mm/min", "", "", ""}), "") << "another sign does not make it good";
    EXPECT_NE(start(world, ""), "");
    ASSERT_EQ(state(world, {"low", "", "300 s", "", ""}), "");
    EXPECT_NE(start(world, "a reason for nothing").find("is in poor health; start without the override"),
              std::string::npos);
    EXPECT_EQ(start(world, ""), "");
    EXPECT_TRUE(world.run().override_health.empty());
}

TEST(BalanceHealth, ARangeThatTheSequenceDoesNotNeedMayBePoor) {
    World world;
    auto file = *world.state.bench;
    auto& points = file.sequences.front().points;
    ASSERT_EQ(ranges_of(file, file.sequences.front()), (std::set<std::string>{"high", "low"}));
    std::erase_if(points, [](const SequencePoint& one) { return one.range == 0; });
    EXPECT_EQ(ranges_of(file, file.sequences.front()), std::set<std::string>{"high"});
    // A zero is read of a line that is open to air.
    for (auto& point : points)
        point.zero = true;
    EXPECT_TRUE(ranges_of(file, file.sequences.front()).empty());
    ASSERT_EQ(state(world, {"low", "", "20 s", "", ""}), "");
    EXPECT_TRUE(poor_health(world.state, {"high"}).empty());
    EXPECT_EQ(poor_health(world.state, {"high", "low"}).size(), 1U);
}

TEST(BalanceHealth, WhatMakesNoSenseIsRefused) {
    World world;
    EXPECT_NE(state(world, {"middle", "1 mm/min", "", "", ""}).find("no range \"middle\""), std::string::npos);
    EXPECT_NE(state(world, {"low", "", "", "", ""}).find("found 0 of fall_rate"), std::string::npos);
    EXPECT_NE(state(world, {"low", "1 mm/min", "3 s", "", ""}).find("found 2 of fall_rate"), std::string::npos);
    EXPECT_NE(state(world, {"low", "", "0 s", "", ""}).find("over zero"), std::string::npos);
    EXPECT_NE(state(world, {"low", "3 bar", "", "", ""}).find("fall rate: "), std::string::npos);
    EXPECT_NE(state(world, {"low", "1 mm/min", "", "", "500 bar"}).find("outside the range"), std::string::npos);
    EXPECT_TRUE(world.state.health.empty());
}
TEST(BalanceHealth, RotationAlternates) {
    EXPECT_STRNE(rotation_word(0), rotation_word(1));
    EXPECT_STREQ(rotation_word(0), rotation_word(2));
}

} // namespace
} // namespace stillmark::bench::testing
