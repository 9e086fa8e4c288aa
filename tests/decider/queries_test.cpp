#include "daemon/decider/bench_json.hpp"
#include "daemon/decider/queries.hpp"
#include "decider/desk.hpp"
#include "decider/openings.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace stillmark::decider::testing {
namespace {

using bench::StepKind;
using nlohmann::json;
using Kind = Outcome::Kind;

json parsed(const journal::JournalResult<std::string>& answer) {
    if (!answer) throw std::runtime_error(answer.error().message);
    return json::parse(*answer);
}

/// A desk with its first mark; what it journalled is on disk.
class Queries : public ::testing::Test {
  protected:
    Queries() : path(folder / "x.journal"), desk(path) {}
    void SetUp() override {
        ASSERT_EQ(desk.start_run().kind, Kind::recorded);
        while (desk.state().marks.empty())
            ASSERT_EQ(desk.go_on().kind, Kind::recorded);
        // Readings ride along with the next event, or follow within a quarter of a second.
        desk.pass(0.4);
    }
    Folder folder;
    std::string path;
    Desk desk;
};

TEST_F(Queries, PagesOfEventsJoinToTheWholeJournal) {
    const json all = parsed(events_json(path, {{}, {}, most_events, ""}));
    ASSERT_GT(all["events"].size(), 5U);
    EXPECT_EQ(all["earlier"], nullptr);
    EXPECT_EQ(all["events"][0]["kind"], "ServiceStarted");
    json forward = json::array(), backward = json::array();
    for (json next = 1; !next.is_null();) {
        const json page = parsed(events_json(path, {next.get<std::uint64_t>(), {}, 2, ""}));
        EXPECT_LE(page["events"].size(), 2U);
        for (const auto& event : page["events"])
            forward.push_back(event);
        next = page["later"];
    }
    EventQuery query{{}, {}, 3, ""};
    for (bool more = true; more;) {
        const json page = parsed(events_json(path, query));
        json joined = page["events"];
        joined.insert(joined.end(), backward.begin(), backward.end());
        backward = std::move(joined);
        more = !page["earlier"].is_null();
        if (more) query.below = page["earlier"].get<std::uint64_t>();
    }
    EXPECT_EQ(forward, backward);
    ASSERT_GE(forward.size(), all["events"].size());
    for (std::size_t i = 0; i < all["events"].size(); ++i)
        EXPECT_EQ(forward[i], all["events"][i]);
}

TEST_F(Queries, EventsOfOneKindStandWithTheirInstantInUtc) {
    const json marks = parsed(events_json(path, {1, {}, 10, "MarkTaken"}));
    ASSERT_EQ(marks["events"].size(), 1U);
    const auto& event = marks["events"][0];
    EXPECT_EQ(event["fact"]["run"], "R1");
    EXPECT_FALSE(event["fact"].contains("fact"));
    const json started = parsed(events_json(path, {1, {}, 1, ""}))["events"][0];
    EXPECT_EQ(event["utc_us"].get<Micros>() - event["at_us"].get<Micros>(),
              started["fact"]["utc_us"].get<Micros>() - started["at_us"].get<Micros>());
    // A page that begins behind the anchor knows the time too.
    const json later = parsed(events_json(path, {event["number"].get<std::uint64_t>(), {}, 1, ""}));
    EXPECT_EQ(later["events"][0]["utc_us"], event["utc_us"]);
}

TEST_F(Queries, ABenchFileIsNamedNotRepeated) {
    const json benches = parsed(events_json(path, {1, {}, 10, "BenchTaken"}));
    ASSERT_EQ(benches["events"].size(), 1U);
    EXPECT_TRUE(benches["events"][0]["fact"].contains("revision"));
    EXPECT_FALSE(benches["events"][0]["fact"].contains("text"));
}

TEST_F(Queries, WhatIsNoFactIsRefused) {
    const auto answer = events_json(path, {1, {}, 10, "MarkDreamt"});
    ASSERT_FALSE(answer);
    EXPECT_NE(answer.error().message.find("no fact is called \"MarkDreamt\""), std::string::npos);
}

TEST_F(Queries, ReadingsAreThoseOfTheTimeAskedForInTheInstrumentsUnit) {
    EXPECT_FALSE(readings_query(*desk.decider, "nobody's gauge", 60));
    EXPECT_FALSE(readings_query(*desk.decider, "dial gauge D", 60));
    const auto query = readings_query(*desk.decider, "transmitter A", 0.3);
    ASSERT_TRUE(query);
    const json answer = parsed(readings_json(path, *query));
    EXPECT_EQ(answer["unit"], "bar");
    const auto& readings = answer["readings"];
    ASSERT_GT(readings.size(), 3U);
    Micros before_us = 0;
    for (const auto& reading : readings) {
        EXPECT_GE(reading[0].get<Micros>(), query->from_us);
        EXPECT_LE(reading[0].get<Micros>(), query->to_us);
        EXPECT_GT(reading[0].get<Micros>(), before_us);
        before_us = reading[0].get<Micros>();
        EXPECT_EQ(reading[2], "good");
    }
    const auto& mark = desk.state().marks[0].taken;
    EXPECT_NEAR(readings.back()[1].get<double>(), mark.mean_pa / 1e5, 0.05);
}

TEST_F(Queries, ThinnedReadingsKeepTheirExtremes) {
    // What the whole stretch holds, by the journal itself.
    auto query = readings_query(*desk.decider, "transmitter A", 3600);
    ASSERT_TRUE(query);
    query->from_us = 0; // stretches of many minutes: everything falls into one or two
    const json answer = parsed(readings_json(path, *query));
    auto reader = journal::JournalReader::open(path);
    ASSERT_TRUE(reader);
    const auto all = (*reader)->readings(query->channel, 0, INT64_MAX);
    ASSERT_TRUE(all);
    ASSERT_GT(all->size(), 20U);
    double least = INFINITY, greatest = -INFINITY, least_told = INFINITY, greatest_told = -INFINITY;
    for (const auto& reading : *all) {
        least = std::min(least, reading.value / 1e5);
        greatest = std::max(greatest, reading.value / 1e5);
    }
    for (const auto& reading : answer["readings"]) {
        least_told = std::min(least_told, reading[1].get<double>());
        greatest_told = std::max(greatest_told, reading[1].get<double>());
    }
    EXPECT_LE(answer["readings"].size(), 2000U);
    EXPECT_DOUBLE_EQ(least_told, least);
    EXPECT_DOUBLE_EQ(greatest_told, greatest);
}

TEST_F(Queries, ABudgetIsThatOfTheMark) {
    const auto& mark = desk.state().marks[0].taken;
    const json budget = parsed(budget_json(path, "R1", mark.mark));
    EXPECT_EQ(budget["channel"], "transmitter A");
    EXPECT_EQ(budget["u_reference_pa"], mark.u_reference_pa);
    double variance = 0, share = 0;
    for (const auto& line : budget["lines"]) {
        variance += std::pow(line["contribution_pa"].get<double>(), 2);
        share += line["share"].get<double>();
    }
    EXPECT_NEAR(std::sqrt(variance), mark.u_reference_pa, 1e-9 * mark.u_reference_pa);
    EXPECT_NEAR(share, 1, 1e-9);
    double reading_share = 0;
    for (const auto& line : budget["reading"])
        reading_share += line["share"].get<double>();
    EXPECT_NEAR(reading_share, 1, 1e-9);
    double reference_pa = budget["nominal_pa"];
    for (const auto& one : budget["corrections"])
        reference_pa += one["pa"].get<double>();
    EXPECT_NEAR(reference_pa, mark.reference_pa, 1e-9 * mark.reference_pa);
    EXPECT_FALSE(budget_json(path, "R1", 99));
    EXPECT_FALSE(budget_json(path, "R2", mark.mark));
}

TEST_F(Queries, TheFrameTellsOfUndoWindowAndApproach) {
    const json seen = frame(*desk.decider);
    EXPECT_EQ(seen["undo"], nullptr); // the mark rests on the confirmation
    const auto& channel = seen["channels"][0];
    ASSERT_TRUE(channel["approach"].is_object());
    EXPECT_EQ(channel["approach"]["beyond"], false);
    const auto& marked = seen["marks"][0];
    EXPECT_TRUE(marked["permissible_pa"].is_number());
    while (desk.step()->kind != StepKind::raise)
        ASSERT_EQ(desk.go_on().kind, Kind::recorded);
    const json loaded = frame(*desk.decider);
    ASSERT_TRUE(loaded["undo"].is_object()) << loaded["step"].dump();
    EXPECT_EQ(loaded["undo"]["what"], "the stated load");
    EXPECT_GT(loaded["undo"]["until_us"].get<Micros>(), loaded["at_us"].get<Micros>());
}

/// At the load step of the second point the pressure goes beyond it and comes back to it.
void overshoot_while_loading(Desk& desk) {
    desk.go_on_to(StepKind::sight);
    ASSERT_EQ(desk.go_on().kind, Kind::recorded);
    desk.go_on_to(StepKind::load);
    const json seen = frame(*desk.decider);
    ASSERT_TRUE(seen["step"]["then"].is_object()) << seen["step"].dump();
    EXPECT_TRUE(seen["step"]["turn"].is_string());
    const double target_pa = seen["step"]["target_pa"];
    desk.off_pa = 1.1 * target_pa;
    desk.pass(0.2);
    const json beyond = frame(*desk.decider);
    EXPECT_EQ(beyond["channels"][0]["approach"]["beyond"], true)
        << beyond["channels"][0].dump() << beyond["step"].dump();
    desk.off_pa = target_pa;
    desk.pass(0.1);
    // From here on the float makes the pressure, where one is confirmed.
    desk.reads = false;
    desk.off_pa = 0;
}

TEST_F(Queries, WindingBeforeThePressIsPartOfTheApproach) {
    overshoot_while_loading(desk);
    const OpeningsWatched watched;
    const auto number = static_cast<std::int64_t>(desk.state().running()->step);
    const auto press = Desk::press(protocols::now_us());
    ASSERT_EQ(desk.ask([&](const bench::State& state, Micros now) {
                      return bench::state_planned_load(state, {press.pressed_us, now, ""}, number);
                  })
                  .kind,
              Kind::recorded);
    const auto range = desk.state().bench->balance.ranges[*desk.step()->range].physics.name;
    ASSERT_EQ(desk.ask([&](const bench::State& state, Micros now) {
                      return bench::confirm_float(state, {press.pressed_us, now, ""}, range);
                  })
                  .kind,
              Kind::recorded);
    desk.reads = true;
    const auto before = desk.state().marks.size();
    ASSERT_TRUE(desk.until([&] { return desk.state().marks.size() > before; }));
    EXPECT_EQ(desk.state().marks.back().taken.flags, std::vector<std::string>{"approached from above"});
    // It is read of the journal, and who waits for a disk takes no readings meanwhile.
    EXPECT_GT(OpeningsWatched::all(), 0U);
    EXPECT_EQ(OpeningsWatched::on_this_thread(), 0U);
    const auto again = replay(path);
    ASSERT_TRUE(again);
    EXPECT_TRUE(again->marks.back().same);
}

TEST_F(Queries, AfterALoadThatWasStatedByItselfTheApproachBeginsThere) {
    overshoot_while_loading(desk);
    while (desk.step()->kind != StepKind::raise)
        ASSERT_EQ(desk.go_on().kind, Kind::recorded);
    desk.reads = true; // of a piston that rests, and is raised from there
    desk.pass(0.2);
    const auto before = desk.state().marks.size();
    while (desk.state().marks.size() == before)
        ASSERT_EQ(desk.go_on().kind, Kind::recorded);
    EXPECT_EQ(desk.state().marks.back().taken.flags, std::vector<std::string>{});
}

TEST(BenchJson, TellsWhatAClientCannotSeeInAFrame) {
    const auto bench = hurried_bench();
    const json told = bench_json(bench);
    EXPECT_EQ(told["discs"].size(), bench.discs.size());
    EXPECT_EQ(told["weakest"]["rating_pa"], bench.weakest().rating_pa);
    const auto dial = std::ranges::find_if(told["instruments"], [](const json& one) { return one["manual"] == true; });
    ASSERT_NE(dial, told["instruments"].end());
    EXPECT_GT((*dial)["division"].get<double>(), 0);
    EXPECT_EQ((*dial)["bus"], nullptr);
    const auto& points = told["sequences"][0]["points"];
    ASSERT_FALSE(points.empty());
    EXPECT_EQ(points[0]["discs"].size(), bench.sequences[0].points[0].discs.size());
}

} // namespace
} // namespace stillmark::decider::testing
