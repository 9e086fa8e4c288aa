#include "bench/world.hpp"
#include "daemon/bench/run_evaluation.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

namespace stillmark::bench::testing {
namespace {

/// The demo's bench with one sequence of its own.
std::string bench_with(const std::string& sequence) {
    std::string text = demo_bench_text();
    return text.substr(0, text.find("\"sequences\"")) + "\"sequences\": [" + sequence + "]}";
}

Sequence sequence_of(const std::string& sequence) {
    return bench_of(bench_with(sequence)).sequences.at(0);
}

std::string refusal(const std::string& sequence) {
    const auto bench = bench_from_texts("x.json", bench_with(sequence), profile_texts());
    return bench ? "" : bench.error().message;
}

/// Runs a sequence to its end with one wired instrument, on invented time.
World worked_through(const std::string& sequence) {
    World world(bench_with(sequence));
    EXPECT_EQ(world.start({"transmitter A"}, "s"), "");
    for (int bound = 0; bound < 2000 && world.state.running() != nullptr; ++bound) {
        if (world.run().now() == nullptr)
            world.pass(0.1);
        else
            world.work_one_step();
    }
    EXPECT_EQ(world.run().end, RunEnd::finished);
    return world;
}

int series_in(const World& world) {
    int last = 0;
    for (const auto& visit : world.run().plan.visits)
        last = std::max(last, visit.series);
    return last;
}

constexpr const char* dkd_a = R"({"name": "s", "title": "x", "method": "DKD-R 6-1 A", "up_to": "900 bar"})";

TEST(MethodSequence, TakesItsPointsFromTheMethodAndPlansTheirLoads) {
    const auto sequence = sequence_of(dkd_a);
    ASSERT_EQ(sequence.points.size(), 9U); // DKD-R 6-1: nine points, zero among them
    EXPECT_TRUE(sequence.points.front().zero);
    EXPECT_EQ(sequence.points[1].target, "112.5 bar");
    EXPECT_EQ(sequence.points.back().target, "900 bar");
    EXPECT_EQ(sequence.points[1].range, 1U) << "the low range ends at 110 bar";
    for (std::size_t i = 1; i < 9; ++i)
        EXPECT_FALSE(sequence.points[i].discs.empty()) << i;
    EXPECT_EQ(sequence.series.size(), 6U);
    EXPECT_EQ(sequence.preloads, 3);
    EXPECT_EQ(sequence.wait_s, 30);
    EXPECT_EQ(sequence.wait_at_top_s, 120);
    EXPECT_EQ(sequence.wait_at_top_dial_s, 300);
    EXPECT_TRUE(sequence.departures.empty());
}

TEST(MethodSequence, EveryMethodIsWorkedThrough) {
    const struct {
        const char* method;
        int series;
        std::size_t marks;
    } rows[] = {{"DKD-R 6-1 A", 6, 6 * 9},
                {"DKD-R 6-1 B", 3, 3 * 9},
                {"DKD-R 6-1 C", 2, 2 * 5},
                {"EURAMET cg-17 basic", 4, 2 * 6 + 2 * 2},
                {"EURAMET cg-17 standard", 4, 2 * 11 + 2 * 4},
                {"EURAMET cg-17 comprehensive", 6, 6 * 11}};
    for (const auto& row : rows) {
        SCOPED_TRACE(row.method);
        const World world = worked_through(
            std::string(R"({"name": "s", "title": "x", "up_to": "900 bar", "method": ")") + row.method + "\"}");
        EXPECT_EQ(series_in(world), row.series);
        EXPECT_EQ(world.state.marks.size(), row.marks);
        const auto result = evaluate_run(world.state, world.run(), 0).evaluation;
        EXPECT_TRUE(result.zero_deviation.has_value());
        EXPECT_TRUE(std::any_of(result.unsaid.begin(), result.unsaid.end(), [](const metrology::Unsaid& one) {
            return one.topic == metrology::Topic::provenance;
        }));
        // Whatever the instrument's span: the points of the method lie from zero to the sequence's top.
        EXPECT_TRUE(std::none_of(result.unsaid.begin(), result.unsaid.end(), [](const metrology::Unsaid& one) {
            return english(one.why).find("asks for") != std::string::npos;
        }));
    }
}

TEST(MethodSequence, ConfirmedByTheLaboratoryItSaysNothingMore) {
    const World world = worked_through(
        R"({"name": "s", "title": "x", "up_to": "900 bar", "method": "DKD-R 6-1 C",
            "method_confirmed": "compared with an invented edition by an invented person"})");
    const auto result = evaluate_run(world.state, world.run(), 0).evaluation;
    for (const auto& one : result.unsaid)
        EXPECT_NE(one.topic, metrology::Topic::provenance);
}

TEST(MethodSequence, WaitsAreTheMethods) {
    const World world = worked_through(R"({"name": "s", "title": "x", "up_to": "900 bar", "method": "DKD-R 6-1 C"})");
    for (const auto& mark : world.state.marks) {
        if (mark.taken.vented) continue;
        const auto& interval = world.state.intervals.at(static_cast<std::size_t>(mark.taken.interval - 1));
        const auto& visit = world.run().plan.visits[static_cast<std::size_t>(mark.taken.visit)];
        const bool top = visit.point + 1 == world.state.bench->sequences[0].points.size();
        EXPECT_GE(mark.taken.from_us - interval.from_us, top ? 120'000'000 : 30'000'000) << mark.taken.mark;
    }
}

TEST(MethodSequence, WhatIsDoneOtherwiseIsTold) {
    const auto sequence = sequence_of(
        R"({"name": "s", "title": "x", "up_to": "900 bar", "method": "DKD-R 6-1 B", "wait": "1 s", "wait_at_top": "2 s",
            "preloads": {"count": 1}, "series": ["up", "down"]})");
    const auto told = [&](const std::string& words) {
        return std::any_of(sequence.departures.begin(), sequence.departures.end(), [&](const metrology::Sentence& one) {
            return english(one).find(words) != std::string::npos;
        });
    };
    EXPECT_TRUE(told("wait at a point 1 s where DKD-R 6-1 B asks for 30 s"));
    EXPECT_TRUE(told("wait at the upper limit 2 s"));
    EXPECT_TRUE(told("preloads: 1 where DKD-R 6-1 B asks for 2"));
    EXPECT_TRUE(told("2 series where DKD-R 6-1 B asks for 3"));
}

TEST(MethodSequence, InstrumentsAreClampedAnewBeforeTheThirdCycle) {
    const auto bench = bench_of(bench_with(dkd_a));
    const auto plan = plan_steps(bench, bench.sequences[0]);
    const auto anew = std::find_if(plan.steps.begin(), plan.steps.end(), [](const Step& step) {
        return step.title == "Clamp the instruments anew before series 5";
    });
    ASSERT_NE(anew, plan.steps.end());
    EXPECT_EQ(anew->caution.front().text, "Relieve the pressure before undoing anything.");
    const auto before =
        std::count_if(plan.steps.begin(), anew, [](const Step& step) { return step.kind == StepKind::read; });
    EXPECT_EQ(before, 4 * 9);
}

TEST(MethodSequence, AnOverlapPointIsPutAmongTheMethodsPoints) {
    const auto sequence = sequence_of(
        R"({"name": "s", "title": "x", "up_to": "900 bar", "method": "DKD-R 6-1 C", "overlap_at": "100 bar"})");
    ASSERT_EQ(sequence.points.size(), 7U);
    EXPECT_TRUE(sequence.points[1].overlap && sequence.points[2].overlap);
    EXPECT_EQ(sequence.points[1].range, 0U);
    EXPECT_EQ(sequence.points[2].range, 1U);
    EXPECT_EQ(sequence.points[1].target, "100 bar");
}

TEST(MethodSequence, EN837CountsItsPoints) {
    const std::string points = R"("points": [{"pressure": "0 bar"}, {"pressure": "20 bar"}, {"pressure": "40 bar"},
        {"pressure": "60 bar"}, {"pressure": "80 bar"}], "series": ["up", "down"], "method": "EN 837-1")";
    EXPECT_EQ(refusal(R"({"name": "s", "title": "x", "class": 1.6, )" + points + "}"), "");
    EXPECT_EQ(refusal(R"({"name": "s", "title": "x", "class": 0.6, )" + points + "}"),
              "x.json: sequences[0].points: 5 points; EN 837-1 asks for at least 10 for class 0.6");
}

TEST(MethodSequence, MistakesNameTheirPlace) {
    EXPECT_EQ(refusal(R"({"name": "s", "title": "x", "method": "DKD", "up_to": "900 bar"})"),
              "x.json: sequences[0].method: \"DKD\" is no method; use " + metrology::method_names() +
                  ", or leave it out for a sequence of your own");
    EXPECT_EQ(refusal(R"({"name": "s", "title": "x", "method": "DKD-R 6-1 A"})"),
              "x.json: sequences[0].up_to: is missing; add it");
    EXPECT_NE(refusal(R"({"name": "s", "title": "x", "method": "DKD-R 6-1 A", "up_to": "1200 bar"})")
                  .find("above the lowest rating"),
              std::string::npos);
    EXPECT_NE(refusal(R"({"name": "s", "title": "x", "series": ["up"], "points": [{"pressure": "20 bar"},
                          {"pressure": "0 bar"}]})")
                  .find("a zero is the lowest point"),
              std::string::npos);
    EXPECT_NE(
        refusal(R"({"name": "s", "title": "x", "series": ["up"], "points": [{"pressure": "0 bar", "discs": []}]})")
            .find("a zero is read with the line open"),
        std::string::npos);
    EXPECT_NE(refusal(R"({"name": "s", "title": "x", "series": [{"direction": "up", "points": ["30 bar"]}],
                          "points": [{"pressure": "20 bar"}]})")
                  .find("30 bar is none of the points"),
              std::string::npos);
}

TEST(MethodSequence, PlannedLoadsAreKeptWithTheBench) {
    const auto text = bench_with(dkd_a);
    const auto first = bench_of(text);
    ASSERT_EQ(first.planned_loads.size(), 1U);
    ASSERT_EQ(first.planned_loads.at("s").size(), 9U);
    // Another build might plan otherwise: what was journalled is what holds.
    auto kept = first.planned_loads;
    auto& top = kept.at("s").back();
    std::reverse(top.begin(), top.end());
    const auto again = bench_from_texts("x.json", text, profile_texts(), kept);
    ASSERT_TRUE(again.has_value());
    EXPECT_EQ(again->planned_loads, kept);
    EXPECT_TRUE(bench_of(demo_bench_text()).planned_loads.empty()) << "the demo states its discs";
}

constexpr const char* three_points = R"({"name": "s", "title": "x", "series": ["up", "down"], "preloads": {"count": 1},
    "points": [{"pressure": "0 bar"}, {"pressure": "20 bar"}, {"pressure": "60 bar"}]})";

World at_vent() {
    World world(bench_with(three_points));
    EXPECT_EQ(world.start({"transmitter A"}, "s"), "");
    world.work_to(StepKind::vent);
    EXPECT_EQ(world.at(), StepKind::vent);
    return world;
}

TEST(Zero, NeedsAPersonsWordThatTheLineIsOpen) {
    World world = at_vent();
    world.still(0);
    EXPECT_EQ(world.take_mark(0), "not at a reading step");
    EXPECT_EQ(world.confirm("low").substr(0, 7), "the run");
    ASSERT_EQ(world.does(vent_line(world.state, world.press())), "");
    EXPECT_EQ(world.at(), StepKind::read);
    world.still(0);
    ASSERT_EQ(world.take_mark(0, 500), "");
    const auto& mark = world.mark(1);
    EXPECT_EQ(mark.status, MarkStatus::vented);
    EXPECT_EQ(mark.taken.interval, 0);
    EXPECT_EQ(mark.taken.at_balance_pa, 0);
    // 85 mm of oil of 865 kg/m3, less air: 864 * 9.807 * 0.085 Pa.
    EXPECT_NEAR(mark.taken.reference_pa, 864 * 9.807 * 0.085, 1);
    EXPECT_GT(mark.taken.u_reference_pa, 0);
    EXPECT_LT(mark.taken.u_reference_pa, 20);
    EXPECT_NEAR(mark.taken.deviation_pa, 500, 25);
    EXPECT_TRUE(mark.taken.flags.empty());
    EXPECT_FALSE(world.state.vented.has_value()) << "the next step closes the line";
    EXPECT_EQ(world.at(), StepKind::load);
}

TEST(Zero, AFloatIsNoOpenLine) {
    World world = at_vent();
    ASSERT_EQ(world.does(vent_line(world.state, world.press())), "");
    EXPECT_NE(world.confirm("low"), "");
    world.happen(ServiceStarted{"invented boot", 1, "", "", "", ""});
    EXPECT_EQ(world.at(), StepKind::vent) << "nobody knows whether the line stayed open";
    world.still(0);
    EXPECT_NE(world.take_mark(0), "");
}

TEST(Zero, AnInstrumentUnderPressureDeniesThatTheLineIsOpen) {
    World world = at_vent();
    world.seen = {{0, 5e6, 0}};
    const auto refusal = vent_line(world.state, world.press());
    ASSERT_FALSE(refusal);
    ASSERT_EQ(refusal.error().contradicted.size(), 1U);
    EXPECT_NEAR(refusal.error().contradicted[0].expected_pa, 864 * 9.807 * 0.085, 1) << "the head is no pressure";
    EXPECT_FALSE(world.state.vented);
    auto press = world.press();
    press.despite = true;
    press.reason = "its tap is shut";
    ASSERT_EQ(world.does(vent_line(world.state, press)), "");
    EXPECT_TRUE(world.state.vented);
    ASSERT_EQ(world.state.overruled.size(), 1U);
    EXPECT_EQ(world.state.overruled[0].visit, 0U);
}

TEST(Zero, CanBeTakenBackAndIsRefusedElsewhere) {
    World world = at_vent();
    ASSERT_EQ(world.does(vent_line(world.state, world.press())), "");
    ASSERT_EQ(world.undo(), "");
    EXPECT_EQ(world.at(), StepKind::vent);
    EXPECT_FALSE(world.state.vented.has_value());
    World floating = World::at_first(StepKind::raise);
    EXPECT_NE(floating.does(vent_line(floating.state, floating.press())), "");
}

TEST(Zero, AVoidOneIsReadAgain) {
    World world = at_vent();
    ASSERT_EQ(world.does(vent_line(world.state, world.press())), "");
    world.still(0);
    ASSERT_EQ(world.take_mark(0), "");
    ASSERT_EQ(world.void_mark(1), "");
    ASSERT_EQ(world.does(redo_visit(world.state, world.press(), 1)), "");
    EXPECT_EQ(world.at(), StepKind::vent);
}

TEST(Wait, CountsFromWhereThePressureWasReachedNotFromEachConfirmation) {
    World world(bench_with(R"({"name": "s", "title": "x", "series": ["up"], "wait": "100 s",
        "points": [{"pressure": "20 bar"}]})"));
    ASSERT_EQ(world.start({"transmitter A"}, "s"), "");
    world.work_to(StepKind::read);
    const Micros reached_us = world.interval().from_us;
    while (world.state.open_interval() != nullptr)
        world.pass(5);
    ASSERT_EQ(world.interval().end, IntervalEnd::expired);
    ASSERT_EQ(world.confirm("low"), "");
    world.still(0);
    std::string why;
    const auto permit = window_permit(world.state, 0, world.now_us, why);
    ASSERT_TRUE(permit) << why;
    EXPECT_LT(permit->not_before_us, world.interval().from_us + 5'000'000);
    EXPECT_GE(permit->not_before_us, reached_us + 100'000'000);
    ASSERT_EQ(world.lost(), "");
    ASSERT_EQ(world.confirm("low"), "");
    world.still(0);
    const auto after_loss = window_permit(world.state, 0, world.now_us, why);
    ASSERT_TRUE(after_loss) << why;
    EXPECT_GE(after_loss->not_before_us, world.interval().from_us + 100'000'000);
}

/// The earliest reading of a mark lies a whole wait after the present confirmation.
void expect_the_wait_from_here(World& world) {
    world.still(0);
    std::string why;
    const auto permit = window_permit(world.state, 0, world.now_us, why);
    ASSERT_TRUE(permit) << why;
    EXPECT_GE(permit->not_before_us, world.interval().from_us + 100'000'000);
}

TEST(Wait, BeginsAgainUnderAnotherLoadAndAfterARestart) {
    World world(bench_with(R"({"name": "s", "title": "x", "series": ["up", "down"], "wait": "100 s",
        "points": [{"pressure": "20 bar"}]})"));
    ASSERT_EQ(world.start({"transmitter A"}, "s"), "");
    world.work_to(StepKind::read);
    World falling = world;
    world.pass(90);
    world.happen(FloatUnknown{world.interval().number});
    world.happen(ServiceStarted{"invented boot", 1'700'000'100'000'000, "test", "test", "test", "test"});
    ASSERT_EQ(world.at(), StepKind::raise);
    ASSERT_EQ(world.confirm("low"), "");
    expect_the_wait_from_here(world);

    // On the way down the same discs stay on, so that no step of the visit asks for its load.
    falling.work_one_step();
    falling.pass(0.1);
    falling.work_one_step();
    ASSERT_EQ(falling.at(), StepKind::raise);
    ASSERT_EQ(falling.step().direction, Direction::falling);
    ASSERT_EQ(falling.confirm("low"), "");
    falling.pass(90);
    ASSERT_EQ(falling.load("low", {"A1"}), "");
    falling.pass(1);
    ASSERT_EQ(falling.load_as_planned(), "");
    ASSERT_EQ(falling.confirm("low"), "");
    expect_the_wait_from_here(falling);
}

TEST(Series, OfSomePointsVisitsOnlyThose) {
    const World world = worked_through(
        R"({"name": "s", "title": "x", "points": [{"pressure": "20 bar"}, {"pressure": "40 bar"}, {"pressure": "60 bar"}],
            "series": ["up", "down", {"direction": "up", "points": ["20 bar", "60 bar"], "role": "repeatability"}]})");
    EXPECT_EQ(world.state.marks.size(), 8U);
    const auto result = evaluate_run(world.state, world.run(), 0).evaluation;
    EXPECT_TRUE(result.points[0].repeatability.has_value());
}

} // namespace
} // namespace stillmark::bench::testing
