// Whole runs of the methods that the catalogue knows, on invented time, and the readings of a zero within them.
#include "bench/world.hpp"
#include "daemon/bench/runs.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

namespace stillmark::bench::testing {
namespace {

using nlohmann::json;

/// The demo's bench with one sequence of a method up to 900 bar; `more` are further keys of the sequence.
std::string bench_with(const std::string& method, const json& more = json::object()) {
    json bench = json::parse(demo_bench_text(), nullptr, true, true);
    json sequence{{"name", "invented"}, {"title", "Invented"}, {"method", method}, {"up_to", "900 bar"}};
    sequence.update(more);
    bench["sequences"] = json::array({sequence});
    return bench.dump();
}

struct Walked {
    int preloads = 0;
    int reclamps = 0;
};

/// Does whatever the run asks for, to its end. A dial's wait may be longer than a float lasts: it is renewed meanwhile.
Walked walk(World& world, bool with_dial = false) {
    Walked walked;
    for (int bound = 0; bound < 2000 && world.run().now() != nullptr; ++bound) {
        const Step& step = world.step();
        if (step.kind == StepKind::wait && step.direction == Direction::preload) ++walked.preloads;
        if (step.title.starts_with("Clamp the instruments anew")) ++walked.reclamps;
        const double wait_s = with_dial && step.kind == StepKind::read ? std::max(step.wait_s, step.wait_dial_s) : 0;
        const int minutes = static_cast<int>(std::ceil(wait_s / 60));
        for (int i = 0; i < minutes; ++i) {
            world.pass(std::min(wait_s - 60.0 * i, 60.0) + 0.1);
            if (world.state.open_interval() != nullptr) {
                EXPECT_EQ(world.sighted(false), "");
            }
        }
        world.work_one_step();
        world.pass(0.1);
    }
    return walked;
}

/// When the wait before a mark began: the confirmation of its float, or the statement that the line is open.
Micros ground_us(const World& world, const MarkTaken& mark) {
    if (!mark.vented.value_or(false)) return world.state.intervals[static_cast<std::size_t>(mark.interval - 1)].from_us;
    Micros opened_us = 0;
    for (const auto& line : world.journal)
        if (line.at_us <= mark.from_us && line.text.find("\"LineVented\"") != std::string::npos) opened_us = line.at_us;
    return opened_us;
}

struct MethodRun {
    const char* name;
    std::size_t visits, zeros, series;
    int preloads, reclamps;
    double wait_s, wait_at_top_s;
};

class RunOf : public ::testing::TestWithParam<MethodRun> {};

// Numbers of points, preloads, waits and series: EURAMET cg-17 v4.1, 5.2.1 (basic); from memory (standard,
// comprehensive, the series of DKD-R 6-1); second hand (points, preloads and waits of DKD-R 6-1 (03/2014)).
INSTANTIATE_TEST_SUITE_P(Methods, RunOf,
                         ::testing::Values(MethodRun{"EURAMET cg-17 basic", 6 + 6 + 2 + 2, 4, 4, 1, 0, 0, 0},
                                           MethodRun{"EURAMET cg-17 standard", 11 + 11 + 4 + 4, 4, 4, 2, 0, 0, 0},
                                           MethodRun{"EURAMET cg-17 comprehensive", 66, 6, 6, 3, 0, 0, 0},
                                           MethodRun{"DKD-R 6-1 A", 54, 6, 6, 3, 1, 30, 120},
                                           MethodRun{"DKD-R 6-1 B", 27, 3, 3, 2, 0, 30, 120},
                                           MethodRun{"DKD-R 6-1 C", 10, 2, 2, 1, 0, 30, 120}),
                         [](const auto& row) {
                             std::string name;
                             for (const char letter : std::string(row.param.name))
                                 if (std::isalnum(static_cast<unsigned char>(letter)) != 0) name += letter;
                             return name;
                         });

TEST_P(RunOf, MarksEveryPointOfEverySeriesAfterItsWait) {
    const auto& row = GetParam();
    World world(bench_with(row.name));
    const Sequence& sequence = world.state.bench->sequences.front();
    EXPECT_TRUE(sequence.departures.empty());
    EXPECT_EQ(sequence.series.size(), row.series);
    ASSERT_EQ(world.start({"transmitter A"}), "");
    const Walked walked = walk(world);
    ASSERT_EQ(world.run().end, RunEnd::finished);
    EXPECT_EQ(walked.preloads, row.preloads);
    EXPECT_EQ(walked.reclamps, row.reclamps);
    ASSERT_EQ(world.state.marks.size(), row.visits);
    std::size_t zeros = 0;
    for (const Mark& mark : world.state.marks) {
        const Visit& visit = world.run().plan.visits[static_cast<std::size_t>(mark.taken.visit)];
        EXPECT_EQ(mark.status, visit.vented ? MarkStatus::vented : MarkStatus::sighted) << mark.taken.mark;
        zeros += visit.vented ? 1 : 0;
        const bool top = visit.point + 1 == sequence.points.size();
        const double asked_s = top ? row.wait_at_top_s : row.wait_s;
        const double waited_s = static_cast<double>(mark.taken.from_us - ground_us(world, mark.taken)) / 1e6;
        EXPECT_GE(waited_s, asked_s) << mark.taken.mark;
        EXPECT_LT(waited_s, asked_s + 1) << mark.taken.mark << ": nobody waits for longer than the method asks";
    }
    EXPECT_EQ(zeros, row.zeros);
}

// DKD-R 6-1 (second hand): a Bourdon gauge stays five minutes at the upper limit. A float does not last as long.
TEST(MethodRun, ADialWaitsFiveMinutesAtTheUpperLimit) {
    // Points that can be read from the dial.
    World world(bench_with("DKD-R 6-1 C", {{"up_to", "800 bar"}}));
    ASSERT_EQ(world.start({"dial gauge D"}), "");
    while (world.run().now() != nullptr && (world.at() != StepKind::read || world.step().wait_dial_s <= 0)) {
        if (world.at() == StepKind::read) world.pass(world.step().wait_s);
        world.work_one_step();
    }
    ASSERT_EQ(world.step().wait_dial_s, 300);
    for (int i = 0; i < 2; ++i) {
        world.pass(120);
        ASSERT_EQ(world.sighted(false), "");
    }
    EXPECT_NE(world.enter("dial gauge D", "800 bar", "800 bar"), "") << "after four minutes";
    walk(world, true);
    ASSERT_EQ(world.run().end, RunEnd::finished);
    ASSERT_EQ(world.state.marks.size(), 10U);
    for (const Mark& mark : world.state.marks) {
        const Visit& visit = world.run().plan.visits[static_cast<std::size_t>(mark.taken.visit)];
        const double waited_s = static_cast<double>(mark.taken.from_us - ground_us(world, mark.taken)) / 1e6;
        EXPECT_GE(waited_s, visit.point == 4 ? 300 : 30) << mark.taken.mark;
    }
}

TEST(MethodRun, APointerOnItsStopOwesNoZero) {
    json bench =
        json::parse(bench_with("DKD-R 6-1 C", {{"up_to", "800 bar"}, {"wait", "1 s"}, {"wait_at_top", "1 s"}}));
    for (auto& instrument : bench["instruments"])
        if (instrument["name"] == "dial gauge D") instrument["pointer_stop"] = true;
    World world(bench.dump());
    ASSERT_EQ(world.start({"transmitter A", "dial gauge D"}), "");
    walk(world, true);
    ASSERT_EQ(world.run().end, RunEnd::finished);
    std::size_t zeros = 0, of_dial = 0;
    for (const Mark& mark : world.state.marks) {
        zeros += mark.status == MarkStatus::vented ? 1 : 0;
        of_dial += world.state.bench->instruments[static_cast<std::size_t>(mark.taken.channel)].manual() ? 1 : 0;
    }
    EXPECT_EQ(zeros, 2U);
    EXPECT_EQ(of_dial, 8U);
}

// Another build might plan other discs; a replay takes those that were journalled.
TEST(MethodRun, AReplayDoesNotPlanAgain) {
    const auto text = bench_with("DKD-R 6-1 C");
    const BenchFile planned = bench_of(text);
    ASSERT_EQ(planned.planned_loads.size(), 1U);
    auto otherwise = planned.planned_loads;
    for (auto& point : otherwise.at("invented"))
        for (auto& disc : point)
            disc = disc == "A1" ? "A10" : disc == "A10" ? "A1" : disc;
    ASSERT_NE(otherwise, planned.planned_loads);
    const auto replayed = bench_from_texts("invented.json", text, profile_texts(), otherwise);
    ASSERT_TRUE(replayed.has_value()) << replayed.error().message;
    for (std::size_t i = 0; i < replayed->sequences.front().points.size(); ++i) {
        std::vector<std::string> names;
        for (const auto disc : replayed->sequences.front().points[i].discs)
            names.push_back(replayed->discs[disc].piece.name);
        EXPECT_EQ(names, otherwise.at("invented")[i]) << i;
    }
}

/// A run of one transmitter whose next step opens the line for the first zero.
World before_the_first_zero() {
    World world(bench_with("DKD-R 6-1 C"));
    EXPECT_EQ(world.start({"transmitter A"}), "");
    world.work_to(StepKind::vent);
    return world;
}

std::string vent(World& world, double age_s = 0) {
    return world.does(vent_line(world.state, world.press(age_s)));
}

TEST(Zero, IsTheHeadOfTheLiquidAloneAndNeedsNoFloat) {
    World world = before_the_first_zero();
    const auto floats = world.state.intervals.size();
    ASSERT_EQ(vent(world), "");
    world.work_one_step();
    const Mark& mark = world.mark(1);
    EXPECT_EQ(mark.status, MarkStatus::vented);
    EXPECT_STREQ(word(mark.status), "vented");
    EXPECT_EQ(mark.taken.interval, 0);
    EXPECT_EQ(world.state.intervals.size(), floats);
    EXPECT_NEAR(mark.taken.at_balance_pa, 0, 1e-6);
    // Some centimetres of oil: a reading of the head, of the sign of an instrument below the mark.
    EXPECT_GT(mark.taken.reference_pa, 100);
    EXPECT_LT(mark.taken.reference_pa, 2000);
    EXPECT_GT(mark.taken.u_reference_pa, 0);
    EXPECT_EQ(world.at(), StepKind::load) << "the next point's; no second look is asked for";
}

TEST(Zero, HasNoMarkUntilSomebodySaysThatTheLineIsOpen) {
    World world = before_the_first_zero();
    world.still(0);
    EXPECT_EQ(world.take_mark(0), "not at a reading step");
    EXPECT_EQ(world.window(0, world.now_us), "not at a reading step");
    EXPECT_TRUE(world.state.marks.empty());
    EXPECT_EQ(vent(world, 3), "the press is 3.0 s old; look again and press again");
    EXPECT_TRUE(world.state.marks.empty());
}

TEST(Zero, IsOpenedOnlyWhereAStepAsksForIt) {
    World world(bench_with("DKD-R 6-1 C"));
    EXPECT_EQ(vent(world), "this step reads no zero; the line is opened where a step asks for it");
    ASSERT_EQ(world.start({"transmitter A"}), "");
    EXPECT_EQ(vent(world), "this step reads no zero; the line is opened where a step asks for it");
    EXPECT_FALSE(world.state.vented.has_value());
}

TEST(Zero, NothingFloatsAtIt) {
    World world = before_the_first_zero();
    EXPECT_NE(world.confirm("high"), "");
    ASSERT_EQ(vent(world), "");
    EXPECT_NE(world.confirm("high"), "");
    EXPECT_EQ(world.state.open_interval(), nullptr);
}

TEST(Zero, TheLineIsNotTakenForOpenAfterwards) {
    const auto begins_again = [](World& world) {
        EXPECT_EQ(world.at(), StepKind::vent);
        EXPECT_FALSE(world.state.vented.has_value());
        world.still(0);
        EXPECT_EQ(world.take_mark(0), "not at a reading step");
    };
    World undone = before_the_first_zero();
    ASSERT_EQ(vent(undone), "");
    ASSERT_EQ(undone.undo(), "");
    begins_again(undone);

    World restarted = before_the_first_zero();
    ASSERT_EQ(vent(restarted), "");
    restarted.happen(ServiceStarted{"invented boot", 1'700'000'100'000'000, "test", "test", "test", "test"});
    begins_again(restarted);

    World loaded = before_the_first_zero();
    ASSERT_EQ(vent(loaded), "");
    ASSERT_EQ(loaded.load("low", {"C1"}), "");
    begins_again(loaded);

    World read = before_the_first_zero();
    ASSERT_EQ(vent(read), "");
    read.work_one_step();
    EXPECT_FALSE(read.state.vented.has_value()) << "whoever loads a point has closed the line";
}

TEST(Zero, IsReadAgainWhereItsMarkIsVoid) {
    World world = before_the_first_zero();
    ASSERT_EQ(vent(world), "");
    world.work_one_step();
    const auto redo = [&world] { return world.does(redo_visit(world.state, world.press(), 1)); };
    EXPECT_EQ(redo(), "mark 1 stands; void it first");
    ASSERT_EQ(world.void_mark(1), "");
    ASSERT_EQ(redo(), "");
    ASSERT_EQ(world.at(), StepKind::vent);
    ASSERT_EQ(vent(world), "");
    world.work_one_step();
    EXPECT_EQ(world.mark(1).status, MarkStatus::voided);
    EXPECT_EQ(world.mark(2).status, MarkStatus::vented);
    EXPECT_EQ(world.at(), StepKind::load);
}

// Texts as journals held them before there were zeros and planned loads: they are read, and written as they were.
TEST(FormerJournals, AreReadAndWrittenAsTheyWere) {
    const std::string texts[] = {
        R"({"fact":"BenchTaken","path":"p","profiles":{"a.json":"{}"},"revision":"r","text":"{}"})",
        R"({"by":"invented person","fact":"StepDone","step":0})",
        R"({"approach_from":4,"approach_pa":2.0,"at_balance_pa":2.0,"channel":0,"count":9,"deviation_pa":0.0,)"
        R"("effective_count":6.0,"fact":"MarkTaken","first":5,"flags":[],"from_us":1,"interval":1,"last":13,"mark":1,)"
        R"("mean_pa":2.0,"reference_pa":2.0,"resolution_pa":1.0,"run":"R1","scatter_pa":0.5,"slope_pa_per_s":0.0,)"
        R"("tapped_pa":0.0,"timing_us":500,"to_us":2,"u_dof":"inf","u_mean_dof":5.0,"u_mean_pa":0.1,"u_pa":0.5,)"
        R"("u_reference_dof":"inf","u_reference_pa":0.3,"untapped_pa":0.0,"visit":0})"};
    for (const auto& text : texts) {
        std::string why;
        const auto fact = fact_from_text(text, why);
        ASSERT_TRUE(fact.has_value()) << why;
        EXPECT_EQ(to_text(*fact), text);
        if (const auto* mark = std::get_if<MarkTaken>(&*fact)) {
            EXPECT_FALSE(mark->vented.has_value());
        }
    }
}

} // namespace
} // namespace stillmark::bench::testing
