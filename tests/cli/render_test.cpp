#include "cli/frames_of_test.hpp"
#include "daemon/cli/columns.hpp"
#include "daemon/cli/follow_keys.hpp"
#include "daemon/cli/follow_view.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <functional>

using namespace stillmark::cli;
using stillmark::Micros;

namespace {

std::string as_text(const std::vector<Line>& lines) {
    std::string text;
    for (const Line& line : lines) {
        text += line.weight == Line::Weight::bold ? "* |" : line.weight == Line::Weight::reverse ? "# |" : "  |";
        text += line.text + "\n";
    }
    return text;
}

/// Compares with tests/cli/golden/NAME.txt. STILLMARK_ACCEPT=1 rewrites the file instead; the commit says why.
void expect_golden(const std::string& name, const std::string& text) {
    const std::string path = folder_of_test() + "golden/" + name + ".txt";
    if (const char* accept = std::getenv("STILLMARK_ACCEPT"); accept != nullptr && std::string(accept) == "1") {
        std::ofstream(path) << text;
        return;
    }
    EXPECT_EQ(text_of_file(path), text) << "differs from " << path;
}

void type(FollowState& state, const std::string& keys) {
    Micros at = frame_at_us + 1'000'000;
    for (const char key : keys)
        press(state, key, at += 1'000'000);
}

void over_pressure(FollowState& state) {
    for (const char* name : {"transmitter A", "transmitter B"})
        state.frame->advice.insert(
            state.frame->advice.begin(),
            {"over_pressure",
             fmt::format("{} reads above the lowest rating on the bench (high-pressure hose, 1000 bar): let the "
                         "pressure down now",
                         name),
             name,
             true,
             {}});
}

void contradicted(FollowState& state) {
    Contradicted one;
    one.request.what = "Floating, low range";
    one.says = {"transmitter A shows 0.0123 bar; expected 40.0000 bar; far is more than 0.8000 bar",
                "transmitter B shows 0.0100 bar; expected 40.0000 bar; far is more than 2.5000 bar"};
    state.contradicted = std::move(one);
}

struct Case {
    std::string name, frame;
    std::function<void(FollowState&)> before = [](FollowState&) {};
    Micros later_us = 50'000;
    std::size_t columns = 80, rows = 24;
};

void PrintTo(const Case& one, std::ostream* out) {
    *out << one.name;
}

class Screen : public testing::TestWithParam<Case> {};

TEST_P(Screen, IsAsAccepted) {
    const Case& one = GetParam();
    FollowState state = view_of_test(one.frame);
    ASSERT_TRUE(state.frame) << state.objection;
    one.before(state);
    const auto lines = render(state, one.columns, one.rows, frame_at_us + one.later_us);
    ASSERT_EQ(lines.size(), one.rows);
    for (const Line& line : lines)
        EXPECT_LE(width(line.text), one.columns) << line.text;
    expect_golden(one.name, as_text(lines));
}

INSTANTIATE_TEST_SUITE_P(
    Golden, Screen,
    testing::Values(
        Case{"load", "load"}, Case{"float", "float"}, Case{"read", "read"},
        Case{"read_typing_untapped", "read", [](FollowState& state) { type(state, "40."); }},
        Case{"read_typing_tapped", "read", [](FollowState& state) { type(state, "42\n44"); }},
        Case{"read_wrong_unit", "read", [](FollowState& state) { type(state, "42 psi\n"); }},
        Case{"read_refused", "read",
             [](FollowState& state) {
                 refuse(state, "The piston of the low range was confirmed 0.2 s ago; readings count from 0.6 s on.");
             }},
        Case{"check_failed", "check"}, Case{"check_typing", "check", [](FollowState& state) { type(state, "2,5"); }},
        Case{"check_reason", "check", [](FollowState& state) { type(state, "gno vent at C"); }}, Case{"sight", "sight"},
        Case{"over_pressure", "float", over_pressure}, Case{"contradicted", "float", contradicted},
        Case{"contradicted_reason", "float",
             [](FollowState& state) {
                 contradicted(state);
                 type(state, "rthe gauges are shut off");
             }},
        Case{"faulty", "faulty"}, Case{"journal_failed", "journal_failed"}, Case{"finished", "finished"},
        Case{"no_run", "no_run"}, Case{"crowded", "crowded"},
        Case{"crowded_large", "crowded", [](FollowState&) {}, 50'000, 100, 50},
        Case{"away", "read",
             [](FollowState& state) { went_away(state, "the service closed the connection", frame_at_us); }, 3'400'000},
        Case{"no_word", "read", [](FollowState&) {}, 2'600'000},
        Case{"frame_not_readable", "read",
             [](FollowState& state) {
                 take_frame(state, {{"frame", {{"at_us", 1}, {"channels", "none"}}}}, frame_at_us);
             }},
        Case{"small", "read", [](FollowState&) {}, 50'000, 60, 20}),
    [](const auto& one) { return one.param.name; });

TEST(Screen, IsCompleteAtEverySizeAndForEveryFrame) {
    for (const char* name :
         {"load", "float", "read", "sight", "faulty", "journal_failed", "finished", "no_run", "crowded"})
        for (std::size_t columns : {1U, 10U, 79U, 80U, 81U, 132U, 300U})
            for (std::size_t rows : {1U, 5U, 23U, 24U, 25U, 60U}) {
                const auto lines = render(view_of_test(name), columns, rows, frame_at_us);
                EXPECT_EQ(lines.size(), rows);
                for (const Line& line : lines)
                    EXPECT_LE(width(line.text), columns);
            }
}

TEST(Screen, TellsAnOldValueInWordsAndNeverAsAReading) {
    const FollowState state = view_of_test("read");
    const auto shown = [&](Micros later_us) { return as_text(render(state, 80, 24, frame_at_us + later_us)); };
    EXPECT_NE(shown(0).find("40.0123 bar"), std::string::npos);
    // Transmitter A is polled each 50 ms: three periods, but at least half a second, may pass.
    EXPECT_NE(shown(400'000).find("40.0123 bar"), std::string::npos);
    EXPECT_EQ(shown(600'000).find("40.0123 bar"), std::string::npos);
    EXPECT_NE(shown(600'000).find("no reading for 0.6 s"), std::string::npos);
    // The others told no period; a frame older than a second is no present either.
    EXPECT_NE(shown(600'000).find("39.9921 bar"), std::string::npos);
    EXPECT_EQ(shown(1'100'000).find("39.9921 bar"), std::string::npos);
}

TEST(Screen, PassesNothingOnThatSteersTheTerminal) {
    Json frame = frame_of_test("read");
    frame["bench"] = "bench \033[2J \x07";
    frame["step"]["say"] = {{{"code", "put_on"}, {"text", "Put on \033]0;x\007"}},
                            {{"code", "put_on"}, {"text", "\xC2\x9B"}}};
    for (const Line& line : render(view_of(frame), 80, 24, frame_at_us))
        for (const char byte : line.text)
            EXPECT_GE(static_cast<unsigned char>(byte), 0x20U);
}

// What the wire gave is told by `status` also where the instrument reads again.
TEST(Status, TellsTheLatestFaultAndPoorRanges) {
    Json frame = frame_of_test("read");
    frame["channels"][0]["fault"] = {{"kind", "bad frame"},
                                     {"detail", "01 03 04 DE AD, the check sum is wrong"},
                                     {"at_us", frame_at_us - 5'000'000},
                                     {"count", 12}};
    frame["poor_ranges"] = Json::array({{{"range", "low"}, {"words", "low range, spin time: 20 s: poor"}}});
    const auto read = read_frame(frame);
    ASSERT_TRUE(read);
    const std::string text = as_text(describe(*read, 100, frame_at_us));
    const auto name = frame["channels"][0]["name"].get<std::string>();
    EXPECT_NE(text.find(name + ": bad frame, 12 times, 5.0 s ago: 01 03 04 DE AD, the check sum is wrong"),
              std::string::npos)
        << text;
    EXPECT_NE(text.find("low range, spin time: 20 s: poor"), std::string::npos) << text;
}

TEST(ChannelRow, SaysWhatTheWireGaveWhileItIsFaulty) {
    Json frame = frame_of_test("read");
    auto& channel = frame["channels"][0];
    channel["stillness"] = "faulty";
    channel["status"] = "not understood";
    channel["fault"] = {
        {"kind", "not understood"}, {"detail", "the reply was \"ERR\""}, {"at_us", frame_at_us}, {"count", 1}};
    const auto text_of = [&frame] { return as_text(channel_lines(*read_frame(frame), {frame_at_us, true}, 100)); };
    EXPECT_NE(text_of().find("faulty: not understood: the reply was \"ERR\""), std::string::npos) << text_of();
    channel["fault"]["kind"] = "silent";
    EXPECT_EQ(text_of().find("ERR"), std::string::npos) << "of another fault";
}

TEST(Screen, OverPressureTakesTheWholeTopUntilItIsOver) {
    FollowState state = view_of_test("float");
    const auto shown = [&state] { return as_text(render(state, 80, 24, frame_at_us)); };
    const std::string title = state.frame->step->title.substr(0, 20);
    EXPECT_NE(shown().find(title), std::string::npos);
    over_pressure(state);
    EXPECT_EQ(shown().find(title), std::string::npos) << "nothing of the step stands beside it";
    EXPECT_NE(shown().find("OVER-PRESSURE"), std::string::npos);
    EXPECT_NE(shown().find("let the"), std::string::npos);
    EXPECT_NE(shown().find("transmitter A"), std::string::npos);
    // The code alone decides: the same words under another code are advice.
    for (auto& one : state.frame->advice)
        one.code = "beyond_point";
    EXPECT_EQ(shown().find("OVER-PRESSURE"), std::string::npos);
    state.frame->advice.clear();
    EXPECT_NE(shown().find(title), std::string::npos);
}

} // namespace
