#include "bench/world.hpp"
#include "daemon/bench/ledger.hpp"

#include <gtest/gtest.h>

namespace stillmark::bench::testing {
namespace {

constexpr double settle_s = 0.6; // of the small bench
constexpr double loss_s = 0.5;

// A float that was confirmed `settle_s` and a little ago, with both channels still: marks can be taken.
World floating() {
    World world = World::at_first(StepKind::raise);
    EXPECT_EQ(world.confirm("low"), "");
    EXPECT_EQ(world.at(), StepKind::read);
    world.still(0);
    world.still(1);
    return world;
}

TEST(LongestFloat, IsTheLeastOfFallSpinAndTheLaboratorysOwn) {
    BalanceRange range;
    range.highest_pa = 100e5;
    range.float_band_m = 8e-3;
    range.fall_rate_m_per_s = 1e-5;
    range.spin_time_s = 1000;
    EXPECT_DOUBLE_EQ(longest_float_s(range, 100e5), 400); // half the band, 4 mm, at 0.01 mm/s
    EXPECT_DOUBLE_EQ(longest_float_s(range, 50e5), 800);  // half the pressure, half the flow through the gap
    EXPECT_DOUBLE_EQ(longest_float_s(range, 1e5), 1000);  // the piston stops turning first
    EXPECT_DOUBLE_EQ(longest_float_s(range, 0), 1000);
    EXPECT_DOUBLE_EQ(longest_float_s(range, -1e5), 1000);
    range.max_float_s = 60;
    EXPECT_DOUBLE_EQ(longest_float_s(range, 100e5), 60);
}

TEST(Ledger, AConfirmationNeedsAStatedLoad) {
    World world;
    EXPECT_EQ(world.confirm("low"), "nobody stated the load; say first what is on the head");
    EXPECT_EQ(world.load("low", {"A1"}), "");
    EXPECT_EQ(world.confirm("low"), "");
    EXPECT_EQ(world.state.intervals.size(), 1U);
    // Even a journal that says otherwise opens nothing.
    World other;
    other.happen(FloatConfirmed{"low", "", other.now_us});
    EXPECT_TRUE(other.state.intervals.empty());
}

TEST(Ledger, AConfirmationIsRefusedTwiceAtALoadStepAndWhereNothingFloats) {
    World world;
    ASSERT_EQ(world.start(), "");
    ASSERT_EQ(world.load("low", {}), "");
    EXPECT_EQ(world.confirm("low"), "the run is at \"Level the balance\"; nothing floats there");
    World at_load = World::at_first(StepKind::load);
    EXPECT_EQ(at_load.confirm("low"), "the load of this point is not stated yet; say first that the discs are on");
    World twice = floating();
    EXPECT_EQ(twice.confirm("low"), "the float is confirmed already; say sighted to renew it, or lost");
    EXPECT_EQ(twice.confirm("middle"), "the balance has no range \"middle\"");
}

TEST(Ledger, AnotherRangeThanPlannedStartsNoMark) {
    World world = World::at_first(StepKind::raise);
    ASSERT_EQ(world.planned_range(), "low");
    EXPECT_EQ(world.confirm("high"), "");
    EXPECT_EQ(world.at(), StepKind::raise);
    EXPECT_NE(world.state.open_interval(), nullptr);
    EXPECT_FALSE(float_agrees(world.state, world.step()));
    world.still(0);
    world.pass(5);
    EXPECT_EQ(world.take_mark(0), "not at a reading step");
    // The right one afterwards ends the wrong one.
    EXPECT_EQ(world.confirm("low"), "");
    EXPECT_EQ(world.at(), StepKind::read);
    EXPECT_EQ(world.state.intervals[world.state.intervals.size() - 2].end, IntervalEnd::moved_on);
}

TEST(Ledger, AnIntervalCountsFromTheArrivalAndExpiresFromThePress) {
    World world = World::at_first(StepKind::raise);
    world.pass(2);
    ASSERT_EQ(world.confirm("low", 1.5), "");
    const Micros pressed_us = world.now_us - 1'500'000;
    EXPECT_EQ(world.interval().from_us, world.now_us);
    EXPECT_EQ(world.interval().last_sighted_us, pressed_us);
    // At 2 bar the piston falls slowly; the spin time of the low range, 240 s, is the least.
    EXPECT_EQ(world.interval().expires_us, pressed_us + 240'000'000);
}

TEST(Ledger, ExpiryComesByItselfAndLeavesUnbracketed) {
    World world = floating();
    ASSERT_EQ(world.take_mark(0), "");
    const Micros expires_us = world.interval().expires_us;
    EXPECT_EQ(next_due_us(world.state), expires_us);
    EXPECT_TRUE(due_facts(world.state, expires_us - 1).empty());
    world.pass(241);
    EXPECT_EQ(world.interval().end, IntervalEnd::expired);
    EXPECT_EQ(world.interval().to_us, expires_us);
    EXPECT_EQ(world.mark(1).status, MarkStatus::unbracketed);
    EXPECT_EQ(world.at(), StepKind::raise);
    EXPECT_EQ(world.sighted(), "no float is confirmed; confirm it first");
}

TEST(Ledger, TheFallRateLimitsAFloatAtHighPressure) {
    World world(small_bench_text({{R"("fall_rate": "0.6 mm/min")", R"("fall_rate": "60 mm/min")"}}));
    ASSERT_EQ(world.load("low", {"A1", "B1", "C1", "D1"}), "");
    ASSERT_EQ(world.confirm("low"), "");
    // 20 bar of 110: 60 mm/min falls to 10.9 mm/min, and 4 mm last 22 s.
    EXPECT_NEAR(static_cast<double>(world.interval().expires_us - world.now_us) / 1e6, 4.0 / (60.0 / 60 * 20 / 110),
                0.3);
}

TEST(Ledger, ARenewalProlongsByWhatPassedSinceTheLastLook) {
    World world = floating();
    const Micros first_us = world.interval().expires_us;
    world.pass(100);
    ASSERT_EQ(world.sighted(false, 0.5), "");
    EXPECT_EQ(world.interval().expires_us, first_us + 99'500'000);
    world.pass(50);
    ASSERT_EQ(world.sighted(false), "");
    EXPECT_EQ(world.interval().expires_us, first_us + 150'000'000);
    EXPECT_EQ(world.interval().end, IntervalEnd::open);
}

TEST(Ledger, ASightingBracketsOnlyWindowsThatEndedBeforeIt) {
    World world = floating();
    ASSERT_EQ(world.take_mark(0), "");
    const Micros ended_us = world.mark(1).taken.to_us + world.mark(1).taken.timing_us;
    World too_early = world;
    too_early.now_us = ended_us + 900'000;
    ASSERT_EQ(too_early.sighted(false, 0.9 + 1e-6), "");
    EXPECT_EQ(too_early.mark(1).status, MarkStatus::provisional);
    World in_time = world;
    in_time.now_us = ended_us;
    ASSERT_EQ(in_time.sighted(false), "");
    EXPECT_EQ(in_time.mark(1).status, MarkStatus::sighted);
    // Closing earlier than the window ended would leave the mark with one sighting only: it is refused, and where an
    // older journal has it, it counts for nothing.
    too_early = world;
    too_early.now_us = ended_us + 900'000;
    EXPECT_NE(too_early.sighted(true, 0.9 + 1e-6).find("before the last reading of mark 1"), std::string::npos);
    EXPECT_EQ(too_early.interval().end, IntervalEnd::open);
    too_early.happen(FloatSighted{true, "invented person", ended_us - 1});
    EXPECT_EQ(too_early.mark(1).status, MarkStatus::unbracketed);
    EXPECT_EQ(too_early.interval().end, IntervalEnd::sighted);
    EXPECT_EQ(too_early.interval().to_us, ended_us - 1);
}

TEST(Ledger, ALossVoidsWhatEndedWithinTheGuardOnly) {
    World world = floating();
    ASSERT_EQ(world.take_mark(0), "");
    const Micros limit_us =
        world.mark(1).taken.to_us + world.mark(1).taken.timing_us + static_cast<Micros>(loss_s * 1e6);
    World within = world;
    within.now_us = limit_us - 1;
    ASSERT_EQ(within.lost(), "");
    EXPECT_EQ(within.mark(1).status, MarkStatus::voided);
    EXPECT_EQ(within.mark(1).why, "the float was lost 0.5 s after the window");
    EXPECT_EQ(within.told.back().words, "mark 1 is void: the float was lost 0.5 s after the window");
    World beyond = world;
    beyond.now_us = limit_us;
    ASSERT_EQ(beyond.lost(), "");
    EXPECT_EQ(beyond.mark(1).status, MarkStatus::unbracketed);
    EXPECT_EQ(beyond.interval().end, IntervalEnd::lost);
    EXPECT_EQ(beyond.at(), StepKind::raise);
}

TEST(Ledger, ALossKeepsWhatWasBracketedAndOlder) {
    World world = floating();
    ASSERT_EQ(world.take_mark(0), "");
    world.pass(0.01);
    ASSERT_EQ(world.sighted(false), "");
    world.pass(2);
    ASSERT_EQ(world.lost(), "");
    EXPECT_EQ(world.mark(1).status, MarkStatus::sighted);
    // But a bracket does not save what ended within the guard: the look may have been a moment too kind.
    World near = floating();
    ASSERT_EQ(near.take_mark(0), "");
    near.pass(0.01);
    ASSERT_EQ(near.sighted(false), "");
    near.pass(0.2);
    ASSERT_EQ(near.lost(), "");
    EXPECT_EQ(near.mark(1).status, MarkStatus::voided);
}

TEST(Ledger, ALossOfOneFloatLeavesMarksOfAnother) {
    World world = floating();
    ASSERT_EQ(world.take_mark(0), "");
    world.pass(1);
    ASSERT_EQ(world.sighted(true), "");
    ASSERT_EQ(world.confirm("low"), "");
    world.pass(0.05);
    ASSERT_EQ(world.lost(), "");
    EXPECT_EQ(world.mark(1).status, MarkStatus::sighted);
    EXPECT_EQ(world.lost(), "no float is confirmed, so none can be lost; void a mark by its number");
}

TEST(Ledger, ARestartVoidsNothing) {
    World world = floating();
    ASSERT_EQ(world.take_mark(0), "");
    world.happen(ServiceStarted{"invented boot", 1, "", "", "", ""});
    world.happen(FloatUnknown{world.interval().number});
    EXPECT_EQ(world.mark(1).status, MarkStatus::unbracketed);
    EXPECT_EQ(world.interval().end, IntervalEnd::unknown);
    EXPECT_TRUE(world.state.was_away);
    EXPECT_EQ(world.at(), StepKind::raise);
    EXPECT_TRUE(world.state.load) << "the discs are still on the head";
    ASSERT_EQ(world.confirm("low"), "");
    EXPECT_FALSE(world.state.was_away);
}

TEST(Ledger, AnotherLoadClosesTheFloat) {
    World world = floating();
    ASSERT_EQ(world.load("low", {"A1"}), "");
    EXPECT_EQ(world.interval().end, IntervalEnd::moved_on);
    EXPECT_EQ(world.state.open_interval(), nullptr);
    EXPECT_EQ(world.at(), StepKind::load) << "the load is not the point's: it begins again with its load";
}

TEST(Ledger, AStatedLoadIsKeptBigBelowSmall) {
    World world;
    ASSERT_EQ(world.load("high", {"E1", "A1", "D1"}), "");
    EXPECT_EQ(world.state.load->range, 1U);
    EXPECT_EQ(world.state.load->discs, (std::vector<std::size_t>{0, 3, 4}));
}

TEST(Ledger, ALoadThatCannotBeIsRefused) {
    World world(small_bench_text({{R"("rating": "1000 bar"})", R"("rating": "112 bar"})"}}));
    EXPECT_EQ(world.load("middle", {}), "the balance has no range \"middle\"");
    EXPECT_EQ(world.load("low", {"A1", "Z9"}), "no disc has the id \"Z9\"");
    EXPECT_EQ(world.load("low", {"A1", "A1"}), "the disc \"A1\" is named twice; there is one of it");
    EXPECT_EQ(world.load("high", {"A1", "B1"}).substr(0, 21), "that load makes 140.6")
        << "10 kg + 5 kg + 1.2 kg on 11.3 mm2";
    EXPECT_FALSE(world.state.load);
}

TEST(Ledger, TheSettleGuardIsShorterThanAnyWindowThatCounts) {
    World world = floating();
    EXPECT_EQ(world.state.bench->balance.settle_guard_s, settle_s);
    std::string why;
    const auto permit = window_permit(world.state, 0, world.now_us, why);
    ASSERT_TRUE(permit) << why;
    // 0.6 s of guard are more than the 0.5 s of waiting; 2 ms of latency.
    EXPECT_EQ(permit->not_before_us, world.interval().from_us + 602'000);
    EXPECT_EQ(permit->interval, world.interval().number);
}

} // namespace
} // namespace stillmark::bench::testing
