#include "bench/world.hpp"
#include "daemon/bench/reference.hpp"
#include "daemon/bench/runs.hpp"

#include <gtest/gtest.h>

#include <map>
#include <set>

namespace stillmark::bench::testing {
namespace {

std::string names(const BenchFile& bench, const std::vector<std::size_t>& discs) {
    std::string words;
    for (const auto disc : discs)
        words += (words.empty() ? "" : " ") + bench.discs[disc].piece.name;
    return words;
}

TEST(Plan, OfTheSmallBenchStepByStep) {
    const BenchFile bench = bench_of(small_bench_text());
    const Plan plan = plan_steps(bench, bench.sequences[0]);
    std::vector<std::string> titles;
    for (const auto& step : plan.steps)
        titles.push_back(step.title);
    EXPECT_EQ(titles, (std::vector<std::string>{
                          "Level the balance",
                          "Fill and purge",
                          "Set the valves to the high range",
                          "Preload 1 of 1: 110 bar, high range: load",
                          "Preload 1 of 1: 110 bar, high range: raise and turn",
                          "Preload 1 of 1: 110 bar, high range: hold",
                          "Relieve the pressure after preload 1",
                          "Turn over to the low range",
                          "Point 1 of 3, rising: 2 bar, low range: load",
                          "Point 1 of 3, rising: 2 bar, low range: raise and turn",
                          "Point 1 of 3, rising: 2 bar, low range: read",
                          "Point 1 of 3, rising: 2 bar, low range: look again",
                          "Point 2 of 3, rising: 20 bar, low range: load",
                          "Point 2 of 3, rising: 20 bar, low range: raise and turn",
                          "Point 2 of 3, rising: 20 bar, low range: read",
                          "Point 2 of 3, rising: 20 bar, low range: look again",
                          "Turn over to the high range",
                          "Point 3 of 3, rising: 110 bar, high range: load",
                          "Point 3 of 3, rising: 110 bar, high range: raise and turn",
                          "Point 3 of 3, rising: 110 bar, high range: read",
                          "Point 3 of 3, rising: 110 bar, high range: look again",
                          "Point 3 of 3, falling: 110 bar, high range: raise and turn",
                          "Point 3 of 3, falling: 110 bar, high range: read",
                          "Point 3 of 3, falling: 110 bar, high range: look again",
                          "Point 2 of 3, falling: 20 bar, low range: load",
                          "Turn over to the low range",
                          "Point 2 of 3, falling: 20 bar, low range: raise and turn",
                          "Point 2 of 3, falling: 20 bar, low range: read",
                          "Point 2 of 3, falling: 20 bar, low range: look again",
                          "Point 1 of 3, falling: 2 bar, low range: load",
                          "Point 1 of 3, falling: 2 bar, low range: raise and turn",
                          "Point 1 of 3, falling: 2 bar, low range: read",
                          "Point 1 of 3, falling: 2 bar, low range: look again",
                          "Relieve the pressure: the last point is done",
                      }));
    EXPECT_EQ(plan.visits.size(), 6U);
    // The laboratory's own words for the valves, and nothing wound meanwhile.
    EXPECT_EQ(texts(plan.steps[7].say), std::vector<std::string>{"Open valve V1."});
    EXPECT_EQ(plan.steps[7].caution.size(), 1U);
    EXPECT_TRUE(plan.steps[2].caution.empty()) << "nothing is under pressure yet";
    EXPECT_EQ(texts(plan.steps[8].say),
              std::vector<std::string>{"Take off, from the top: E1 (0.5 kg), D1 (1 kg), A1 (10 kg, two hands)."});
    EXPECT_EQ(
        texts(plan.steps[12].say),
        std::vector<std::string>{"Put on, from the bottom: A1 (10 kg, two hands), B1 (5 kg), C1 (2 kg), D1 (1 kg)."});
    // D1 lies on what has to come off, so it comes off first and goes on again.
    EXPECT_EQ(names(bench, plan.steps[17].take_off), "D1 C1 B1");
    EXPECT_EQ(names(bench, plan.steps[17].put_on), "D1 E1");
}

// What is put on and taken off, step by step, must lead to the load of each point, with the discs that there are.
TEST(Plan, OfTheDemoMovesEveryDiscToWhereItIsWanted) {
    const BenchFile bench = bench_of(demo_bench_text());
    const auto& sequence = bench.sequences[0];
    const Plan plan = plan_steps(bench, sequence);
    std::vector<std::size_t> on_head; // from the bottom
    std::optional<std::size_t> valves;
    std::set<StepKind> kinds;
    int loads = 0;
    for (const auto& step : plan.steps) {
        kinds.insert(step.kind);
        if (step.kind == StepKind::act && step.range) {
            EXPECT_NE(step.range, valves) << step.title;
            valves = step.range;
            EXPECT_EQ(texts(step.say), bench.balance.ranges[*step.range].valves);
        }
        if (!step.point) continue;
        const auto& point = sequence.points[*step.point];
        EXPECT_EQ(step.range, point.range) << step.title;
        // On the way down the load goes on before the valves are turned, or the wide piston would rise under too
        // little.
        const bool before_valves = step.kind == StepKind::load && step.direction == Direction::falling;
        EXPECT_TRUE(before_valves || valves == point.range) << step.title << ": the valves stand otherwise";
        if (step.kind == StepKind::load) {
            ++loads;
            for (const auto disc : step.take_off) {
                ASSERT_FALSE(on_head.empty()) << step.title;
                EXPECT_EQ(on_head.back(), disc) << step.title << ": taken from under another";
                on_head.pop_back();
            }
            for (const auto disc : step.put_on) {
                EXPECT_EQ(std::count(on_head.begin(), on_head.end(), disc), 0) << step.title;
                on_head.push_back(disc);
                if (bench.discs[disc].two_hands) {
                    EXPECT_NE(step.say.back().text.find(bench.discs[disc].piece.name + " (10 kg, two hands)"),
                              std::string::npos);
                }
            }
        }
        EXPECT_EQ(on_head, point.discs) << step.title;
    }
    EXPECT_EQ(kinds.size(), 7U) << "a kind of step is missing";
    EXPECT_EQ(plan.visits.size(), 24U);
    EXPECT_EQ(loads, 1 + 24 - 1) << "at the top the load stays";
}

TEST(Plan, EveryLoadOfTheDemoIsWithinRatingAndMakesItsPoint) {
    const BenchFile bench = bench_of(demo_bench_text());
    for (const auto& point : bench.sequences[0].points) {
        const double made_pa = metrology::reference_pressure_pa(reference_inputs(
            bench, point.range, point.discs, bench.surroundings.air, bench.surroundings.piston_temperature_c, nullptr));
        EXPECT_LT(made_pa, bench.weakest().rating_pa) << point.target;
        EXPECT_NEAR(made_pa / point.target_pa, 1, 0.02) << point.target;
    }
}

TEST(Run, TheDemoIsWalkedToItsEnd) {
    World world(demo_bench_text());
    ASSERT_EQ(world.start(), "");
    std::set<StepKind> kinds;
    for (int bound = 0; bound < 1000 && world.run().now() != nullptr; ++bound) {
        kinds.insert(world.at());
        world.work_one_step();
        world.pass(0.1);
    }
    EXPECT_EQ(kinds.size(), 7U);
    EXPECT_EQ(world.run().end, RunEnd::finished);
    EXPECT_EQ(world.state.marks.size(), 24U * 4);
    for (const auto& mark : world.state.marks)
        EXPECT_EQ(mark.status, MarkStatus::sighted) << mark.taken.mark;
    EXPECT_EQ(world.state.open_interval(), nullptr);
    // Each mark lies in a float of its own visit.
    std::map<std::int64_t, std::int64_t> visit_of;
    for (const auto& mark : world.state.marks)
        EXPECT_EQ(visit_of.emplace(mark.taken.interval, mark.taken.visit).first->second, mark.taken.visit);
}

TEST(Run, AVoidedMarkIsReadAgain) {
    World world = World::at_first(StepKind::sight);
    ASSERT_EQ(world.void_mark(1), "");
    EXPECT_EQ(world.at(), StepKind::read);
    world.pass(0.1);
    ASSERT_EQ(world.take_mark(0), "");
    EXPECT_EQ(world.at(), StepKind::sight);
    EXPECT_EQ(world.state.marks.size(), 3U);
    world.pass(0.1);
    ASSERT_EQ(world.sighted(), "");
    EXPECT_EQ(world.mark(1).status, MarkStatus::voided);
    EXPECT_EQ(world.mark(3).status, MarkStatus::sighted);
}

TEST(Run, ALossAtTheReadingGoesBackToRaising) {
    World world = World::at_first(StepKind::sight);
    world.pass(0.1);
    ASSERT_EQ(world.lost(), "");
    EXPECT_EQ(world.at(), StepKind::raise);
    EXPECT_EQ(world.mark(1).status, MarkStatus::unbracketed) << "its window ended long before";
    EXPECT_EQ(world.mark(2).status, MarkStatus::voided);
    world.work_to(StepKind::sight);
    EXPECT_EQ(world.state.marks.size(), 4U);
}

TEST(Run, ARenewalAtTheLastLookEndsTheFloatToo) {
    World world(small_bench_text());
    ASSERT_EQ(world.start({"transmitter A"}), "");
    for (int bound = 0; bound < 100 && !(world.at() == StepKind::sight && *world.step().point == 2); ++bound)
        world.work_one_step();
    world.pass(0.1);
    ASSERT_EQ(world.sighted(false), "");
    // The same discs stay on for the falling series, which begins with a float of its own.
    ASSERT_EQ(world.at(), StepKind::raise);
    EXPECT_EQ(world.step().direction, Direction::falling);
    EXPECT_EQ(world.state.open_interval(), nullptr);
    EXPECT_EQ(world.confirm("high"), "");
    EXPECT_EQ(world.at(), StepKind::read);
}

TEST(Redo, OnlyUntilTheInstrumentsHavePassedThePoint) {
    World world = World::at_first(StepKind::sight);
    const auto redo = [&world](std::int64_t mark) { return world.does(redo_visit(world.state, world.press(), mark)); };
    world.pass(0.1);
    ASSERT_EQ(world.sighted(), "");
    EXPECT_EQ(redo(1), "mark 1 stands; void it first");
    EXPECT_EQ(redo(9), "there is no mark 9");
    ASSERT_EQ(world.void_mark(1), "");
    ASSERT_EQ(world.at(), StepKind::load) << "the next point's";
    World passed = world;
    ASSERT_EQ(redo(1), "");
    EXPECT_EQ(world.step().title, "Point 1 of 3, rising: 2 bar, low range: load");
    world.work_to(StepKind::sight);
    EXPECT_EQ(world.mark(3).taken.channel, 0);
    EXPECT_EQ(world.state.marks.size(), 3U) << "the other channel kept its mark";
    passed.work_to(StepKind::read);
    EXPECT_EQ(
        passed.does(redo_visit(passed.state, passed.press(), 1)),
        "the instruments have passed the point of mark 1 in this direction, or the valves were turned since; it stays "
        "missing, or the series is begun again");
}

TEST(Redo, NotOnceTheValvesWereTurned) {
    World world = World::at_first(StepKind::read);
    for (int bound = 0; bound < 20 && !(world.at() == StepKind::act); ++bound)
        world.work_one_step();
    ASSERT_EQ(world.step().title, "Turn over to the high range");
    ASSERT_EQ(world.void_mark(3), "");
    World before = world;
    EXPECT_EQ(before.does(redo_visit(before.state, before.press(), 3)), "");
    EXPECT_EQ(before.step().title, "Point 2 of 3, rising: 20 bar, low range: load");
    ASSERT_EQ(world.step_done(), "");
    EXPECT_NE(world.does(redo_visit(world.state, world.press(), 3)), "");
}

TEST(Run, AStateOfARestartGoesOnAtTheSameStep) {
    World world = World::at_first(StepKind::read);
    const auto step = world.run().step;
    world.happen(ServiceStarted{"invented boot", 1, "", "", "", ""});
    EXPECT_EQ(world.run().step, step);
    world.happen(FloatUnknown{world.interval().number});
    EXPECT_EQ(world.run().step, step - 1) << "the piston has to be raised and confirmed again";
    EXPECT_EQ(world.run().end, RunEnd::running);
}

TEST(Run, InstantsOfAnotherBootAreNotComparedWithThoseOfThisOne) {
    World world = World::at_first(StepKind::raise);
    ASSERT_EQ(world.confirm("low"), "");
    ASSERT_EQ(world.lost(), "");
    world.now_us = 5'000'000; // a machine that was just switched on
    world.happen(ServiceStarted{"another boot", 1, "", "", "", ""});
    EXPECT_EQ(world.confirm("low"), "");
    EXPECT_EQ(world.at(), StepKind::read);
    EXPECT_FALSE(world.state.conditions.stated);
}

TEST(Run, KeepsTheBenchThatItBeganWith) {
    World world = World::at_first(StepKind::read);
    const auto step = world.run().step;
    world.happen(BenchTaken{"invented.json", "", demo_bench_text(), profile_texts(), {}});
    EXPECT_EQ(world.run().step, step);
    EXPECT_NE(world.state.open_interval(), nullptr);
    EXPECT_EQ(world.state.bench->name, "Small bench (invented)");
}

} // namespace
} // namespace stillmark::bench::testing
