#include "daemon/decider/frame.hpp"
#include "decider/desk.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <optional>
#include <set>
#include <string>

namespace stillmark::decider::testing {
namespace {

using bench::StepKind;
using nlohmann::json;
using Kind = Outcome::Kind;

/// Asks as a request does, with what the instruments show.
Outcome ask_with_readings(Desk& desk,
                          const std::function<bench::Decision(const bench::State&, const bench::Press&)>& decide,
                          const std::string& reason = "") {
    std::optional<Outcome> outcome;
    desk.decider->request(
        [&](const bench::State& state, const bench::Moment& moment) {
            bench::Press press{moment.now_us, moment.now_us, "invented person", false, moment.seen};
            press.despite = !reason.empty();
            press.reason = reason;
            return decide(state, press);
        },
        [&outcome](Outcome one) { outcome = std::move(one); });
    EXPECT_TRUE(desk.until([&outcome] { return outcome.has_value(); }));
    return outcome.value_or(Outcome{Kind::refused, "no outcome"});
}

TEST(Presses, APressIsHeldAgainstTheReadingsOfNow) {
    Folder folder;
    Desk desk(folder / "x.journal");
    ASSERT_EQ(desk.start_run().kind, Kind::recorded);
    desk.go_on_to(StepKind::load);
    // Past the preload and the first point, whose 2 bar nobody can tell from zero.
    while (desk.step()->kind != StepKind::raise || desk.step()->point != 1U)
        ASSERT_EQ(desk.go_on().kind, Kind::recorded);
    const auto range = desk.state().bench->balance.ranges[*desk.step()->range].physics.name;
    const auto confirm = [&](const bench::State& state, const bench::Press& press) {
        return bench::confirm_float(state, press, range);
    };
    desk.pass(0.3);
    const auto denied = ask_with_readings(desk, confirm);
    EXPECT_EQ(denied.kind, Kind::contradicted) << denied.why;
    ASSERT_EQ(denied.contradicted.size(), 1U);
    EXPECT_LT(std::abs(denied.contradicted[0].shows_pa), 1000);
    EXPECT_GT(denied.contradicted[0].expected_pa, 1.9e6);
    EXPECT_EQ(desk.state().open_interval(), nullptr);
    // Whose last reading is old tells nothing of now.
    desk.reads = false;
    desk.pass(1);
    EXPECT_EQ(ask_with_readings(desk, confirm).kind, Kind::recorded);
    EXPECT_TRUE(desk.state().overruled.empty());
    ASSERT_EQ(
        desk.ask([](const bench::State& state, Micros now) { return bench::undo_press(state, Desk::press(now)); }).kind,
        Kind::recorded);
    desk.reads = true;
    desk.pass(0.3);
    EXPECT_EQ(ask_with_readings(desk, confirm, "the transmitter is shut off").kind, Kind::recorded);
    const auto said = results(desk.state(), "")["overruled"];
    ASSERT_EQ(said.size(), 1U) << said.dump();
    EXPECT_EQ(said[0]["press"], "confirm");
    EXPECT_EQ(said[0]["because"], "the transmitter is shut off");
    EXPECT_EQ(said[0]["by"], "invented person");
    EXPECT_EQ(said[0]["contradicted"][0]["channel"], "transmitter A");
}

/// From the highest point down to the raising for 20 bar; as soon as nothing floats, the line holds this pressure.
void fall_towards_20_bar(Desk& desk, double held_pa) {
    const auto is_falling = [&desk] { return desk.step()->direction == bench::Direction::falling; };
    while (desk.step()->kind != StepKind::raise || desk.step()->point != 1U || !is_falling()) {
        if (desk.step()->kind == StepKind::sight && is_falling()) desk.off_pa = held_pa;
        ASSERT_EQ(desk.go_on().kind, Kind::recorded);
    }
    desk.pass(0.3);
}

TEST(Presses, AdviceIsDataAndAFallIsNoOvershoot) {
    Folder folder;
    Desk desk(folder / "x.journal");
    ASSERT_EQ(desk.start_run().kind, Kind::recorded);
    const auto told = [&desk](const std::string& code) {
        const json seen = frame(*desk.decider);
        for (const auto& one : seen["advice"])
            if (one["code"] == code) return one;
        return json(nullptr);
    };
    // To the falling visit of 20 bar, from above.
    fall_towards_20_bar(desk, 0.95 * 2e6);
    const auto beyond = told("beyond_point");
    ASSERT_TRUE(beyond.is_object()) << frame(*desk.decider)["advice"].dump();
    EXPECT_EQ(beyond["alarm"], true);
    EXPECT_EQ(beyond["channel"], "transmitter A");
    EXPECT_TRUE(beyond["ranked"].is_array());
    EXPECT_TRUE(told("fell_away").is_null());
    EXPECT_EQ(told("turn_direction")["alarm"], false);
    const json step = frame(*desk.decider)["step"];
    for (const auto& one : step["say"])
        EXPECT_TRUE(one["code"].is_string() && one["text"].is_string()) << one.dump();
    desk.off_pa = 2e8; // above the lowest rating
    desk.pass(0.3);
    EXPECT_EQ(frame(*desk.decider)["advice"][0]["code"], "over_pressure") << "it comes first";
    EXPECT_EQ(told("over_pressure")["alarm"], true);
}

TEST(Presses, AFallToHalfThePressureIsNamedAsThat) {
    Folder folder;
    Desk desk(folder / "x.journal");
    ASSERT_EQ(desk.start_run().kind, Kind::recorded);
    fall_towards_20_bar(desk, 1e6);
    const json seen = frame(*desk.decider);
    std::set<std::string> codes;
    for (const auto& one : seen["advice"])
        codes.insert(one["code"].get<std::string>());
    EXPECT_TRUE(codes.contains("fell_away")) << seen["advice"].dump();
    EXPECT_FALSE(codes.contains("beyond_point"));
}

TEST(Presses, TheStepAsksForALookOnlyWhenItCanCount) {
    Folder folder;
    Desk desk(folder / "x.journal");
    ASSERT_EQ(desk.start_run().kind, Kind::recorded);
    desk.timing_us = 1'500'000; // of a slow line: so long a reading may have been on its way
    while (desk.step()->kind != StepKind::sight)
        ASSERT_EQ(desk.go_on().kind, Kind::recorded);
    const auto early = frame(*desk.decider)["step"];
    EXPECT_EQ(early["wants"], "nothing") << early.dump();
    EXPECT_NE(early["waits_for"].get<std::string>().find("counts in"), std::string::npos);
    EXPECT_EQ(desk.go_on().kind, Kind::refused) << "closed now the mark would stay without a bracket";
    ASSERT_TRUE(desk.until([&] { return frame(*desk.decider)["step"]["wants"] == "sighted"; }));
    EXPECT_EQ(desk.go_on().kind, Kind::recorded);
}

} // namespace
} // namespace stillmark::decider::testing
