#include "daemon/acquisition/outage.hpp"

#include <gtest/gtest.h>

#include <string>
#include <vector>

namespace stillmark::acquisition {
namespace {

constexpr Micros second = 1'000'000;

std::string words_of(const std::optional<Change>& change) {
    return change ? (change->bad ? "bad: " : "good: ") + change->words : "";
}

std::string silent(Outage& outage, Micros at_us) {
    return words_of(outage.failed(at_us, Failing::unanswered, "silent", "no answer within 200 ms"));
}

TEST(Outage, FirstFailureAndRecoveryAreSaidWithTheCount) {
    Outage outage("line A, gauge");
    EXPECT_EQ(words_of(outage.succeeded(0)), "");
    EXPECT_EQ(silent(outage, 1 * second), "bad: line A, gauge: silent: no answer within 200 ms");
    EXPECT_EQ(silent(outage, 1 * second + 1), "");
    EXPECT_EQ(words_of(outage.succeeded(2 * second)), "good: line A, gauge: answers again after 2 failures");
    EXPECT_EQ(words_of(outage.succeeded(3 * second)), "");
}

TEST(Outage, ALossNeedsFiveFailuresAndTwoSeconds) {
    Outage fast("fast");
    fast.succeeded(0);
    for (int i = 1; i <= 39; ++i) {
        silent(fast, i * second / 20);
        EXPECT_FALSE(fast.lost()) << i;
    }
    EXPECT_EQ(silent(fast, 2 * second), "bad: fast: lost after 40 failures: silent: no answer within 200 ms");
    EXPECT_TRUE(fast.lost());
    EXPECT_EQ(silent(fast, 2 * second + 1), "");

    Outage slow("slow");
    slow.succeeded(0);
    for (int i = 1; i <= 4; ++i)
        silent(slow, i * 10 * second);
    EXPECT_FALSE(slow.lost());
    silent(slow, 50 * second);
    EXPECT_TRUE(slow.lost());
    slow.succeeded(60 * second);
    EXPECT_FALSE(slow.lost());
}

TEST(Outage, OneThatNeverAnsweredIsLostTwoSecondsAfterTheFirstQuestion) {
    Outage outage("dead");
    int asked = 0;
    while (!outage.lost() && asked < 1000)
        silent(outage, 100 * second + asked++ * second / 10);
    EXPECT_EQ(asked, 21);
}

TEST(Outage, FailuresThatGoOnAreOneLineInFiveMinutes) {
    Outage outage("line A");
    std::vector<std::string> lines;
    for (int i = 0; i <= 700; ++i)
        if (std::string line = silent(outage, i * second); !line.empty()) lines.push_back(std::move(line));
    ASSERT_EQ(lines.size(), 4U); // the first, the loss, and two repeats
    EXPECT_EQ(lines[1], "bad: line A: lost after 5 failures: silent: no answer within 200 ms");
    EXPECT_EQ(lines[2], "bad: line A: still failing after 305 failures: silent: no answer within 200 ms");
    EXPECT_EQ(lines[3], "bad: line A: still failing after 605 failures: silent: no answer within 200 ms");
}

TEST(Outage, FlickersAreCountedNotSaidForFiveMinutes) {
    Outage outage("line A");
    int lines = 0;
    std::string last;
    for (int i = 0; i < 3010; ++i) {
        const std::string bad = silent(outage, i * second / 10);
        if (!bad.empty()) last = bad;
        lines += bad.empty() ? 0 : 1;
        lines += outage.succeeded(i * second / 10 + 1) ? 1 : 0;
    }
    EXPECT_EQ(lines, 4); // a failure and a recovery, and the same five minutes later
    EXPECT_EQ(last, "bad: line A: silent: no answer within 200 ms (3000 short outages since the last line)");
}

// Whoever looks for a fault needs to know of each kind of it, and not of the first alone.
TEST(Outage, AnotherKindIsSaidAtOnceAndRepeatsAreCounted) {
    Outage outage("line A, gauge");
    outage.succeeded(0);
    const auto failed = [&outage](Micros at_us, const char* kind) {
        return words_of(outage.failed(at_us, Failing::answered, kind, "the reply was \"?\""));
    };
    EXPECT_EQ(failed(1 * second, "bad frame"), "bad: line A, gauge: bad frame: the reply was \"?\"");
    EXPECT_EQ(failed(2 * second, "bad frame"), "");
    EXPECT_EQ(failed(3 * second, "not understood"),
              "bad: line A, gauge: not understood: the reply was \"?\" (after 2 other failures)");
    for (int i = 4; i < 300; ++i)
        EXPECT_EQ(failed(i * second, i % 2 == 0 ? "bad frame" : "not understood"), "") << i;
    EXPECT_EQ(failed(301 * second, "bad frame"),
              "bad: line A, gauge: still failing after 300 failures: bad frame: the reply was \"?\"");
    // Also where the instrument answers between its faults.
    EXPECT_TRUE(outage.succeeded(302 * second));
    EXPECT_EQ(failed(303 * second, "bad frame"), "");
    EXPECT_FALSE(outage.succeeded(304 * second));
    EXPECT_NE(failed(305 * second, "instrument fault"), "");
}

TEST(Outage, ALossIsSaidEvenSoonAfterAFlicker) {
    Outage outage("line A");
    outage.succeeded(0);
    EXPECT_NE(silent(outage, second), "");
    EXPECT_TRUE(outage.succeeded(2 * second));
    std::vector<std::string> lines;
    for (int i = 0; i < 100; ++i)
        if (std::string line = silent(outage, 3 * second + i * second / 10); !line.empty()) lines.push_back(line);
    ASSERT_EQ(lines.size(), 1U);
    EXPECT_NE(lines[0].find("lost after 11 failures"), std::string::npos) << lines[0];
    EXPECT_EQ(words_of(outage.succeeded(20 * second)), "good: line A: answers again after 100 failures");
}

TEST(Outage, AnAnswerThatIsNoReadingIsNoLoss) {
    Outage outage("gauge");
    for (int i = 0; i < 100; ++i)
        outage.failed(i * second, Failing::answered, "over range", "");
    EXPECT_FALSE(outage.lost());
    silent(outage, 101 * second);
    silent(outage, 102 * second);
    silent(outage, 103 * second);
    EXPECT_FALSE(outage.lost());
}

TEST(Outage, WhatIsForGoodIsAlwaysSaid) {
    Outage outage("gauge");
    silent(outage, 0);
    EXPECT_EQ(words_of(outage.failed(1, Failing::for_good, "unsupported", "illegal data address")),
              "bad: gauge: unsupported: illegal data address (after 1 other failure)");
}

} // namespace
} // namespace stillmark::acquisition
