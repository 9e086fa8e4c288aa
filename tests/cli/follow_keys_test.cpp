#include "cli/frames_of_test.hpp"
#include "daemon/cli/follow_keys.hpp"

#include <gtest/gtest.h>

#include <algorithm>

using namespace stillmark::cli;
using stillmark::Micros;

namespace {

constexpr Micros now = frame_at_us + 100'000;
constexpr Micros second = 1'000'000;

std::vector<Json> pressed(FollowState& state, int key, Micros at = now) {
    std::vector<Json> bodies;
    for (const Request& request : press(state, key, at).requests)
        bodies.push_back(request.body);
    return bodies;
}

bool offers(const FollowState& state, const std::string& key) {
    const auto keys = offered_keys(state, now);
    return std::any_of(keys.begin(), keys.end(), [&](const std::string& one) { return one.rfind(key, 0) == 0; });
}

Reply taken() {
    return {true, "", "", {{"ok", true}}};
}
Reply refused(const std::string& error, const std::string& code = "refused", const Json& contradicted = Json::array()) {
    return {false, error, code, {{"ok", false}, {"error", error}, {"code", code}, {"contradicted", contradicted}}};
}

} // namespace

TEST(FollowKeys, StatesTheLoadAsTheStepPlansIt) {
    for (const char key : {'l', ' '}) {
        FollowState state = view_of_test("load");
        EXPECT_EQ(pressed(state, key), (std::vector<Json>{{{"do", "load"}, {"step", 12}, {"pressed_us", now}}}));
    }
}

TEST(FollowKeys, OnePressStatesTheLoadAndConfirmsTheFloat) {
    FollowState state = view_of_test("load");
    EXPECT_EQ(pressed(state, 'F'), (std::vector<Json>{{{"do", "load"}, {"step", 12}, {"pressed_us", now}},
                                                      {{"do", "confirm"}, {"range", "low"}, {"pressed_us", now}}}));
}

TEST(FollowKeys, ALoadThatIsStatedAlreadyIsNotStatedAgain) {
    FollowState state = view_of_test("float");
    EXPECT_EQ(pressed(state, 'F'), (std::vector<Json>{{{"do", "confirm"}, {"range", "low"}, {"pressed_us", now}}}));
    Json other = frame_of_test("float");
    other["load"]["discs"] = {"A1"};
    state = view_of(other);
    EXPECT_EQ(pressed(state, 'F').size(), 2U);
}

TEST(FollowKeys, AFloatIsConfirmedForTheRangeOfTheStep) {
    for (const char key : {'f', ' '}) {
        FollowState state = view_of_test("float");
        EXPECT_EQ(pressed(state, key), (std::vector<Json>{{{"do", "confirm"}, {"range", "low"}, {"pressed_us", now}}}));
    }
}

TEST(FollowKeys, ASightingClosesTheFloatOnlyWhereTheStepWantsIt) {
    FollowState state = view_of_test("read");
    EXPECT_EQ(pressed(state, 's'), (std::vector<Json>{{{"do", "sighted"}, {"close", false}, {"pressed_us", now}}}));
    for (const char key : {'s', ' '}) {
        state = view_of_test("sight");
        EXPECT_EQ(pressed(state, key), (std::vector<Json>{{{"do", "sighted"}, {"close", true}, {"pressed_us", now}}}));
    }
}

TEST(FollowKeys, LossAndUndoGoOutAtAnyStep) {
    for (const char* name : {"load", "float", "read", "sight", "finished", "no_run"}) {
        FollowState state = view_of_test(name);
        EXPECT_EQ(pressed(state, 'x'), (std::vector<Json>{{{"do", "lost"}, {"pressed_us", now}}}));
        EXPECT_EQ(pressed(state, 'u'), (std::vector<Json>{{{"do", "undo"}, {"pressed_us", now}}}));
    }
}

TEST(FollowKeys, AnInstructionIsAcknowledgedByItsNumber) {
    Json frame = frame_of_test("load");
    frame["step"]["kind"] = "do";
    frame["step"]["wants"] = "step_done";
    for (const char key : {'n', ' '}) {
        FollowState state = view_of(frame);
        EXPECT_EQ(pressed(state, key), (std::vector<Json>{{{"do", "step_done"}, {"step", 12}, {"pressed_us", now}}}));
    }
}

TEST(FollowKeys, ACheckIsAnsweredByItsValueWithTheUnitThatItAsksFor) {
    for (const std::string& keys : {std::string("c2.5"), std::string(" 2.5"), std::string("2.5")}) {
        FollowState state = view_of_test("check");
        Micros at = now;
        for (const char key : keys)
            EXPECT_TRUE(pressed(state, key, at += second).empty());
        at += second;
        EXPECT_EQ(pressed(state, static_cast<int>(Key::enter), at),
                  (std::vector<Json>{{{"do", "check"}, {"step", 4}, {"value", "2.5 turns"}, {"pressed_us", at}}}));
        // Until the answer has come nothing is sent twice.
        EXPECT_TRUE(pressed(state, static_cast<int>(Key::enter), at += second).empty());
        Request asked;
        asked.body = {{"do", "check"}};
        asked.is_answer = true;
        answered(state, asked, {}, refused("invented refusal"));
        EXPECT_TRUE(state.answer.has_value());
        answered(state, asked, {}, taken());
        EXPECT_FALSE(state.answer.has_value());
    }
}

TEST(FollowKeys, ACheckOfReadingsBeginsAtOnce) {
    Json frame = frame_of_test("check");
    frame["step"]["check"]["by"] = "readings";
    FollowState state = view_of(frame);
    EXPECT_EQ(pressed(state, ' '), (std::vector<Json>{{{"do", "check"}, {"step", 4}, {"pressed_us", now}}}));
}

TEST(FollowKeys, AZeroIsStatedForItsInstrument) {
    Json frame = frame_of_test("check");
    frame["step"]["check"]["channel"] = "dial gauge D";
    frame["step"]["check"]["unit"] = "bar";
    FollowState state = view_of(frame);
    pressed(state, '-', now); // no key of the view
    pressed(state, 'c', now + second);
    pressed(state, '-', now + 2 * second);
    pressed(state, '1', now + 3 * second);
    EXPECT_EQ(pressed(state, static_cast<int>(Key::enter), now + 4 * second),
              (std::vector<Json>{{{"do", "check"},
                                  {"step", 4},
                                  {"value", "-1 bar"},
                                  {"channel", "dial gauge D"},
                                  {"pressed_us", now + 4 * second}}}));
}

TEST(FollowKeys, GoingOnNeedsACheckThatFailedAndAReason) {
    FollowState state = view_of_test("check");
    EXPECT_TRUE(offers(state, "g "));
    Micros at = now;
    pressed(state, 'g', at += second);
    EXPECT_TRUE(pressed(state, static_cast<int>(Key::enter), at += second).empty());
    EXPECT_TRUE(state.message_is_refusal);
    for (const char key : std::string("no vent"))
        pressed(state, key, at += second);
    at += second;
    EXPECT_EQ(pressed(state, static_cast<int>(Key::enter), at),
              (std::vector<Json>{{{"do", "go_on"}, {"step", 4}, {"reason", "no vent"}, {"pressed_us", at}}}));
    Json frame = frame_of_test("check");
    frame["step"]["check"]["failed"] = false;
    state = view_of(frame);
    EXPECT_FALSE(offers(state, "g "));
    pressed(state, 'g');
    EXPECT_TRUE(state.message_is_refusal);
    EXPECT_FALSE(state.answer.has_value());
}

TEST(FollowKeys, AHeldKeyActsOnce) {
    FollowState state = view_of_test("load");
    EXPECT_EQ(pressed(state, ' ').size(), 1U);
    // The wait before the repeat, then repeats, each later than the press but soon after the one before.
    for (Micros at = now + 660'000; at < now + 5 * second; at += 40'000)
        EXPECT_TRUE(pressed(state, ' ', at).empty());
    EXPECT_TRUE(state.message_is_refusal);
    EXPECT_EQ(pressed(state, ' ', now + 6 * second).size(), 1U);
}

TEST(FollowKeys, AnotherKeyIsNoRepeat) {
    FollowState state = view_of_test("load");
    EXPECT_EQ(pressed(state, 'l').size(), 1U);
    EXPECT_EQ(pressed(state, 'f', now + 100'000).size(), 1U);
}

TEST(FollowKeys, APressMadeAsTheStepChangesIsRefused) {
    FollowState state = view_of_test("load");
    take_frame(state, {{"frame", frame_of_test("float")}}, now);
    EXPECT_TRUE(pressed(state, ' ', now + 100'000).empty());
    EXPECT_EQ(state.message, "The step changed as you pressed: read it, then press again. Nothing was sent.");
    EXPECT_EQ(pressed(state, 'f', now + 400'000).size(), 1U);
}

TEST(FollowKeys, ALossIsNeverHeldBackByAChangingStep) {
    FollowState state = view_of_test("load");
    take_frame(state, {{"frame", frame_of_test("float")}}, now);
    EXPECT_EQ(pressed(state, 'x', now + 10'000).size(), 1U);
}

TEST(FollowKeys, NothingIsSentOrKeptWhileTheServiceIsAway) {
    for (const char key : {' ', 'l', 'F', 'f', 's', 'x', 'u', 'n', 'd', '4'}) {
        FollowState state = view_of_test("read");
        went_away(state, "closed", now);
        EXPECT_TRUE(pressed(state, key).empty());
        EXPECT_EQ(state.message, "The service is away: nothing was sent, and nothing is kept for later.");
        EXPECT_FALSE(state.entry);
    }
}

TEST(FollowKeys, QuitsAtOnceButNotWhileAReadingIsTyped) {
    FollowState state = view_of_test("read");
    EXPECT_TRUE(press(state, 'q', now).quit);
    state = view_of_test("read");
    pressed(state, 'd');
    EXPECT_FALSE(press(state, 'q', now + second).quit);
}

TEST(FollowKeys, ADialReadingIsSentWithTheInstantOfTheLastKey) {
    FollowState state = view_of_test("read");
    Micros at = now;
    for (const char key : std::string("404\n406"))
        EXPECT_TRUE(pressed(state, key, at += 50'000).empty());
    const Json expected{{"do", "enter"},       {"channel", "dial gauge D"},  {"untapped", "404 bar"},
                        {"tapped", "406 bar"}, {"started_us", now + 50'000}, {"pressed_us", at + second}};
    EXPECT_EQ(pressed(state, '\n', at + second), std::vector<Json>{expected});
    EXPECT_TRUE(pressed(state, '\n', at + 3 * second).empty()) << "sent already";
}

TEST(FollowKeys, AHeldEnterDoesNotSkipTheTappedReading) {
    FollowState state = view_of_test("read");
    for (const char key : std::string("404"))
        pressed(state, key);
    EXPECT_TRUE(pressed(state, '\n', now).empty());
    EXPECT_TRUE(pressed(state, '\n', now + 500'000).empty());
    ASSERT_TRUE(state.entry);
    EXPECT_FALSE(state.entry->complete());
}

TEST(FollowKeys, ARefusedReadingStaysForMending) {
    FollowState state = view_of_test("read");
    for (const char key : std::string("404\n40"))
        pressed(state, key);
    const Pressed last = press(state, '\n', now + second);
    ASSERT_EQ(last.requests.size(), 1U);
    answered(state, last.requests[0], {}, refused("That is far from 40 bar."));
    EXPECT_EQ(state.message, "That is far from 40 bar.");
    ASSERT_TRUE(state.entry);
    EXPECT_FALSE(state.entry->complete());
    pressed(state, '4', now + 2 * second);
    const Pressed again = press(state, '\n', now + 3 * second);
    ASSERT_EQ(again.requests.size(), 1U);
    EXPECT_EQ(again.requests[0].body["tapped"], "404 bar");
    answered(state, again.requests[0], {}, taken());
    EXPECT_FALSE(state.entry);
}

TEST(FollowKeys, TabGoesToTheNextDialWhileNothingIsTyped) {
    Json frame = frame_of_test("read");
    Json second_dial = frame["channels"][3];
    second_dial["name"] = "dial gauge E";
    frame["channels"].push_back(second_dial);
    FollowState state = view_of(frame);
    pressed(state, 'd');
    EXPECT_EQ(state.entry->channel(), "dial gauge D");
    pressed(state, '\t');
    EXPECT_EQ(state.entry->channel(), "dial gauge E");
    pressed(state, '\t', now + second);
    EXPECT_EQ(state.entry->channel(), "dial gauge D");
    pressed(state, '4');
    pressed(state, '\t', now + 2 * second);
    EXPECT_EQ(state.entry->channel(), "dial gauge D");
}

TEST(FollowKeys, TheErrorOfTheServiceIsShownInItsOwnWordsUntilTheNextKey) {
    FollowState state = view_of_test("float");
    const Pressed first = press(state, 'f', now);
    answered(state, first.requests[0], {}, refused("State the load first: which discs are on?"));
    EXPECT_EQ(state.message, "State the load first: which discs are on?");
    pressed(state, 'x', now + second);
    EXPECT_EQ(state.message, "");
}

TEST(FollowKeys, OnlyKeysThatApplyAreOffered) {
    EXPECT_TRUE(offers(view_of_test("load"), "SPACE/l load as planned"));
    EXPECT_TRUE(offers(view_of_test("load"), "F "));
    EXPECT_FALSE(offers(view_of_test("load"), "x "));
    EXPECT_FALSE(offers(view_of_test("float"), "F "));
    EXPECT_TRUE(offers(view_of_test("read"), "s "));
    EXPECT_TRUE(offers(view_of_test("read"), "x lost"));
    EXPECT_TRUE(offers(view_of_test("read"), "SPACE/d"));
    EXPECT_FALSE(offers(view_of_test("read"), "u "));
    EXPECT_TRUE(offers(view_of_test("sight"), "SPACE/s"));
    EXPECT_EQ(offered_keys(view_of_test("no_run"), now), std::vector<std::string>{"q quit"});
}

TEST(FollowKeys, UndoIsOfferedAsLongAsTheServiceTakesThePressBack) {
    FollowState state = view_of_test("float");
    const Pressed first = press(state, 'f', now);
    answered(state, first.requests[0], {}, taken());
    EXPECT_EQ(state.message, "Recorded: Floating, low range.");
    EXPECT_FALSE(offers(state, "u undo"));
    state.frame->undo_until_us = now + 1;
    EXPECT_TRUE(offers(state, "u undo"));
    state.frame->undo_until_us = now;
    EXPECT_FALSE(offers(state, "u undo"));
}

// The aim at the bench: two keys a point (loaded and floating, then the closing sighting).
TEST(FollowKeys, APointTakesTwoKeys) {
    FollowState state = view_of_test("load");
    int keys = 0;
    EXPECT_EQ(pressed(state, 'F').size(), 2U);
    ++keys;
    take_frame(state, {{"frame", frame_of_test("sight")}}, now);
    EXPECT_EQ(pressed(state, ' ', now + 20 * second).size(), 1U);
    ++keys;
    EXPECT_EQ(keys, 2);
}

TEST(FollowKeys, SurvivesEveryKeyOnEveryFrame) {
    for (const char* name :
         {"load", "float", "read", "sight", "faulty", "journal_failed", "finished", "no_run", "crowded"}) {
        FollowState state = view_of_test(name);
        Micros at = now;
        for (int key = -300; key < 70'000; key += key < 300 ? 1 : 97)
            press(state, key, at += second);
    }
    FollowState empty;
    empty.connected = true;
    for (int key = 0; key < 300; ++key)
        EXPECT_TRUE(press(empty, key, now + key * second).requests.empty());
}

const Json two_instruments = {{{"channel", "transmitter A"},
                               {"shows", "0.0123 bar"},
                               {"shows_pa", 1230.0},
                               {"expected", "40.0000 bar"},
                               {"expected_pa", 4e6},
                               {"far", "0.8000 bar"},
                               {"far_pa", 8e4}}};

/// A confirmation that an instrument contradicts.
FollowState contradicted_view(std::vector<Request>* asked = nullptr) {
    FollowState state = view_of_test("load");
    Pressed both = press(state, 'F', now);
    EXPECT_EQ(both.requests.size(), 2U);
    answered(state, both.requests[0], {both.requests[1]}, taken());
    answered(state, both.requests[1], {}, refused("transmitter A shows ...", "contradicted", two_instruments));
    if (asked != nullptr) *asked = both.requests;
    return state;
}

TEST(FollowKeys, AContradictedPressLeavesTheChoiceAndSendsNothing) {
    FollowState state = contradicted_view();
    ASSERT_TRUE(state.contradicted);
    EXPECT_EQ(
        state.contradicted->says,
        std::vector<std::string>{"transmitter A shows 0.0123 bar; expected 40.0000 bar; far is more than 0.8000 bar"});
    EXPECT_EQ(offered_keys(state, now), (std::vector<std::string>{"Esc look again", "r go on with a reason"}));
    Micros at = now;
    for (const char key : std::string("fFsn \nx"))
        EXPECT_TRUE(pressed(state, key, at += second).empty()) << key;
    EXPECT_TRUE(state.contradicted) << "no other key takes it away";
    EXPECT_TRUE(pressed(state, static_cast<int>(Key::escape), at += second).empty());
    EXPECT_FALSE(state.contradicted);
    EXPECT_EQ(state.message, "Nothing was recorded: look again.");
    // The next press is a press like any other.
    EXPECT_EQ(pressed(state, 'f', at += second).size(), 1U);
}

TEST(FollowKeys, AReasonSendsThePressAnewWithItsOwnInstant) {
    std::vector<Request> asked;
    FollowState state = contradicted_view(&asked);
    Micros at = now;
    pressed(state, 'r', at += second);
    EXPECT_TRUE(pressed(state, '\n', at += second).empty()) << "a reason is missing";
    EXPECT_TRUE(state.message_is_refusal);
    for (const char key : std::string("gauges shut off"))
        EXPECT_TRUE(pressed(state, key, at += second).empty());
    at += second;
    Json expected = asked[1].body;
    expected["pressed_us"] = at;
    expected["despite"] = true;
    expected["reason"] = "gauges shut off";
    EXPECT_EQ(pressed(state, '\n', at), std::vector<Json>{expected});
    EXPECT_TRUE(pressed(state, '\n', at += second).empty()) << "the answer is on its way";
    Request again;
    again.body = expected;
    again.what = "Floating, low range";
    answered(state, again, {}, refused("the press is older than the stated load"));
    ASSERT_TRUE(state.contradicted) << "the reason is kept for another try";
    EXPECT_EQ(state.contradicted->reason, "gauges shut off");
    answered(state, again, {}, taken());
    EXPECT_FALSE(state.contradicted);
    EXPECT_EQ(state.message, "Recorded: Floating, low range.");
}

TEST(FollowKeys, ALookThatCameTooEarlyIsTold) {
    FollowState state = view_of_test("read");
    const Pressed look = press(state, 's', now);
    ASSERT_EQ(look.requests.size(), 1U);
    Reply early = taken();
    early.body["too_early"] = {{{"mark", 7}, {"by_us", 140'000}}};
    early.body["why"] = "the look came 140 ms before the last reading of mark 7 was surely taken";
    answered(state, look.requests[0], {}, early);
    EXPECT_EQ(state.message, "Recorded: Still floating. Too early for a mark: the look came 140 ms before the last "
                             "reading of mark 7 was surely taken.");
    Reply renewal = taken();
    renewal.body["too_early"] = Json::array();
    renewal.body["why"] = "no mark of this float waits for a look";
    answered(state, look.requests[0], {}, renewal);
    EXPECT_EQ(state.message, "Recorded: Still floating.");
}

TEST(FollowKeys, AtOverPressureOnlyALossIsSaid) {
    FollowState state = view_of_test("sight");
    state.frame->advice.push_back({"over_pressure", "let the pressure down now", "transmitter A", true, {}});
    Micros at = now;
    for (const char key : std::string(" sflnFvc4u"))
        EXPECT_TRUE(pressed(state, key, at += second).empty()) << key;
    EXPECT_TRUE(state.message_is_refusal);
    EXPECT_FALSE(offers(state, "SPACE"));
    EXPECT_EQ(pressed(state, 'x', at += second).size(), 1U);
}
