#include "bench/world.hpp"
#include "daemon/bench/approach.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace stillmark::bench::testing {
namespace {

World floating(const std::string& text = small_bench_text()) {
    World world = World::at_first(StepKind::raise, text);
    EXPECT_EQ(world.confirm("low"), "");
    world.still(0);
    world.still(1);
    return world;
}

TEST(Mark, HoldsWhatItRestsOn) {
    World world = floating();
    const auto before = world.number;
    ASSERT_EQ(world.take_mark(0, 1000), "");
    const auto& taken = world.mark(1).taken;
    EXPECT_EQ(taken.mark, 1);
    EXPECT_EQ(taken.run, "R1");
    EXPECT_EQ(taken.channel, 0);
    EXPECT_EQ(taken.visit, 0);
    EXPECT_EQ(taken.interval, world.interval().number);
    EXPECT_EQ(taken.first, static_cast<std::int64_t>(before + 1));
    EXPECT_EQ(taken.count, 33); // 1.6 s at 50 ms, both ends
    EXPECT_EQ(taken.last, taken.first + 32);
    EXPECT_EQ(taken.to_us - taken.from_us, 1'600'000);
    EXPECT_NEAR(taken.mean_pa - taken.reference_pa, 1000, 5);
    EXPECT_DOUBLE_EQ(taken.deviation_pa, taken.mean_pa - taken.reference_pa);
    // 85 mm of oil below the mark, and the range's own level 1 mm above it: 864 * 9.807 * 0.086 Pa, less 0.1 % of air.
    EXPECT_NEAR(taken.reference_pa - taken.at_balance_pa, 728, 1);
    // 2 kg less buoyancy on 98.07 mm2, and a little surface tension: about 2 bar.
    EXPECT_NEAR(taken.at_balance_pa, 2.0e5, 500);
    EXPECT_GT(taken.u_reference_pa, 0);
    EXPECT_GT(taken.u_pa, taken.u_reference_pa);
    // The reading's own resolution of 0.001 bar, 100 Pa wide: at least 100/sqrt(12) Pa.
    EXPECT_GT(taken.u_pa, 28.8);
    EXPECT_TRUE(taken.flags.empty());
    EXPECT_EQ(world.mark(1).status, MarkStatus::provisional);
    EXPECT_EQ(world.take_mark(0), "has its mark");
}

TEST(Guard, NoReadingBeforeConfirmationSettleGuardAndLatency) {
    World world = floating();
    const Micros guarded_us = world.interval().from_us + 602'000;
    World early = world;
    EXPECT_EQ(early.window(0, guarded_us + 499, 0, 500),
              "it begins before the guard after the confirmation has passed");
    EXPECT_EQ(world.window(0, guarded_us + 500, 0, 500), "") << "the timing uncertainty of 500 us counts, and no more";
}

TEST(Guard, TheWaitOfTheSequenceCountsWhereItIsLonger) {
    World world = floating(small_bench_text({{R"("wait": "0.5 s")", R"("wait": "7 s")"}}));
    EXPECT_NE(world.window(0, world.interval().from_us + 6'900'000), "");
    EXPECT_EQ(world.window(0, world.interval().from_us + 9'000'000), "");
}

TEST(Guard, AWindowEndsBeforeTheFloatExpires) {
    World world = floating();
    const Micros last_us = world.interval().expires_us - 500;
    World late = world;
    EXPECT_EQ(late.window(0, last_us - 1'600'000 + 1), "it ends after the float expired");
    EXPECT_EQ(world.window(0, last_us - 1'600'000), "");
}

TEST(Guard, NoWindowGoesOnAcrossTheEndOfAFloat) {
    World world = floating();
    world.pass(1);
    std::string why;
    const auto permit = window_permit(world.state, 0, world.now_us, why);
    ASSERT_TRUE(permit);
    EXPECT_TRUE(window_may_go_on(world.state, 0, *permit));
    World lost = world;
    ASSERT_EQ(lost.lost(), "");
    EXPECT_FALSE(window_may_go_on(lost.state, 0, *permit));
    ASSERT_EQ(lost.confirm("low"), "");
    EXPECT_FALSE(window_may_go_on(lost.state, 0, *permit)) << "it is another float";
    World moving = world;
    moving.happen(StillnessChanged{0, acquisition::Stillness::moving, 1});
    EXPECT_FALSE(window_may_go_on(moving.state, 0, *permit));
    World settling = world;
    settling.happen(StillnessChanged{0, acquisition::Stillness::settling, 1});
    EXPECT_TRUE(window_may_go_on(settling.state, 0, *permit)) << "the window itself is judged at its end";
}

TEST(Permit, SaysWhatItWaitsFor) {
    World world;
    EXPECT_EQ(world.take_mark(0), "no run");
    World at_load = World::at_first(StepKind::load);
    EXPECT_EQ(at_load.take_mark(0), "not at a reading step");
    World run = World::at_first(StepKind::raise);
    ASSERT_EQ(run.confirm("low"), "");
    EXPECT_EQ(run.take_mark(0), "the reading is silent");
    EXPECT_EQ(run.take_mark(2), "takes no part in the run");
    run.happen(StillnessChanged{0, acquisition::Stillness::settling, 1});
    EXPECT_EQ(run.take_mark(0), "the reading is settling");
}

TEST(Permit, StartsWithTheStillnessAndAfterAFailedWindow) {
    World world = World::at_first(StepKind::raise);
    ASSERT_EQ(world.confirm("low"), "");
    world.pass(10);
    world.still(0);
    std::string why;
    EXPECT_EQ(window_permit(world.state, 0, world.now_us, why)->not_before_us, world.now_us);
    world.pass(3);
    world.happen(WindowFailed{0, 1, 2, "the drift bound"});
    const Micros failed_us = world.now_us;
    world.pass(1);
    EXPECT_EQ(window_permit(world.state, 0, world.now_us, why)->not_before_us, failed_us)
        << "not the same readings again";
}

TEST(Surroundings, HoldAMarkBackWithTheReason) {
    const auto states = [](World& world, const char* air, const char* piston) {
        ASSERT_EQ(world.does(state_surroundings(world.state, world.press(), {air, "968 hPa", "45 %", piston})), "");
    };
    World missing = floating();
    missing.happen(ServiceStarted{"another boot", 1, "", "", "", ""});
    missing.still(0);
    ASSERT_EQ(missing.confirm("low"), "the float is confirmed already; say sighted to renew it, or lost");
    EXPECT_EQ(missing.take_mark(0), "nobody stated the surroundings");
    World old = floating(small_bench_text({{R"("valid": "4 h")", R"("valid": "10 s")"}}));
    old.pass(30);
    EXPECT_EQ(old.take_mark(0), "the stated surroundings are too old: state them again");
    states(old, "21.5 degC", "21.3 degC");
    EXPECT_EQ(old.take_mark(0), "");
    World cold = floating();
    states(cold, "17.9 degC", "17.9 degC");
    EXPECT_EQ(cold.take_mark(0), "the air is at 17.9 degC, outside 18 to 28 degC");
    EXPECT_EQ(cold.window(0, cold.interval().from_us + 5'000'000), "the air is at 17.9 degC, outside 18 to 28 degC");
    World drifting = floating();
    states(drifting, "22.6 degC", "22.6 degC");
    EXPECT_EQ(drifting.take_mark(0), "the air has changed by 1.1 K since the run began, more than 1 K");
    states(drifting, "22.4 degC", "22.4 degC");
    EXPECT_EQ(drifting.take_mark(0), "");
}

TEST(Surroundings, AreThoseOfTheMark) {
    World world = floating();
    ASSERT_EQ(world.does(state_surroundings(world.state, world.press(), {"21.5 degC", "968 hPa", "45 %", "25 degC"})),
              "");
    ASSERT_EQ(world.take_mark(0), "");
    World usual = floating();
    ASSERT_EQ(usual.take_mark(0), "");
    // 3.7 K at 16.5 ppm/K: the piston is larger, the pressure lower by 61 ppm.
    EXPECT_NEAR(world.mark(1).taken.at_balance_pa / usual.mark(1).taken.at_balance_pa - 1, -61e-6, 0.5e-6);
}

TEST(Entry, NeedsAPersonWhoLookedAfterTheGuard) {
    World world(small_bench_text());
    ASSERT_EQ(world.start({"transmitter A", "dial D"}), "");
    world.work_to(StepKind::raise);
    while (world.step().direction == Direction::preload)
        world.work_one_step(), world.work_to(StepKind::raise);
    ASSERT_EQ(world.confirm("low"), "");
    world.pass(0.5);
    EXPECT_EQ(world.enter("dial D", "2 bar", "2 bar", 0.4),
              "no mark: it was read 0.5 s too soon after the confirmation; read it again");
    world.pass(5);
    EXPECT_EQ(world.enter("dial D", "2", "2 bar").substr(0, 8), "untapped");
    EXPECT_EQ(world.enter("transmitter A", "2 bar", "2 bar"),
              "transmitter A is read by its wire; nothing is entered for it");
    EXPECT_EQ(world.enter("nobody", "2 bar", "2 bar"), "no instrument is named \"nobody\"");
    EXPECT_EQ(world.enter("dial D", "2 bar", "2 bar", -1),
              "the entry was begun after it was pressed, or more than two minutes before");
    EXPECT_EQ(world.enter("dial D", "2 bar", "2 bar", 121),
              "the entry was begun after it was pressed, or more than two minutes before");
    ASSERT_EQ(world.enter("dial D", "0 bar", "4 bar"), "");
    const auto& taken = world.mark(1).taken;
    EXPECT_DOUBLE_EQ(taken.untapped_pa, 0);
    EXPECT_DOUBLE_EQ(taken.tapped_pa, 4e5);
    EXPECT_DOUBLE_EQ(taken.mean_pa, 4e5) << "the reading after tapping counts";
    EXPECT_EQ(taken.count, 1);
    EXPECT_TRUE(std::isinf(taken.u_mean_dof));
    // A division of 10 bar in fifths: 2 bar wide, 2 bar/sqrt(12) as standard uncertainty at least.
    EXPECT_NEAR(taken.u_pa, 2e5 / std::sqrt(12.0), 300);
    EXPECT_EQ(world.enter("dial D", "0 bar", "4 bar"), "no mark: has its mark");
}

TEST(Approach, WatchTellsHowFarBeyond) {
    ApproachWatch rising(Direction::rising, 100, 10);
    rising.take(50);
    EXPECT_FALSE(rising.farthest_pa());
    rising.take(95);
    rising.take(103);
    rising.take(101);
    EXPECT_EQ(rising.farthest_pa(), 103);
    EXPECT_DOUBLE_EQ(rising.beyond_pa(100.5), 2.5);
    EXPECT_DOUBLE_EQ(rising.beyond_target_pa(), 3);
    rising.take(89); // going back below is the remedy
    EXPECT_FALSE(rising.farthest_pa());
    EXPECT_LT(rising.beyond_pa(0), 0);
    ApproachWatch falling(Direction::falling, 100, 10);
    falling.take(150);
    EXPECT_FALSE(falling.farthest_pa());
    falling.take(97);
    falling.take(100);
    EXPECT_EQ(falling.farthest_pa(), 97);
    EXPECT_DOUBLE_EQ(falling.beyond_pa(99.5), 2.5);
    falling.take(111);
    EXPECT_FALSE(falling.farthest_pa());
}

TEST(Approach, TheMarginIsTheGreatestOfUncertaintyErrorScatterAndDigit) {
    const BenchFile bench = bench_of(small_bench_text());
    const auto& a = bench.instruments[0]; // MPE 0.5 bar, resolution 0.001 bar
    EXPECT_DOUBLE_EQ(approach_margin_pa(0, 0, a), 5000);
    EXPECT_DOUBLE_EQ(approach_margin_pa(2000, 0, a), 6000);
    EXPECT_DOUBLE_EQ(approach_margin_pa(0, 1200, a), 6000);
    EXPECT_DOUBLE_EQ(approach_margin_pa(0, 0, bench.instruments[2]),
                     1e4); // 0.1 of 1 bar, as much as 2 digits of 0.05 bar
    EXPECT_DOUBLE_EQ(approach_return_pa(20e5, a), 5e4);
}

// A window of the same readings, with one reading on the way that was this far beyond where they came to rest.
std::vector<std::string> flags_after(Direction direction, double beyond_pa) {
    World world = World::at_first(StepKind::raise);
    if (direction == Direction::falling) {
        for (int bound = 0; bound < 200 && world.step().direction != Direction::falling; ++bound)
            world.work_one_step();
        for (int bound = 0; bound < 200 && !(world.at() == StepKind::raise && world.planned_range() == "low"); ++bound)
            world.work_one_step();
    }
    EXPECT_EQ(world.confirm(world.planned_range()), "");
    EXPECT_EQ(world.step().direction, direction);
    world.still(0);
    auto watch = *approach_watch(world.state, 0);
    const Micros from_us = world.interval().from_us + 1'000'000;
    const auto values = world.readings(0, from_us);
    const double sign = direction == Direction::falling ? -1 : 1;
    watch.take(values.front().value_pa + sign * beyond_pa);
    for (const auto& value : values)
        watch.take(value.value_pa);
    Window window{1, values.size(), 500, values};
    const Fact fact = judge_window(world.state, 0, window, watch);
    return std::holds_alternative<MarkTaken>(fact) ? std::get<MarkTaken>(fact).flags
                                                   : std::vector<std::string>{std::get<WindowFailed>(fact).why};
}

TEST(Approach, FlagsAnOvershootOnBothWays) {
    EXPECT_EQ(flags_after(Direction::rising, 4500), std::vector<std::string>{});
    EXPECT_EQ(flags_after(Direction::rising, 6000), std::vector<std::string>{"approached from above"});
    EXPECT_EQ(flags_after(Direction::falling, 4500), std::vector<std::string>{});
    EXPECT_EQ(flags_after(Direction::falling, 6000), std::vector<std::string>{"approached from below"});
}

TEST(Approach, ADialTakesOverWhatTheWiredChannelsSaw) {
    World world(small_bench_text());
    ASSERT_EQ(world.start({"transmitter A", "dial D"}), "");
    for (int bound = 0; bound < 100 && !(world.run().now()->visit && world.at() == StepKind::read); ++bound)
        world.work_one_step();
    world.still(0);
    auto watch = *approach_watch(world.state, 0);
    const auto values = world.readings(0, world.interval().from_us + 1'000'000);
    watch.take(values.front().value_pa + 1e5);
    world.now_us = values.back().at_us;
    world.happen(judge_window(world.state, 0, Window{1, values.size(), 500, values}, watch));
    ASSERT_EQ(world.mark(1).taken.flags, std::vector<std::string>{"approached from above"});
    world.pass(5);
    ASSERT_EQ(world.enter("dial D", "2 bar", "2 bar"), "");
    EXPECT_EQ(world.mark(2).taken.flags, std::vector<std::string>{"approached from above"});
}

} // namespace
} // namespace stillmark::bench::testing
