// Checks before a run on invented time: what they ask, what fails them, and how the run goes on.
#include "bench/world.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <algorithm>

namespace stillmark::bench::testing {
namespace {

using nlohmann::json;

const json& all_checks() {
    static const json checks = {{"warm_up", "15 min"},
                                {"level", "0.5 mrad"},
                                {"purge", {{"to", "50 bar"}, {"turns", 3}}},
                                {"leak",
                                 {{"at", "100 bar"},
                                  {"settle", "10 s"},
                                  {"watch", "60 s"},
                                  {"drop", "0.1 bar"},
                                  {"channel", "transmitter A"},
                                  {"valves", {"Close valve V3."}}}},
                                {"zero", json::object()}};
    return checks;
}

std::string bench_with(const json& checks) {
    json bench = json::parse(small_bench_text(), nullptr, true, true);
    bench["checks"] = checks;
    return bench.dump();
}

/// A run on a bench with these checks, at the check of this name.
World at_check(const std::string& name, const json& checks = all_checks()) {
    World world(bench_with(checks));
    EXPECT_EQ(world.start(), "");
    for (int bound = 0; bound < 50; ++bound) {
        if (world.at() == StepKind::check && word(*world.step().check) == name) return world;
        world.work_one_step();
    }
    throw std::runtime_error("no such check");
}

const CheckResult& last(const World& world) {
    return world.run().checks.back();
}

std::vector<std::string> names_of_checks(const World& world) {
    std::vector<std::string> names;
    for (const auto& one : world.run().checks)
        if (names.empty() || names.back() != one.recorded.check) names.push_back(one.recorded.check);
    return names;
}

TEST(Checks, ZerosAreNotReadOnALineUnderPressure) {
    World world = at_check("zero");
    world.seen = {{0, 5e6, 0}};
    EXPECT_NE(world.state_check("").find("is expected"), std::string::npos);
    EXPECT_FALSE(world.run().check_from_us);
    world.seen = {{0, 300, 0}};
    EXPECT_EQ(world.state_check(""), "");
    EXPECT_TRUE(world.run().check_from_us);
}

TEST(Checks, AreAskedInTheirOrderBeforeThePreloads) {
    World world(bench_with(all_checks()));
    EXPECT_EQ(world.start(), "");
    for (int bound = 0; bound < 100 && world.at() != StepKind::read; ++bound)
        world.work_one_step();
    EXPECT_EQ(names_of_checks(world),
              (std::vector<std::string>{"warm-up", "level", "purge", "leak", "zero", "preload"}));
    EXPECT_TRUE(std::all_of(world.run().checks.begin(), world.run().checks.end(),
                            [](const CheckResult& one) { return one.recorded.passed; }));
}

TEST(Checks, OnlyThoseThatTheBenchFileStates) {
    World world;
    EXPECT_EQ(world.start(), "");
    for (int bound = 0; bound < 100 && world.at() != StepKind::read; ++bound) {
        EXPECT_NE(world.at(), StepKind::check);
        world.work_one_step();
    }
    // The preloads are recorded all the same: their time is the sequence's.
    EXPECT_EQ(names_of_checks(world), std::vector<std::string>{"preload"});
}

TEST(Checks, TooShortAWarmUpHoldsTheRunUntilItIsLongEnough) {
    World world = at_check("warm-up");
    const auto step = world.run().step;
    EXPECT_EQ(world.state_check("10 min"), "");
    EXPECT_EQ(world.run().step, step);
    EXPECT_FALSE(last(world).recorded.passed);
    EXPECT_DOUBLE_EQ(*last(world).recorded.value, 600);
    EXPECT_DOUBLE_EQ(*last(world).recorded.limit, 900);
    EXPECT_EQ(last(world).recorded.words, "powered for 10 min; at least 15 min are asked");
    EXPECT_EQ(world.told.back().words, "check failed, warm-up: powered for 10 min; at least 15 min are asked");
    EXPECT_EQ(world.state_check("15 min"), "");
    EXPECT_EQ(world.run().step, step + 1);
    EXPECT_EQ(last(world).recorded.by, "invented person");
}

TEST(Checks, AFailedOneIsPassedOverOnlyWithAReasonOnRecord) {
    World world = at_check("level");
    const auto step = static_cast<std::int64_t>(world.run().step);
    EXPECT_EQ(world.does(waive_check(world.state, world.press(), step, "invented")),
              "this check has not failed; do it first");
    EXPECT_EQ(world.state_check("-0.6 mrad"), ""); // tilted the other way is tilted
    EXPECT_FALSE(last(world).recorded.passed);
    EXPECT_EQ(world.does(waive_check(world.state, world.press(), step, "")),
              "a reason is missing; say why the run may go on");
    EXPECT_EQ(world.does(waive_check(world.state, world.press(), step, "the floor is uneven")), "");
    EXPECT_EQ(world.run().step, static_cast<std::size_t>(step) + 1);
    EXPECT_EQ(last(world).waived_because, "the floor is uneven");
    EXPECT_EQ(last(world).waived_by, "invented person");
    EXPECT_FALSE(last(world).recorded.passed); // what was found stays what it was
}

TEST(Checks, TurnsOfThePressTellTrappedAir) {
    World world = at_check("purge");
    EXPECT_EQ(world.state_check("three"), "\"three\" is no number of turns; write for example 2.5 turns");
    EXPECT_EQ(world.state_check("3.5 turns"), "");
    EXPECT_EQ(last(world).recorded.words, "3.5 turns to 50 bar; at most 3: there is air in the line, purge it");
    EXPECT_EQ(world.state_check("2.5"), "");
    EXPECT_TRUE(last(world).recorded.passed);
}

TEST(Checks, ALeakIsTheFallOfReadingsWithinTheWatch) {
    World world = at_check("leak");
    const auto said = texts(world.step().say);
    EXPECT_NE(std::find(said.begin(), said.end(), "Close valve V3."), said.end());
    const auto step = world.run().step;
    // 0.2 bar within 60 s
    EXPECT_EQ(world.watch_check(0, 2e4 / 60), "");
    EXPECT_FALSE(last(world).recorded.passed);
    EXPECT_NEAR(*last(world).recorded.value, 2e4, 50);
    EXPECT_GT(last(world).recorded.first, 0);
    EXPECT_EQ(last(world).recorded.last - last(world).recorded.first, 1200); // 60 s at 20 readings a second
    EXPECT_EQ(world.run().step, step);
    // 0.05 bar within 60 s
    EXPECT_EQ(world.watch_check(0, 5e3 / 60), "");
    EXPECT_TRUE(last(world).recorded.passed);
    EXPECT_EQ(world.run().step, step + 1);
    EXPECT_EQ(world.step().title, "Relieve the pressure after the leak check");
    EXPECT_EQ(world.step().say.back().text, "Open again what was shut for the check.");
}

TEST(Checks, ALeakCheckThatCannotTellHasNotPassed) {
    World world = at_check("leak");
    EXPECT_EQ(world.watch_check(0, -2e4 / 60), ""); // a pressure that rises was not left to rest
    EXPECT_FALSE(last(world).recorded.passed);
    EXPECT_NE(last(world).recorded.words.find("rose by"), std::string::npos);
    EXPECT_EQ(world.watch_check(-3e6), ""); // nowhere near the pressure that is asked for
    EXPECT_FALSE(last(world).recorded.passed);
    EXPECT_NE(last(world).recorded.words.find("showed 70 bar; the check asks for 100 bar"), std::string::npos);
    EXPECT_EQ(world.watch_check(0, 0, 400), ""); // a third of the time is missing
    EXPECT_FALSE(last(world).recorded.passed);
    EXPECT_NE(last(world).recorded.words.find("the readings cover 67 % of the time"), std::string::npos);
    EXPECT_EQ(world.watch_check(0, 0, 0, 5e4), ""); // noise that a leak could hide in
    EXPECT_FALSE(last(world).recorded.passed);
    EXPECT_NE(last(world).recorded.words.find("scatter too much to tell"), std::string::npos);
    EXPECT_EQ(world.watch_check(0, 0, 100'000), "");
    EXPECT_NE(last(world).recorded.words.find("0 good readings came"), std::string::npos);
}

TEST(Checks, EveryInstrumentShowsItsZeroWithinItsPermissibleError) {
    World world = at_check("zero");
    // 0.5 bar is transmitter B's limit and half of gauge C's; transmitter A's is 0.5 bar too.
    EXPECT_EQ(world.watch_check(0.6e5), "");
    std::vector<std::string> failed;
    for (const auto& one : world.run().checks)
        if (one.recorded.check == "zero" && !one.recorded.passed) failed.push_back(one.recorded.channel);
    EXPECT_EQ(failed, (std::vector<std::string>{"transmitter A", "transmitter B"}));
    // Gauge C passed after them; what failed stands all the same.
    const auto* failure = standing_failure(world.run(), world.run().step);
    ASSERT_NE(failure, nullptr);
    EXPECT_EQ(failure->recorded.channel, "transmitter B");
    // Only what failed is watched again.
    EXPECT_EQ(world.watch_check(0.4e5), "");
    EXPECT_EQ(world.at(), StepKind::check);
    EXPECT_EQ(world.state_check("0 bar", "transmitter A"), "transmitter A is read by its wire; begin the check");
    EXPECT_EQ(world.state_check("-2 bar", "dial D"), "");
    EXPECT_TRUE(last(world).recorded.passed);
    // The column of oil from the level mark up to the dial, less the air beside it: 140 mm, 865 kg/m3, 9.80731 m/s2.
    EXPECT_NEAR(*last(world).recorded.value, -2e5 + 0.140 * (865 - 1.15) * 9.80731, 3);
    EXPECT_NE(world.at(), StepKind::check);
}

TEST(Checks, AreInterruptedByARestart) {
    World world = at_check("leak");
    EXPECT_EQ(world.does(answer_check(world.state, world.press(), static_cast<std::int64_t>(world.run().step), {})),
              "");
    EXPECT_TRUE(check_watch(world.state).has_value());
    EXPECT_EQ(world.does(answer_check(world.state, world.press(), static_cast<std::int64_t>(world.run().step), {})),
              "the readings of this check are being watched; wait for its result");
    world.happen(ServiceStarted{"invented boot", 1'700'000'000'000'000, "test", "test", "test", "test"});
    EXPECT_FALSE(check_watch(world.state).has_value());
    EXPECT_EQ(world.watch_check(), "");
    EXPECT_TRUE(last(world).recorded.passed);
}

TEST(Checks, AnAnswerCanBeTakenBackAtOnce) {
    World world = at_check("warm-up");
    const auto step = world.run().step;
    EXPECT_EQ(world.state_check("20 min"), "");
    EXPECT_EQ(world.run().step, step + 1);
    EXPECT_EQ(world.undo(), "");
    EXPECT_EQ(world.run().step, step);
    EXPECT_TRUE(world.run().checks.empty());
}

TEST(Checks, NothingElseIsAnsweredThere) {
    World world = at_check("purge");
    EXPECT_EQ(world.step_done(), "this step is not done by saying so; do what it asks for");
    EXPECT_EQ(world.does(answer_check(world.state, world.press(), static_cast<std::int64_t>(world.run().step), {})),
              "this check is stated by a person; give its \"value\" with the unit");
    EXPECT_EQ(
        world.does(answer_check(world.state, world.press(3), static_cast<std::int64_t>(world.run().step), {"1", ""})),
        "the press is 3.0 s old; look again and press again");
    EXPECT_EQ(world.does(answer_check(world.state, world.press(), 0, {"1", ""})),
              "step 0 is not the present one (3); look at the step again");
}

TEST(Checks, APreloadWhoseFloatIsLostIsHeldAgainFromTheBeginning) {
    World world;
    EXPECT_EQ(world.start(), "");
    for (int bound = 0; bound < 50 && world.at() != StepKind::wait; ++bound)
        world.work_one_step();
    const auto hold = world.run().step;
    world.pass(0.5);
    EXPECT_EQ(world.lost(), "");
    EXPECT_EQ(world.run().step, hold - 1);
    EXPECT_TRUE(world.run().checks.empty());
    EXPECT_EQ(world.confirm(world.planned_range()), "");
    world.pass(0.9);
    EXPECT_EQ(world.run().step, hold);
    world.pass(0.2);
    EXPECT_EQ(world.run().step, hold + 1);
    EXPECT_NEAR(*last(world).recorded.value, 1, 1e-6);
    EXPECT_TRUE(last(world).recorded.passed);
}

} // namespace
} // namespace stillmark::bench::testing
