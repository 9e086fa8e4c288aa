#include "daemon/acquisition/bus_thread.hpp"
#include "daemon/acquisition/pace_report.hpp"
#include "daemon/acquisition/poll_schedule.hpp"

#include <gtest/gtest.h>

namespace stillmark::acquisition {
namespace {

TEST(PollSchedule, FirstSlotIsTheFirstOfTheGridAtOrAfterNow) {
    EXPECT_EQ(PollSchedule({{100, 30}}, 1000).next().at_us, 1030);
    EXPECT_EQ(PollSchedule({{100, 30}}, 1030).next().at_us, 1030);
    EXPECT_EQ(PollSchedule({{100, 30}}, 1031).next().at_us, 1130);
    EXPECT_EQ(PollSchedule({{100, 30}}, 5).next().at_us, 30);
    EXPECT_EQ(PollSchedule({{100, 230}}, 5).next().at_us, 30);
}

// A clock that rounds, an exchange of varying length: after 10^6 polls the slot is where the grid says.
TEST(PollSchedule, DoesNotDriftOverAMillionPeriods) {
    PollSchedule schedule({{50'001, 17}}, 0);
    std::uint64_t skipped = 0;
    for (Micros i = 0; i < 1'000'000; ++i) {
        const Micros due_us = schedule.next().at_us;
        ASSERT_EQ(due_us, 17 + i * 50'001);
        skipped += schedule.done(0, due_us + (i * 7919) % 50'000);
    }
    EXPECT_EQ(skipped, 0U);
}

TEST(PollSchedule, AfterAStallPassedSlotsAreSkippedAndCountedNotMadeUp) {
    PollSchedule schedule({{100, 0}}, 0);
    EXPECT_EQ(schedule.next().at_us, 0);
    EXPECT_EQ(schedule.done(0, 1055), 10U); // slots 100 to 1000 have passed
    EXPECT_EQ(schedule.next().at_us, 1100);
    EXPECT_EQ(schedule.done(0, 1101), 0U);
    EXPECT_EQ(schedule.next().at_us, 1200);
}

TEST(PollSchedule, ASlotThatFallsOnTheEndOfAnExchangeHasPassed) {
    PollSchedule schedule({{100, 0}}, 0);
    EXPECT_EQ(schedule.done(0, 100), 1U);
    EXPECT_EQ(schedule.next().at_us, 200);
}

TEST(PollSchedule, AWantedPauseStaysOnTheGridAndCountsNothingAsSkipped) {
    PollSchedule schedule({{70, 5}}, 0);
    EXPECT_EQ(schedule.done(0, 20, 1000), 0U);
    EXPECT_EQ(schedule.next().at_us, 1055);
}

TEST(PollSchedule, ChannelsAreServedInDueOrder) {
    PollSchedule schedule({{100, 50}, {100, 0}, {30, 10}}, 0);
    std::vector<std::size_t> order;
    for (int i = 0; i < 6; ++i) {
        const auto due = schedule.next();
        order.push_back(due.channel);
        schedule.done(due.channel, due.at_us + 1);
    }
    EXPECT_EQ(order, (std::vector<std::size_t>{1, 2, 2, 0, 2, 1})); // 0, 10, 40, 50, 70, 100 (and 100 of channel 2)
}

// Exchanges that together take longer than the period: all channels go on being served, in turn.
TEST(PollSchedule, OnAnOverloadedBusNoChannelStarves) {
    PollSchedule schedule({{50, 0}, {50, 0}, {50, 0}}, 0);
    std::vector<int> served(3);
    std::uint64_t skipped = 0;
    Micros now_us = 0;
    for (int i = 0; i < 300; ++i) {
        const auto due = schedule.next();
        now_us = std::max(now_us, due.at_us) + 30;
        ++served[due.channel];
        skipped += schedule.done(due.channel, now_us);
    }
    for (const int count : served)
        EXPECT_GE(count, 80);
    EXPECT_GT(skipped, 50U);
}

TEST(SpreadPhases, AreEvenOverThePeriod) {
    EXPECT_EQ(spread_phases(4, 100'000), (std::vector<Micros>{0, 25'000, 50'000, 75'000}));
    EXPECT_EQ(spread_phases(1, 100'000), (std::vector<Micros>{0}));
    EXPECT_TRUE(spread_phases(0, 100'000).empty());
}

TEST(PaceReport, SpeaksOnceInFiveMinutesAndOnlyOfABusThatCannotKeepUp) {
    PaceReport report;
    int lines = 0;
    std::string words;
    for (Micros at_us = 0; at_us <= 360'000'000; at_us += 100'000)
        if (const auto line = report.polled(at_us, 1)) {
            ++lines;
            words = *line;
            EXPECT_TRUE(at_us == 60'000'000 || at_us == 360'000'000) << at_us;
        }
    EXPECT_EQ(lines, 2);
    EXPECT_EQ(words, "cannot keep the pace: 600 of 1200 polls left out; poll less often or move an instrument to "
                     "another bus");
}

TEST(PaceReport, ASlotLostNowAndThenIsNoNews) {
    PaceReport report;
    int polls = 0;
    for (Micros at_us = 0; at_us <= 600'000'000; at_us += 100'000)
        EXPECT_FALSE(report.polled(at_us, ++polls % 101 == 0 ? 1 : 0)) << at_us;
}

TEST(PollSchedule, APauseEndsAtTheNextSlotOfTheGrid) {
    PollSchedule schedule({{100, 30}}, 0);
    schedule.done(0, 31, 10'000);
    EXPECT_EQ(schedule.next().at_us, 10'030);
    schedule.end_pause(0, 250);
    EXPECT_EQ(schedule.next().at_us, 330);
    schedule.end_pause(0, 900);
    EXPECT_EQ(schedule.next().at_us, 330) << "what is due sooner stays";
}

} // namespace
} // namespace stillmark::acquisition
