#include "journal/scratch.hpp"

#include <algorithm>
#include <fstream>
#include <thread>

namespace stillmark::journal::testing {
namespace {

TEST(JournalWriter, WhatIsAppendedIsReadBackInTheOneOrder) {
    const Scratch scratch;
    Told told;
    auto opened = writer(scratch.file(), told);
    for (std::uint64_t n = 1; n <= 1000; ++n)
        ASSERT_TRUE(n % 100 == 0 ? opened->append(event(n)) : opened->append(reading(n)));
    ASSERT_TRUE(told.wait_durable(1000));

    const auto all = everything(scratch.file());
    ASSERT_TRUE(all) << all.error().message;
    ASSERT_EQ(all->order.size(), 1000U);
    for (std::uint64_t n = 1; n <= 1000; ++n)
        ASSERT_EQ(all->order[n - 1], n);
    ASSERT_EQ(all->events.size(), 10U);
    EXPECT_EQ(all->events[4].body, R"({"kind":"test"})");
    EXPECT_EQ(all->events[4].at_us, 500000);
    for (const ReadingRecord& one : all->readings)
        ASSERT_TRUE(same(one, reading(one.number))) << one.number;
}

TEST(JournalWriter, DurableIsToldOnlyWhenAnotherProgramCanReadIt) {
    const Scratch scratch;
    std::vector<std::string> seen;
    WriterSinks sinks;
    sinks.durable = [&](std::uint64_t, const seal::Digest&) {
        seen = sql(scratch.file(), "SELECT number FROM events");
    };
    auto opened = JournalWriter::open(scratch.file(), sinks);
    ASSERT_TRUE(opened);
    ASSERT_TRUE((*opened)->append(event(7)));
    opened->reset();
    EXPECT_EQ(seen, std::vector<std::string>{"7"});
}

TEST(JournalWriter, EventsDoNotWaitForReadingsAndTakeThemAlong) {
    const Scratch scratch;
    Told told;
    WriterLimits limits;
    limits.ride_along = 1h;
    auto opened = writer(scratch.file(), told, limits);
    ASSERT_TRUE(opened->append(reading(1)));
    ASSERT_TRUE(opened->append(reading(2)));
    EXPECT_FALSE(told.wait_durable(1, 300ms));
    ASSERT_TRUE(opened->append(event(3)));
    ASSERT_TRUE(told.wait_durable(3));
    EXPECT_EQ(told.durable(), std::vector<std::uint64_t>{3});
}

TEST(JournalWriter, ReadingsAloneAreDurableWithin250Ms) {
    const Scratch scratch;
    Told told;
    auto opened = writer(scratch.file(), told);
    std::vector<std::chrono::milliseconds> took;
    for (std::uint64_t n = 1; n <= 5; ++n) {
        const auto begin = std::chrono::steady_clock::now();
        ASSERT_TRUE(opened->append(reading(n)));
        ASSERT_TRUE(told.wait_durable(n));
        took.push_back(std::chrono::duration_cast<std::chrono::milliseconds>(std::chrono::steady_clock::now() - begin));
    }
    // The median, because a machine shared with other work may stop any one of them.
    std::ranges::sort(took);
    EXPECT_LE(took[2], 250ms);
    EXPECT_GE(took[0], 150ms);
}

TEST(JournalWriter, EndingCommitsWhatIsQueued) {
    const Scratch scratch;
    Told told;
    WriterLimits limits;
    limits.ride_along = 1h;
    auto opened = writer(scratch.file(), told, limits);
    for (std::uint64_t n = 1; n <= 100; ++n)
        ASSERT_TRUE(opened->append(reading(n)));
    opened.reset();
    EXPECT_EQ(told.durable(), std::vector<std::uint64_t>{100});
    EXPECT_FALSE(std::filesystem::exists(scratch.file() + "-wal"));
    EXPECT_EQ(reader(scratch.file())->last_number().value(), 100U);
}

TEST(JournalWriter, AnExistingJournalGoesOnAfterItsLastNumber) {
    const Scratch scratch;
    {
        Told told;
        auto opened = writer(scratch.file(), told);
        ASSERT_TRUE(opened->append(event(1)));
        ASSERT_TRUE(opened->append(reading(9)));
    }
    const auto created = sql(scratch.file(), "SELECT value FROM meta WHERE key = 'created'");
    Told told;
    auto opened = writer(scratch.file(), told);
    ASSERT_TRUE(opened->append(event(10)));
    ASSERT_TRUE(told.wait_durable(10));
    EXPECT_EQ(everything(scratch.file())->order, (std::vector<std::uint64_t>{1, 9, 10}));
    EXPECT_EQ(sql(scratch.file(), "SELECT value FROM meta WHERE key = 'created'"), created);
}

TEST(JournalWriter, ANumberThatDoesNotRiseIsRefusedAndFailsTheJournal) {
    const Scratch scratch;
    for (const std::uint64_t bad : {std::uint64_t{0}, std::uint64_t{8}, std::uint64_t{9}, std::uint64_t{1} << 63U}) {
        Told told;
        auto opened = writer(scratch.file(std::to_string(bad)), told);
        ASSERT_TRUE(opened->append(event(9)));
        ASSERT_TRUE(told.wait_durable(9));
        EXPECT_FALSE(opened->append(reading(bad)));
        ASSERT_TRUE(told.wait_failed());
        EXPECT_EQ(told.failed()[0],
                  "number " + std::to_string(bad) + " was to follow 9; numbers rise, from 1 to 2^63 - 1");
        EXPECT_FALSE(opened->append(event(10)));
    }
}

TEST(JournalWriter, AFullQueueRefusesReadingsBeforeEventsAndIsTold) {
    const Scratch scratch;
    Told told;
    WriterLimits limits;
    limits.waiting_readings = 10;
    limits.waiting_events = 12;
    // While a durable is being told, nothing is taken from the queue.
    std::mutex gate;
    auto sinks = told.sinks();
    sinks.durable = [&, tell = sinks.durable](std::uint64_t number, const seal::Digest& digest) {
        const std::lock_guard wait(gate);
        tell(number, digest);
    };
    auto opened = JournalWriter::open(scratch.file(), sinks, limits);
    ASSERT_TRUE(opened);
    std::unique_lock shut(gate);
    ASSERT_TRUE((*opened)->append(event(1)));
    while (sql(scratch.file(), "SELECT 1 FROM events").empty())
        std::this_thread::sleep_for(1ms);
    for (std::uint64_t n = 2; n <= 11; ++n)
        ASSERT_TRUE((*opened)->append(reading(n)));
    EXPECT_FALSE((*opened)->append(reading(12)));
    EXPECT_TRUE((*opened)->append(event(13)));
    EXPECT_TRUE((*opened)->append(event(14)));
    EXPECT_FALSE((*opened)->append(event(15)));
    EXPECT_EQ((*opened)->why_refused(), "the journal's queue is full");
    shut.unlock();
    ASSERT_TRUE(told.wait_full());
    EXPECT_EQ(told.full(), std::vector<std::size_t>{12});
    ASSERT_TRUE(told.wait_durable(14));
    EXPECT_TRUE((*opened)->append(event(16)));
    ASSERT_TRUE(told.wait_durable(16));
    EXPECT_TRUE(told.failed().empty());
    EXPECT_EQ(everything(scratch.file())->order.size(), 14U);
}

TEST(JournalWriter, OneJournalHasOneWriterUnderAnyName) {
    const Scratch scratch;
    Told told;
    auto opened = writer(scratch.file(), told);
    std::filesystem::create_symlink(scratch.file(), scratch.file("alias"));
    for (const auto& name : {scratch.file(), scratch.file("alias")}) {
        const auto second = JournalWriter::open(name, {});
        ASSERT_FALSE(second);
        EXPECT_EQ(second.error().message, name + ": is being written by process " + std::to_string(::getpid()) +
                                              "; stop that one first, or give another journal");
    }
    opened.reset();
    EXPECT_TRUE(JournalWriter::open(scratch.file(), {}));
}

std::string objection(const std::string& path) {
    const auto opened = JournalWriter::open(path, {});
    return opened ? "" : opened.error().message;
}

TEST(JournalWriter, AFileOfAnotherKindIsRefusedAndLeftAsItIs) {
    const Scratch scratch;
    const std::string text = scratch.file("notes.txt");
    std::ofstream(text) << std::string(5000, 'x');
    EXPECT_EQ(objection(text),
              text + ": is not a journal; give the path of a journal, or of a file that does not exist yet");

    const std::string other = scratch.file("other.db");
    sql(other, "CREATE TABLE something (x)");
    EXPECT_EQ(objection(other), other + ": is an SQLite file of another kind; give the path of a journal, or of a "
                                        "file that does not exist yet");
    EXPECT_EQ(sql(other, "PRAGMA journal_mode"), std::vector<std::string>{"delete"});
}

TEST(JournalWriter, ANewerFormatIsRefusedByWriterAndReader) {
    const Scratch scratch;
    ASSERT_TRUE(JournalWriter::open(scratch.file(), {}));
    sql(scratch.file(), "UPDATE meta SET value = '3' WHERE key = 'format'");
    const std::string words =
        scratch.file() + ": is a journal of format 3; this build reads up to 2; use a newer stillmark";
    EXPECT_EQ(objection(scratch.file()), words);
    EXPECT_EQ(JournalReader::open(scratch.file()).error().message, words);
}

TEST(JournalWriter, WrongPathsAreExplained) {
    const Scratch scratch;
    EXPECT_EQ(objection(scratch.file("none/x.journal")),
              scratch.file("none/x.journal") + ": there is no folder " + scratch.file("none") + "; make it first");
    std::filesystem::create_directory(scratch.file("folder"));
    EXPECT_EQ(objection(scratch.file("folder")),
              scratch.file("folder") + ": is a folder; give the path of a file in it");
    EXPECT_EQ(objection(""), "no journal named; give the path of one");
    EXPECT_EQ(JournalReader::open(scratch.file("absent")).error().message,
              scratch.file("absent") + ": does not exist; give the path of a journal");
    EXPECT_FALSE(std::filesystem::exists(scratch.file("absent")));
}

TEST(JournalWriter, SameReadingsInSameCommitsGiveSameBytes) {
    const Scratch scratch;
    std::vector<std::vector<std::string>> dumps;
    for (const char* name : {"one", "other"}) {
        Told told;
        WriterLimits limits;
        limits.ride_along = 1h;
        auto opened = writer(scratch.file(name), told, limits);
        for (std::uint64_t n = 1; n < 1000; ++n)
            ASSERT_TRUE(opened->append(reading(n)));
        ASSERT_TRUE(opened->append(event(1000)));
        opened.reset();
        dumps.push_back(sql(scratch.file(name), "SELECT first_number, channel, hex(columns) FROM blocks"));
        ASSERT_EQ(told.durable(), std::vector<std::uint64_t>{1000});
    }
    EXPECT_EQ(dumps[0].size(), 4U);
    EXPECT_EQ(dumps[0], dumps[1]);
}

} // namespace
} // namespace stillmark::journal::testing
