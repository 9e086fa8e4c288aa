#include "daemon/people/throttle.hpp"

#include <gtest/gtest.h>

#include <array>

namespace stillmark::people {
namespace {

constexpr std::int64_t s = 1'000'000;

/// Wrong passwords, each as soon as it is taken; the instant of the last.
std::int64_t guess(Throttle& throttle, int times, const std::string& name, const std::string& address,
                   std::int64_t now) {
    for (int i = 0; i < times; ++i) {
        const auto wait = throttle.take(name, address, now);
        if (wait == 0) continue;
        now += wait;
        EXPECT_EQ(throttle.take(name, address, now), 0) << i;
    }
    return now;
}

TEST(Throttle, WaitsDoubleUpToAMinute) {
    const std::array<std::int64_t, 12> expected{0, 0, 0, 1, 2, 4, 8, 16, 32, 60, 60, 60};
    for (std::size_t wrong = 0; wrong < expected.size(); ++wrong)
        EXPECT_EQ(Throttle::wait_after(static_cast<int>(wrong)), expected.at(wrong) * s) << wrong;
    EXPECT_EQ(Throttle::wait_after(2'000'000'000), 60 * s);
}

TEST(Throttle, AWrongPasswordOrTwoCostNothing) {
    Throttle throttle;
    for (int i = 0; i < 3; ++i)
        EXPECT_EQ(throttle.take("Ada", "10.0.0.1", 5 * s), 0) << i;
    EXPECT_EQ(throttle.take("Ada", "10.0.0.1", 5 * s), 1 * s);
    EXPECT_EQ(throttle.take("Ada", "10.0.0.1", 5 * s + 400'000), 600'000) << "who is too early does not wait longer";
    EXPECT_EQ(throttle.take("Ada", "10.0.0.1", 6 * s), 0);
    EXPECT_EQ(throttle.take("Ada", "10.0.0.1", 6 * s), 2 * s);
}

TEST(Throttle, ManyAtOnceGainNothing) {
    Throttle throttle;
    int taken = 0;
    for (int i = 0; i < 1000; ++i)
        taken += throttle.take("Ada", "10.0.0.1", 0) == 0 ? 1 : 0;
    EXPECT_EQ(taken, 3);
}

TEST(Throttle, TheSameNameElsewhereIsFree) {
    Throttle throttle;
    const auto now = guess(throttle, 30, "Ada", "10.0.0.1", 0);
    EXPECT_EQ(throttle.take("Ada", "10.0.0.1", now), 60 * s);
    EXPECT_EQ(throttle.take("Ada", "10.0.0.2", now), 0) << "guessing at one place locks nobody out at another";
}

TEST(Throttle, AnotherNameAtTheSamePlaceIsFree) {
    Throttle throttle;
    const auto now = guess(throttle, 30, "Ada", "10.0.0.1", 0);
    EXPECT_EQ(throttle.take("Ben", "10.0.0.1", now), 0);
}

TEST(Throttle, TheRightPasswordForgives) {
    Throttle throttle;
    auto now = guess(throttle, 5, "Ada", "10.0.0.1", 0);
    throttle.right("Ada", "10.0.0.1");
    EXPECT_EQ(throttle.addresses(), 0U);
    for (int i = 0; i < 3; ++i)
        EXPECT_EQ(throttle.take("Ada", "10.0.0.1", now), 0);
}

TEST(Throttle, TimeForgives) {
    Throttle throttle;
    const auto now = guess(throttle, 20, "Ada", "10.0.0.1", 0);
    const auto later = now + 15 * 60 * s;
    for (int i = 0; i < 3; ++i)
        EXPECT_EQ(throttle.take("Ada", "10.0.0.1", later), 0) << i;
    EXPECT_EQ(throttle.take("Ada", "10.0.0.1", later), s);
}

TEST(Throttle, WhatWasNotCheckedDoesNotCount) {
    Throttle throttle;
    for (int i = 0; i < 100; ++i) {
        EXPECT_EQ(throttle.take("Ada", "10.0.0.1", 0), 0) << i;
        throttle.not_checked("Ada", "10.0.0.1");
    }
    EXPECT_EQ(throttle.addresses(), 0U);
    throttle.not_checked("Ada", "10.0.0.1");
    throttle.right("Ada", "10.0.0.1");
}

// Otherwise the waits of one name are passed by trying a list of names, one password each.
TEST(Throttle, ManyNamesFromOnePlaceShareTheirWaits) {
    Throttle throttle;
    int taken = 0;
    for (int i = 0; i < 10000; ++i)
        taken += throttle.take("name " + std::to_string(i), "10.0.0.1", 0) == 0 ? 1 : 0;
    EXPECT_EQ(taken, 8 + 3);
    EXPECT_EQ(throttle.take("Ada", "10.0.0.2", 0), 0);
}

// Whoever has a name of his own cannot use it to forgive what he guessed at others.
TEST(Throttle, OnesOwnNameForgivesNoOther) {
    Throttle throttle;
    for (int i = 0; i < 8; ++i)
        throttle.take("name " + std::to_string(i), "10.0.0.1", 0);
    for (int i = 0; i < 3; ++i)
        EXPECT_EQ(throttle.take("Ada", "10.0.0.1", 0), 0);
    const auto wait = throttle.take("Mallory", "10.0.0.1", 0);
    EXPECT_EQ(wait, s);
    EXPECT_EQ(throttle.take("Mallory", "10.0.0.1", wait), 0);
    throttle.right("Mallory", "10.0.0.1");
    EXPECT_EQ(throttle.take("Ada", "10.0.0.1", wait), 0);
    EXPECT_EQ(throttle.take("Ada", "10.0.0.1", wait), 2 * s) << "the fourth wrong one, not the first";
}

TEST(Throttle, FillingItFreesNobodyWhoGuessedMuch) {
    Throttle throttle;
    const auto now = guess(throttle, 12, "Ada", "10.0.0.1", 0);
    for (int i = 0; i < 3000; ++i)
        throttle.take("Ada", "10.1." + std::to_string(i / 250) + "." + std::to_string(i % 250), now);
    EXPECT_LE(throttle.addresses(), Throttle::most_addresses);
    EXPECT_EQ(throttle.take("Ada", "10.0.0.1", now), 60 * s);
}

TEST(Throttle, FillingItTurnsNobodyAway) {
    Throttle throttle;
    for (std::size_t i = 0; i < Throttle::most_addresses + 300; ++i)
        guess(throttle, 6, "name", "10.1.0." + std::to_string(i), 0);
    EXPECT_EQ(throttle.addresses(), Throttle::most_addresses);
    EXPECT_EQ(throttle.take("Ada", "10.0.0.2", 100 * s), 0);
    // And he is slowed down as anybody.
    throttle.take("Ada", "10.0.0.2", 100 * s);
    throttle.take("Ada", "10.0.0.2", 100 * s);
    EXPECT_EQ(throttle.take("Ada", "10.0.0.2", 100 * s), s);
}

} // namespace
} // namespace stillmark::people
