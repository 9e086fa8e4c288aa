#include "bench/world.hpp"

#include <gtest/gtest.h>

namespace stillmark::bench::testing {
namespace {

World floating() {
    World world = World::at_first(StepKind::raise);
    EXPECT_EQ(world.confirm("low"), "");
    world.still(0);
    return world;
}

TEST(Press, OlderThanTwoSecondsIsRefusedEverywhere) {
    const std::string old = "the press is 2.1 s old; look again and press again";
    World world = floating();
    EXPECT_EQ(world.confirm("low", 2.1), old);
    EXPECT_EQ(world.sighted(true, 2.1), old);
    EXPECT_EQ(world.lost(2.1), old);
    EXPECT_EQ(world.undo(2.1), old);
    EXPECT_EQ(world.load("low", {}, 2.1), old);
    EXPECT_EQ(world.load_as_planned(2.1), old);
    EXPECT_EQ(world.does(step_done(world.state, world.press(2.1), 0)), old);
    EXPECT_EQ(world.does(redo_visit(world.state, world.press(2.1), 1)), old);
    EXPECT_EQ(world.does(enter_reading(world.state, world.press(2.1), "dial D", "2 bar", "2 bar", world.now_us)), old);
    EXPECT_EQ(world.does(start_run(world.state, world.press(2.1), "short", "as found", {})), old);
    EXPECT_EQ(world.lost(2.0), "the press is older than the confirmation; look again and press again");
}

TEST(Press, OfTheFutureIsNoPress) {
    World world = floating();
    Press ahead = world.press();
    ahead.pressed_us += 50'001;
    const auto decision = sight_float(world.state, ahead, true);
    ASSERT_FALSE(decision);
    EXPECT_TRUE(decision.error().malformed);
    ahead.pressed_us -= 1; // a client that rounds
    EXPECT_TRUE(sight_float(world.state, ahead, true));
}

TEST(Press, OfExtremeInstantsIsRefusedQuietly) {
    World world = floating();
    for (const Micros pressed_us :
         {std::numeric_limits<Micros>::min(), std::numeric_limits<Micros>::max(), Micros{-1}}) {
        EXPECT_FALSE(sight_float(world.state, {pressed_us, world.now_us, ""}, true)) << pressed_us;
        EXPECT_FALSE(enter_reading(world.state, world.press(), "dial D", "2 bar", "2 bar", pressed_us)) << pressed_us;
    }
}

// A look tells of the instant of the look. What happened since is not undone by a message that came late.
TEST(Press, OlderThanWhatItSpeaksOfIsRefused) {
    World world = floating();
    world.pass(1);
    ASSERT_EQ(world.lost(), "");
    world.pass(0.2);
    EXPECT_EQ(world.confirm("low", 0.3), "the press is older than the loss of the float; look again and press again");
    EXPECT_EQ(world.confirm("low", 0.1), "");
    World loaded = World::at_first(StepKind::load);
    loaded.pass(1);
    ASSERT_EQ(loaded.load_as_planned(0.2), "");
    EXPECT_EQ(loaded.confirm("low", 0.3), "the press is older than the stated load; look again and press again");
    EXPECT_EQ(loaded.confirm("low", 0.1), "");
    loaded.pass(0.5);
    EXPECT_EQ(loaded.sighted(true, 0.6), "the press is older than the confirmation; look again and press again");
    EXPECT_EQ(loaded.lost(0.65), "the press is older than the confirmation; look again and press again");
}

TEST(Undo, TakesBackALoad) {
    World world = World::at_first(StepKind::load);
    const auto before = dump(world.state);
    ASSERT_EQ(world.load_as_planned(), "");
    ASSERT_EQ(world.at(), StepKind::raise);
    world.pass(0.5);
    ASSERT_EQ(world.undo(), "");
    EXPECT_EQ(world.at(), StepKind::load);
    EXPECT_EQ(world.told.back().words, "taken back: the stated load");
    EXPECT_EQ(dump(world.state), before);
    EXPECT_EQ(world.undo(), "there is nothing to take back");
}

TEST(Undo, TakesBackAConfirmation) {
    World world = World::at_first(StepKind::raise);
    ASSERT_EQ(world.confirm("low"), "");
    world.pass(0.1);
    ASSERT_EQ(world.undo(), "");
    EXPECT_EQ(world.at(), StepKind::raise);
    EXPECT_EQ(world.state.open_interval(), nullptr);
    EXPECT_EQ(world.confirm("low"), "");
}

TEST(Undo, TakesBackASightingAndTheStepThatItEnded) {
    World world = floating();
    world.still(1);
    ASSERT_EQ(world.take_mark(0), "");
    ASSERT_EQ(world.take_mark(1), "");
    ASSERT_EQ(world.at(), StepKind::sight);
    const auto step = world.run().step;
    world.pass(0.1);
    ASSERT_EQ(world.sighted(true), "");
    ASSERT_EQ(world.mark(1).status, MarkStatus::sighted);
    ASSERT_GT(world.run().step, step);
    world.pass(0.3);
    ASSERT_EQ(world.undo(), "");
    EXPECT_EQ(world.run().step, step);
    EXPECT_EQ(world.mark(1).status, MarkStatus::provisional);
    EXPECT_NE(world.state.open_interval(), nullptr);
}

TEST(Undo, TakesBackALossWithItsMarks) {
    World world = floating();
    ASSERT_EQ(world.take_mark(0), "");
    world.pass(0.1);
    ASSERT_EQ(world.lost(), "");
    ASSERT_EQ(world.mark(1).status, MarkStatus::voided);
    world.pass(0.1);
    ASSERT_EQ(world.undo(), "");
    EXPECT_EQ(world.mark(1).status, MarkStatus::provisional);
    EXPECT_EQ(world.mark(1).why, "");
    EXPECT_NE(world.state.open_interval(), nullptr);
    EXPECT_EQ(world.at(), StepKind::read);
}

TEST(Undo, LastsAsLongAsAPersonNeedsToSeeTheMistake) {
    World world = floating();
    World late = world;
    EXPECT_EQ(undo_until_us(world.state), world.interval().from_us + 5'000'000);
    world.now_us = world.interval().from_us + 5'000'000;
    EXPECT_EQ(world.undo(), "");
    EXPECT_EQ(undo_until_us(world.state), std::nullopt);
    late.now_us = late.interval().from_us + 5'100'000;
    EXPECT_EQ(late.undo(), "the confirmation is 5.1 s old; only the last 5 s can be taken back");
}

TEST(Undo, LastsAsLongAsALongerSettleGuard) {
    World world(small_bench_text({{R"("settle": "0.6 s")", R"("settle": "8 s")"}}));
    ASSERT_EQ(world.start({"transmitter A"}), "");
    world.work_to(StepKind::read);
    world.now_us = world.interval().from_us + 7'900'000;
    EXPECT_EQ(world.undo(), "");
}

TEST(Undo, EndsWithAMark) {
    // A guard that is longer than a window, so that a mark can come before it has passed.
    World world(small_bench_text({{R"("settle": "0.6 s")", R"("settle": "5 s")"}}));
    ASSERT_EQ(world.start({"transmitter A"}), "");
    world.work_to(StepKind::read);
    world.still(0);
    ASSERT_EQ(world.take_mark(0), "");
    EXPECT_EQ(world.undo(), "there is nothing to take back");
    ASSERT_EQ(world.sighted(false), "");
    EXPECT_EQ(world.undo(), "");
    EXPECT_EQ(world.state.marks.size(), 1U);
}

TEST(Undo, IsNotForPeopleBeforeARestart) {
    World world = floating();
    world.happen(ServiceStarted{"invented boot", 1, "", "", "", ""});
    EXPECT_EQ(world.undo(), "there is nothing to take back");
}

TEST(Undo, OutlivesWhatTheInstrumentsDo) {
    World world = floating();
    world.happen(StillnessChanged{1, acquisition::Stillness::moving, 5});
    world.happen(WindowFailed{0, 1, 2, "the drift bound"});
    EXPECT_EQ(world.undo(), "");
    EXPECT_EQ(world.at(), StepKind::raise);
}

TEST(Void, NeedsAReasonAndAMarkThatStands) {
    World world = floating();
    ASSERT_EQ(world.take_mark(0), "");
    EXPECT_EQ(world.void_mark(1, ""), "a reason is missing; say why the mark is void");
    EXPECT_EQ(world.void_mark(2), "there is no mark 2");
    EXPECT_EQ(world.void_mark(1, "the hose was touched"), "");
    EXPECT_EQ(world.mark(1).status, MarkStatus::voided);
    EXPECT_EQ(world.void_mark(1), "mark 1 is void already: the hose was touched");
    // It stays on record.
    EXPECT_EQ(world.state.marks.size(), 1U);
}

TEST(Run, IsRefusedWithTheReason) {
    World world;
    EXPECT_EQ(world.start({}, "none"), "the bench has no sequence \"none\"; it has: short");
    EXPECT_EQ(world.start({"nobody"}), "no instrument is named \"nobody\"");
    EXPECT_EQ(world.does(start_run(world.state, world.press(), "short", "as new", {})),
              "\"as new\" is no condition; use as found, as left or after adjustment");
    EXPECT_EQ(world.does(stop_run(world.state, world.press(), "x")), "no run is going on");
    EXPECT_EQ(world.does(step_done(world.state, world.press(), 0)), "no run is going on; start one");
    ASSERT_EQ(world.start(), "");
    EXPECT_EQ(world.start(), "run R1 is going on; stop it first");
    EXPECT_EQ(world.does(stop_run(world.state, world.press(), "")), "a reason is missing; say why the run is stopped");
    EXPECT_EQ(world.does(step_done(world.state, world.press(), 5)),
              "step 5 is not the present one (0); look at the step again");
    EXPECT_EQ(world.does(step_done(world.state, world.press(), -1)),
              "step -1 is not the present one (0); look at the step again");
    EXPECT_EQ(world.load_as_planned(), "this step plans no load");
    ASSERT_EQ(world.does(stop_run(world.state, world.press(), "tea")), "");
    EXPECT_EQ(world.run().end, RunEnd::stopped);
    EXPECT_EQ(world.run().reason, "tea");
}

TEST(Surroundings, AreTakenInSiOrRefused) {
    World world;
    const auto state = [&world](const SurroundingsTexts& texts) {
        return world.does(state_surroundings(world.state, world.press(), texts));
    };
    EXPECT_EQ(state({}), "nothing is stated; give at least one, for example the air temperature");
    EXPECT_EQ(
        state({"22 degC", "", "", ""}),
        "nothing was stated before; give air temperature, air pressure, humidity and piston temperature together");
    EXPECT_EQ(state({"22", "970 hPa", "40 %", "22 degC"}),
              "air_temperature: \"22\" has no unit; write for example \"22 degC\"");
    EXPECT_EQ(state({"22 degC", "970 hPa", "140 %", "22 degC"}),
              "a humidity of 140 % does not exist; use 0 % to 100 %");
    EXPECT_EQ(state({"22 degC", "970 hPa", "40 %", "45 degC"}),
              "the piston is more than 20 K away from the air; check the two temperatures");
    EXPECT_FALSE(world.state.conditions.stated);
    ASSERT_EQ(state({"295.15 K", "0.097 MPa", "40 %", "22.5 degC"}), "");
    EXPECT_TRUE(world.state.conditions.stated);
    EXPECT_NEAR(world.state.conditions.air.temperature_c.value, 22, 1e-12);
    EXPECT_DOUBLE_EQ(world.state.conditions.air.pressure_pa.value, 97000);
    EXPECT_DOUBLE_EQ(world.state.conditions.air.humidity.value, 0.4);
    EXPECT_DOUBLE_EQ(world.state.conditions.piston_temperature_c.value, 22.5);
    EXPECT_DOUBLE_EQ(world.state.conditions.air.pressure_pa.u, 100) << "the spread stays the bench file's";
    ASSERT_EQ(state({"", "", "50 %", ""}), "");
    EXPECT_DOUBLE_EQ(world.state.conditions.air.humidity.value, 0.5);
    EXPECT_NEAR(world.state.conditions.air.temperature_c.value, 22, 1e-12);
    EXPECT_EQ(state({"60 degC", "", "", ""}).substr(0, 34), "an air temperature of 60 degC is n");
}

} // namespace
} // namespace stillmark::bench::testing
