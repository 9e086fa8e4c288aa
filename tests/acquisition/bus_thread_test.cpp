#include "daemon/acquisition/bus_thread.hpp"
#include "daemon/acquisition/support_watch.hpp"

#include <gtest/gtest.h>

#include <atomic>
#include <chrono>
#include <condition_variable>
#include <mutex>
#include <thread>

namespace stillmark::acquisition {
namespace {

using drivers::DriverReading;
using drivers::ReadingStatus;
using protocols::now_us;

/// What a test hears from a bus.
class Listener {
  public:
    BusSinks sinks() {
        return {[this](const Reading& reading) {
                    const std::lock_guard lock(mutex_);
                    readings_.push_back(reading);
                    heard_.notify_all();
                },
                [this](const std::string& words, bool bad) {
                    const std::lock_guard lock(mutex_);
                    changes_.push_back((bad ? "bad: " : "good: ") + words);
                    heard_.notify_all();
                }};
    }
    /// Waits until `count` readings of the channel came, at most 10 s.
    bool wait_for(std::uint32_t channel, std::size_t count) {
        std::unique_lock lock(mutex_);
        return heard_.wait_for(lock, std::chrono::seconds(10), [&] { return count_of(channel) >= count; });
    }
    std::vector<Reading> readings(std::uint32_t channel) {
        const std::lock_guard lock(mutex_);
        std::vector<Reading> chosen;
        for (const Reading& reading : readings_)
            if (reading.channel == channel) chosen.push_back(reading);
        return chosen;
    }
    std::vector<std::string> changes() {
        const std::lock_guard lock(mutex_);
        return changes_;
    }

  private:
    std::size_t count_of(std::uint32_t channel) const {
        std::size_t count = 0;
        for (const Reading& reading : readings_)
            count += reading.channel == channel ? 1 : 0;
        return count;
    }
    std::mutex mutex_;
    std::condition_variable heard_;
    std::vector<Reading> readings_;
    std::vector<std::string> changes_;
};

/// An instrument that answers as the script says for the number of the question.
class ScriptedDriver : public drivers::Driver {
  public:
    using Script = std::function<DriverReading(int question)>;
    explicit ScriptedDriver(Script script, std::shared_ptr<std::atomic<int>> asked = {})
        : script_(std::move(script)), asked_(std::move(asked)) {}
    DriverReading read() override {
        if (asked_) ++*asked_;
        DriverReading reading = script_(question_++);
        if (reading.at_us == 0) reading.at_us = now_us();
        return reading;
    }

  private:
    Script script_;
    std::shared_ptr<std::atomic<int>> asked_;
    int question_ = 0;
};

DriverReading good(double value_pa) {
    return {value_pa, 0, 40, ReadingStatus::good, ""};
}
DriverReading bad(ReadingStatus status, std::string detail) {
    return {0, 0, 40, status, std::move(detail)};
}

PolledChannel channel(std::uint32_t number, Micros period_us, ScriptedDriver::Script script,
                      std::shared_ptr<std::atomic<int>> asked = {}) {
    return {number, period_us, std::make_unique<ScriptedDriver>(std::move(script), std::move(asked))};
}

BusPlan bus_of(std::vector<PolledChannel> channels) {
    BusPlan plan;
    plan.name = "line T";
    plan.channels = std::move(channels);
    return plan;
}

template <class... Channels>
BusPlan bus(Channels... channels) {
    std::vector<PolledChannel> list;
    (list.push_back(std::move(channels)), ...);
    return bus_of(std::move(list));
}

TEST(BusThread, PostsReadingsWithTheirStampAndTimingUncertainty) {
    Listener listener;
    const BusThread thread(bus(channel(3, 10'000,
                                       [](int i) {
                                           return DriverReading{1e5 + i, 1'000 + i, 40, {}, {}};
                                       })),
                           listener.sinks());
    ASSERT_TRUE(listener.wait_for(3, 3));
    const auto readings = listener.readings(3);
    EXPECT_EQ(readings[2].value_pa, 1e5 + 2);
    EXPECT_EQ(readings[2].at_us, 1'002);
    EXPECT_EQ(readings[2].timing_us, 40U);
    EXPECT_EQ(readings[2].status, ReadingStatus::good);
    EXPECT_TRUE(listener.changes().empty());
}

TEST(BusThread, PollsOnTheGridOfThePeriodAndPhase) {
    Listener listener;
    BusPlan plan = bus(channel(0, 20'000, [](int) { return good(1); }));
    plan.phase_us = 7'000;
    const BusThread thread(std::move(plan), listener.sinks());
    ASSERT_TRUE(listener.wait_for(0, 20));
    int punctual = 0;
    for (const Reading& reading : listener.readings(0))
        punctual += (reading.at_us - 7'000) % 20'000 < 5'000 ? 1 : 0;
    EXPECT_GE(punctual, 15); // a busy machine may be late now and then, never early
}

TEST(BusThread, EndsAtOnceThoughTheNextPollIsFarAway) {
    Listener listener;
    auto thread =
        std::make_unique<BusThread>(bus(channel(0, 3'600'000'000, [](int) { return good(1); })), listener.sinks());
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
    const Micros before_us = now_us();
    thread.reset();
    EXPECT_LT(now_us() - before_us, 1'000'000);
}

TEST(BusThread, EveryFailureIsPostedAndAFlickerIsSaidOnce) {
    Listener listener;
    const BusThread thread(
        bus(channel(1, 5'000,
                    [](int i) { return i >= 2 && i < 5 ? bad(ReadingStatus::bad_frame, "checksum") : good(i); })),
        listener.sinks());
    ASSERT_TRUE(listener.wait_for(1, 8));
    const auto readings = listener.readings(1);
    for (std::size_t i = 0; i < 8; ++i)
        EXPECT_EQ(readings[i].status, i >= 2 && i < 5 ? ReadingStatus::bad_frame : ReadingStatus::good) << i;
    EXPECT_EQ(listener.changes(),
              (std::vector<std::string>{
                  fmt::format("bad: line T, channel 1: {}: checksum", drivers::word(ReadingStatus::bad_frame)),
                  "good: line T, channel 1: answers again after 3 failures"}));
}

TEST(BusThread, AValueThatIsNoNumberNeverCounts) {
    Listener listener;
    const BusThread thread(bus(channel(1, 5'000, [](int) { return good(std::nan("")); })), listener.sinks());
    ASSERT_TRUE(listener.wait_for(1, 1));
    EXPECT_EQ(listener.readings(1)[0].status, ReadingStatus::not_a_number);
}

TEST(BusThread, ADeadLinkIsSaidOnceForTheWholeBus) {
    Listener listener;
    const auto script = [](int i) { return i < 3 ? bad(ReadingStatus::link_down, "adapter unplugged") : good(1); };
    const BusThread thread(bus(channel(1, 10'000, script), channel(2, 10'000, script)), listener.sinks());
    ASSERT_TRUE(listener.wait_for(1, 5));
    ASSERT_TRUE(listener.wait_for(2, 5));
    EXPECT_EQ(listener.changes(), (std::vector<std::string>{fmt::format("bad: line T: {}: adapter unplugged",
                                                                        drivers::word(ReadingStatus::link_down)),
                                                            "good: line T: answers again after 6 failures"}));
}

// An instrument that is silent costs 30 ms a question: after two seconds it is asked once a second, and its neighbour,
// who could not keep 20 ms beside it, has the bus for itself again.
TEST(BusThread, ALostInstrumentIsAskedSeldomAndItsNeighbourDoesNotSuffer) {
    Listener listener;
    const BusThread thread(bus(channel(1, 20'000,
                                       [](int) {
                                           std::this_thread::sleep_for(std::chrono::milliseconds(30));
                                           return bad(ReadingStatus::silent, "no answer within 30 ms");
                                       }),
                               channel(2, 20'000, [](int) { return good(1); })),
                           listener.sinks());
    std::this_thread::sleep_for(std::chrono::milliseconds(2'600));
    const std::size_t silent_before = listener.readings(1).size();
    const std::size_t neighbour_before = listener.readings(2).size();
    std::this_thread::sleep_for(std::chrono::milliseconds(1'500));
    const std::size_t silent = listener.readings(1).size() - silent_before;
    const std::size_t neighbour = listener.readings(2).size() - neighbour_before;
    EXPECT_GE(silent, 1U);
    EXPECT_LE(silent, 2U);
    EXPECT_GE(neighbour, 55U); // of 75 slots
    const auto changes = listener.changes();
    ASSERT_EQ(changes.size(), 2U);
    EXPECT_NE(changes[1].find("lost after"), std::string::npos) << changes[1];
}

TEST(BusThread, AnUnsupportedRegisterIsSaidOnceNoLongerAskedAndStillShown) {
    Listener listener;
    const auto asked = std::make_shared<std::atomic<int>>(0);
    const BusThread thread(
        bus(channel(
            1, 10'000, [](int) { return bad(ReadingStatus::unsupported, "illegal data address"); }, asked)),
        listener.sinks());
    ASSERT_TRUE(listener.wait_for(1, 3));
    EXPECT_EQ(*asked, 1);
    const auto readings = listener.readings(1);
    EXPECT_GE(readings[2].at_us - readings[1].at_us, 900'000);
    EXPECT_EQ(readings[2].status, ReadingStatus::unsupported);
    EXPECT_EQ(listener.changes().size(), 1U);
}

// One exception 1 or 2 silenced a channel for a minute.
TEST(BusThread, OneUnsupportedAnswerAfterASuccessIsAskedAgainAtTheNextPoll) {
    Listener listener;
    const BusThread thread(
        bus(channel(1, 10'000,
                    [](int i) { return i == 1 ? bad(ReadingStatus::unsupported, "exception 2") : good(1e5); })),
        listener.sinks());
    ASSERT_TRUE(listener.wait_for(1, 4));
    const auto readings = listener.readings(1);
    EXPECT_EQ(readings[1].status, ReadingStatus::unsupported);
    EXPECT_EQ(readings[2].status, ReadingStatus::good);
    EXPECT_EQ(readings[3].status, ReadingStatus::good);
}

TEST(BusThread, FiveUnsupportedAnswersInARowEndTheQuestionsOfAProvenInstrument) {
    Listener listener;
    const auto asked = std::make_shared<std::atomic<int>>(0);
    const BusThread thread(
        bus(channel(
            1, 10'000, [](int i) { return i == 0 ? good(1e5) : bad(ReadingStatus::unsupported, "exception 2"); },
            asked)),
        listener.sinks());
    ASSERT_TRUE(listener.wait_for(1, 8));
    EXPECT_EQ(*asked, 6);
}

TEST(BusThread, APersonHasAnUnsupportedChannelAskedAgainAtOnce) {
    Listener listener;
    BusThread thread(
        bus(channel(1, 10'000,
                    [](int i) { return i == 0 ? bad(ReadingStatus::unsupported, "exception 1") : good(1e5); })),
        listener.sinks());
    ASSERT_TRUE(listener.wait_for(1, 1));
    EXPECT_FALSE(thread.ask_again(2)) << "no channel of this bus";
    EXPECT_TRUE(thread.ask_again(1));
    ASSERT_TRUE(listener.wait_for(1, 4));
    EXPECT_EQ(listener.readings(1).back().status, ReadingStatus::good);
}

TEST(BusThread, ADoubtTakesTheReadingBeforeBackByOneOfItsOwn) {
    Listener listener;
    const BusThread thread(bus(channel(1, 10'000,
                                       [](int i) {
                                           DriverReading reading = good(1e5 + i);
                                           reading.doubts_previous = i == 2;
                                           return reading;
                                       })),
                           listener.sinks());
    ASSERT_TRUE(listener.wait_for(1, 5));
    const auto readings = listener.readings(1);
    EXPECT_EQ(readings[1].value_pa, 1e5 + 1);
    EXPECT_EQ(readings[2].status, ReadingStatus::doubtful);
    EXPECT_GE(readings[2].at_us, readings[1].at_us);
    EXPECT_LE(readings[2].at_us, readings[3].at_us);
    EXPECT_EQ(readings[3].value_pa, 1e5 + 2);
    EXPECT_EQ(readings[3].status, ReadingStatus::good);
    EXPECT_FALSE(listener.changes().empty());
}

TEST(SupportWatch, AnAnswerOfAnotherKindBeginsTheRowAgain) {
    SupportWatch watch;
    watch.answered(true);
    EXPECT_TRUE(watch.unsupported()) << "nothing has ever answered";
    watch.answered(false);
    EXPECT_FALSE(watch.unsupported());
    for (int row = 0; row < 2; ++row) {
        for (int i = 0; i < 4; ++i)
            watch.answered(true);
        EXPECT_FALSE(watch.unsupported());
        watch.answered(false);
    }
    for (int i = 0; i < 5; ++i)
        watch.answered(true);
    EXPECT_TRUE(watch.unsupported());
    watch.ask_again();
    EXPECT_FALSE(watch.unsupported());
}

TEST(BusThread, TheLinkOutlivesTheDriversThatUseIt) {
    struct Link {
        std::atomic<bool>& gone;
        ~Link() { gone = true; }
    };
    struct LastWord : drivers::Driver {
        LastWord(std::atomic<bool>& gone, std::atomic<bool>& orphan) : link_gone(gone), orphaned(orphan) {}
        ~LastWord() override { orphaned = link_gone.load(); }
        DriverReading read() override { return good(1); }
        std::atomic<bool>& link_gone;
        std::atomic<bool>& orphaned;
    };
    std::atomic<bool> link_gone = false;
    std::atomic<bool> orphaned = false;
    Listener listener;
    {
        BusPlan plan;
        plan.link = std::make_shared<Link>(link_gone);
        plan.channels.push_back({0, 10'000, std::make_unique<LastWord>(link_gone, orphaned)});
        const BusThread thread(std::move(plan), listener.sinks());
        ASSERT_TRUE(listener.wait_for(0, 1));
    }
    EXPECT_TRUE(link_gone);
    EXPECT_FALSE(orphaned);
}

TEST(BusThread, ABusWithoutChannelsEndsQuietly) {
    Listener listener;
    const BusThread thread(bus_of({}), listener.sinks());
}

// What the wire gave goes beside each reading without a value.
TEST(BusThread, TellsWhyAReadingHasNoValue) {
    Listener listener;
    std::mutex mutex;
    std::vector<ChannelFault> faults;
    auto sinks = listener.sinks();
    sinks.fault = [&](const ChannelFault& fault) {
        const std::lock_guard lock(mutex);
        faults.push_back(fault);
    };
    {
        const BusThread thread(
            bus(channel(4, 10'000,
                        [](int i) { return i % 2 == 0 ? good(1e5) : bad(ReadingStatus::bad_frame, "01 03 04"); })),
            sinks);
        ASSERT_TRUE(listener.wait_for(4, 6));
    }
    ASSERT_GE(faults.size(), 2U);
    const auto readings = listener.readings(4);
    EXPECT_EQ(faults[0].channel, 4U);
    EXPECT_EQ(faults[0].status, ReadingStatus::bad_frame);
    EXPECT_EQ(faults[0].detail, "01 03 04");
    EXPECT_EQ(faults[0].at_us, readings[1].at_us);
}

} // namespace
} // namespace stillmark::acquisition
