#include "protocols/modbus_answer.hpp"
#include "protocols/owed_answers.hpp"
#include "protocols/wire.hpp"

#include <gtest/gtest.h>

namespace stillmark::protocols {
namespace {

using namespace std::chrono_literals;
using Whose = OwedAnswers::Whose;
using Clock = OwedAnswers::Clock;

constexpr int reading = 3;
constexpr Clock::time_point start{};

OwedAnswers::Fits as_long_as(int length) {
    return [length](const OwedAnswers::Request& one) { return one.length == length; };
}

TEST(OwedAnswers, AnAnswerThatOnlyItsOwnRequestFitsIsItsOwn) {
    OwedAnswers owed;
    owed.sent(reading, 4, false, start);
    EXPECT_EQ(owed.came(as_long_as(2)), Whose::nobody);
    EXPECT_EQ(owed.came(as_long_as(4)), Whose::own);
    EXPECT_EQ(owed.came(as_long_as(4)), Whose::nobody) << "twice";
    EXPECT_TRUE(owed.empty());
}

TEST(OwedAnswers, AnAnswerThatFitsSeveralRequestsIsTheOldests) {
    OwedAnswers owed;
    owed.sent(reading, 4, false, start);
    owed.sent(reading, 4, false, start);
    EXPECT_EQ(owed.came(as_long_as(4)), Whose::older);
    EXPECT_TRUE(owed.owes_reading());
    EXPECT_EQ(owed.came(as_long_as(4)), Whose::own);
}

TEST(OwedAnswers, AnAnswerEndsWhatWasOwedBeforeItsRequest) {
    OwedAnswers owed;
    owed.sent(reading, 4, false, start);
    owed.sent(reading, 2, true, start);
    owed.sent(reading, 6, true, start);
    EXPECT_TRUE(owed.owes_reading());
    EXPECT_EQ(owed.came(as_long_as(2)), Whose::older);
    EXPECT_FALSE(owed.owes_reading()) << "the reading's request came before and was lost";
    EXPECT_FALSE(owed.empty());
    EXPECT_EQ(owed.came(as_long_as(6)), Whose::own);
}

TEST(OwedAnswers, WhatCameTooSoonIsAnOlderRequestsOrNobodys) {
    OwedAnswers owed;
    owed.sent(reading, 4, false, start);
    EXPECT_EQ(owed.came(as_long_as(4), false), Whose::nobody);
    owed.sent(reading, 4, false, start);
    EXPECT_EQ(owed.came(as_long_as(4), false), Whose::older);
    EXPECT_EQ(owed.came(as_long_as(4)), Whose::own);
}

TEST(OwedAnswers, OnlyWhatIsOlderThanTheInstantIsForgotten) {
    OwedAnswers owed;
    owed.sent(reading, 4, false, start + 1s);
    owed.sent(reading, 2, true, start + 2s);
    EXPECT_FALSE(owed.forget_before(start + 1s));
    EXPECT_TRUE(owed.forget_before(start + 2s));
    EXPECT_FALSE(owed.owes_reading());
    EXPECT_FALSE(owed.empty());
}

TEST(OwedAnswers, AnInstrumentThatAnswersTheRequestBeforeEachTimeStaysBehind) {
    OwedAnswers owed;
    owed.sent(reading, 4, false, start);
    for (int i = 0; i < OwedAnswers::stays_behind; ++i) {
        EXPECT_LT(owed.behind(), OwedAnswers::stays_behind);
        owed.sent(reading, 10 + i, true, start);
        EXPECT_EQ(owed.came(as_long_as(i == 0 ? 4 : 9 + i)), Whose::older);
    }
    EXPECT_EQ(owed.behind(), OwedAnswers::stays_behind);
    EXPECT_EQ(owed.came(as_long_as(9 + OwedAnswers::stays_behind)), Whose::own);
    EXPECT_EQ(owed.behind(), 0);
}

std::vector<std::string> frames_in(const test::Bytes& bytes) {
    const std::vector<std::uint8_t> raw(bytes.begin(), bytes.end());
    std::vector<std::string> found;
    for (const auto& frame : whole_frames_in(raw))
        found.push_back(test::hexadecimal(test::Bytes(1, static_cast<char>(frame.server)) +
                                          test::Bytes(frame.pdu.begin(), frame.pdu.end())));
    return found;
}

// The frames of Modbus Application Protocol V1.1b3, 6.3 and 7, with computed checksums.
TEST(WholeFrames, AreFoundAmongNoiseAndOnlyWithTheirChecksum) {
    const auto answer = test::bytes("11 03 06 02 2B 00 00 00 64 C8 BA");
    const auto exception = test::bytes("01 83 02 C0 F1");
    using Found = std::vector<std::string>;
    EXPECT_EQ(frames_in(answer), Found{"11 03 06 02 2B 00 00 00 64"});
    EXPECT_EQ(frames_in(test::bytes("00 FF") + answer + test::bytes("11") + exception + test::bytes("55")),
              (Found{"11 03 06 02 2B 00 00 00 64", "01 83 02"}));
    EXPECT_TRUE(frames_in(answer.substr(0, answer.size() - 1)).empty());
    auto spoilt = answer;
    spoilt[4] = '\x2C';
    EXPECT_TRUE(frames_in(spoilt).empty());
    EXPECT_TRUE(frames_in("").empty());
}

} // namespace
} // namespace stillmark::protocols
