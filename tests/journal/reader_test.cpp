#include "daemon/journal/block.hpp"
#include "journal/scratch.hpp"

#include <fmt/format.h>

#include <atomic>
#include <limits>
#include <random>
#include <sys/stat.h>
#include <sys/wait.h>
#include <thread>
#include <unistd.h>

namespace stillmark::journal::testing {
namespace {

constexpr std::uint64_t all = std::numeric_limits<std::uint64_t>::max();

// A journal of `last` numbers, every tenth an event, in commits of varied length.
void fill(const std::string& path, std::uint64_t last, std::uint32_t channels) {
    Told told;
    WriterLimits limits;
    limits.ride_along = 1h;
    auto opened = writer(path, told, limits);
    std::mt19937_64 draw(last);
    for (std::uint64_t n = 1; n <= last; ++n) {
        ASSERT_TRUE(n % 10 == 0 ? opened->append(event(n)) : opened->append(reading(n, channels)));
        if (n % 10 == 0 && draw() % 20 == 0) {
            ASSERT_TRUE(told.wait_durable(n));
        }
    }
}

TEST(JournalReader, ReadingsOfOneChannelByNumberAreExactlyThose) {
    const Scratch scratch;
    fill(scratch.file(), 20000, 5);
    auto opened = reader(scratch.file());
    std::mt19937_64 draw(1);
    for (int round = 0; round < 300; ++round) {
        const std::uint64_t first = draw() % 21000;
        const std::uint64_t last = round % 3 == 0 ? first + draw() % 5 : first + draw() % 9000;
        const auto channel = static_cast<std::uint32_t>(draw() % 6);
        const auto found = opened->readings(channel, first, last);
        ASSERT_TRUE(found) << found.error().message;
        std::vector<std::uint64_t> expected;
        for (std::uint64_t n = std::max<std::uint64_t>(first, 1); n <= std::min<std::uint64_t>(last, 20000); ++n)
            if (n % 10 != 0 && n % 5 == channel) expected.push_back(n);
        ASSERT_EQ(found->size(), expected.size());
        for (std::size_t i = 0; i < expected.size(); ++i)
            ASSERT_TRUE(same((*found)[i], reading(expected[i], 5)));
    }
    EXPECT_TRUE(opened->readings(0, 5, 4)->empty());
    EXPECT_EQ(opened->readings(1, 0, all)->size(), 4000U);
    EXPECT_EQ(opened->last_number().value(), 20000U);
}

TEST(JournalReader, ALastReadingInAnEarlierBlockIsTheLastNumber) {
    const Scratch scratch;
    {
        Told told;
        auto opened = writer(scratch.file(), told);
        ASSERT_TRUE(opened->append(reading(4, 4)));
        ASSERT_TRUE(opened->append(reading(5, 4)));
        ASSERT_TRUE(opened->append(reading(8, 4)));
    }
    EXPECT_EQ(reader(scratch.file())->last_number().value(), 8U);
    Told told;
    auto again = writer(scratch.file(), told);
    EXPECT_FALSE(again->append(event(8)));
}

TEST(JournalReader, AnEmptyJournalIsNoError) {
    const Scratch scratch;
    ASSERT_TRUE(JournalWriter::open(scratch.file(), {}));
    EXPECT_EQ(reader(scratch.file())->last_number().value(), 0U);
    EXPECT_TRUE(everything(scratch.file())->order.empty());
    EXPECT_TRUE(reader(scratch.file())->readings(0, 0, all)->empty());
}

TEST(JournalReader, AWalkBeginsWhereItIsToldAndStopsWhenTold) {
    const Scratch scratch;
    fill(scratch.file(), 12000, 3);
    for (const std::uint64_t from : {0ULL, 1ULL, 2ULL, 4095ULL, 4097ULL, 9999ULL, 12000ULL, 12001ULL}) {
        const auto found = everything(scratch.file(), from);
        ASSERT_TRUE(found) << found.error().message;
        const std::uint64_t begin = std::max<std::uint64_t>(from, 1);
        ASSERT_EQ(found->order.size(), 12001 - begin);
        for (std::size_t i = 0; i < found->order.size(); ++i)
            ASSERT_EQ(found->order[i], begin + i);
    }
    EXPECT_TRUE(everything(scratch.file(), all)->order.empty());

    std::uint64_t seen = 0;
    const auto until = [&](std::uint64_t last) {
        return [&seen, last](const auto& one) {
            seen = one.number;
            return one.number < last;
        };
    };
    ASSERT_TRUE(reader(scratch.file())->walk(until(30), until(30), 0));
    EXPECT_EQ(seen, 30U);
    ASSERT_TRUE(reader(scratch.file())->walk(until(31), until(31), 0));
    EXPECT_EQ(seen, 31U);
    ASSERT_TRUE(reader(scratch.file())->events(until(50)));
    EXPECT_EQ(seen, 50U);
}

TEST(JournalReader, ReadsOneStateWhileAServiceWrites) {
    const Scratch scratch;
    Told told;
    auto opened = writer(scratch.file(), told);
    std::atomic<bool> enough = false;
    std::thread service([&] {
        for (std::uint64_t n = 1; !enough; ++n) {
            if (n % 50 == 0) {
                opened->append(event(n));
                told.wait_durable(n);
            } else
                opened->append(reading(n));
        }
    });
    told.wait_durable(50);
    std::uint64_t last = 0;
    const auto deadline = std::chrono::steady_clock::now() + 10s;
    while (last < 2000 && std::chrono::steady_clock::now() < deadline) {
        const std::uint64_t before = told.durable().back();
        const auto found = everything(scratch.file());
        ASSERT_TRUE(found) << found.error().message;
        // Everything told as durable is there, and what is there is whole.
        ASSERT_GE(found->order.back(), before);
        ASSERT_EQ(found->order.size(), found->order.back());
        last = found->order.back();
    }
    EXPECT_GE(last, 2000U);
    enough = true;
    service.join();
    EXPECT_TRUE(told.failed().empty());
}

TEST(JournalReader, ADamagedBlockIsNamed) {
    const Scratch scratch;
    fill(scratch.file(), 100, 4);
    sql(scratch.file(), "UPDATE blocks SET columns = x'02' WHERE channel = 3");
    const std::string words =
        scratch.file() + ": block 3 of channel 3 breaks the format (it ends too early); use an undamaged copy";
    EXPECT_EQ(everything(scratch.file()).error().message, words);
    EXPECT_EQ(reader(scratch.file())->readings(3, 1, 100).error().message, words);
    EXPECT_TRUE(reader(scratch.file())->readings(2, 1, 100));
    EXPECT_EQ(JournalWriter::open(scratch.file(), {}).error().message, words);
}

TEST(JournalReader, AChannelOutsideItsRangeIsNamed) {
    const Scratch scratch;
    fill(scratch.file(), 100, 4);
    sql(scratch.file(), "UPDATE blocks SET channel = -1 WHERE channel = 3");
    EXPECT_EQ(everything(scratch.file()).error().message,
              scratch.file() +
                  ": block 3 of channel -1 breaks the format (a channel outside 32 bits); use an undamaged "
                  "copy");
}

TEST(JournalReader, ANumberThatStandsTwiceIsNamed) {
    const Scratch scratch;
    fill(scratch.file(), 100, 4);
    sql(scratch.file(), "INSERT INTO events VALUES (7, 0, '{}', x'00')");
    EXPECT_EQ(everything(scratch.file()).error().message,
              scratch.file() + ": number 7 stands twice or out of order; use an undamaged copy");
}

// The memory of a walk stays bounded: blocks that could not all be true are refused before they pile up.
TEST(JournalReader, ManyOverlappingBlocksAreRefused) {
    const Scratch scratch;
    fill(scratch.file(), 100, 4);
    std::vector<ReadingRecord> large;
    for (std::uint64_t n = 0; n < block_span; ++n)
        large.push_back(reading(1000 + n, 1));
    std::vector<std::uint8_t> bytes;
    encode_block(large, bytes);
    std::string hex;
    for (const auto byte : bytes)
        hex += fmt::format("{:02x}", byte);
    for (int i = 0; i < 4; ++i)
        sql(scratch.file(), fmt::format("INSERT INTO blocks VALUES ({}, 1, x'{}', x'00')", 1000 + i, hex));
    EXPECT_EQ(reader(scratch.file())->readings(1, 1, 9999).error().message,
              scratch.file() + ": number 1001 stands twice or out of order; use an undamaged copy");
    EXPECT_NE(everything(scratch.file()).error().message.find("stands twice"), std::string::npos);
}

// An archive is read as a user who may not write there; nothing is left beside it.
TEST(JournalReader, AFolderThatMayNotBeWrittenIsReadAllTheSame) {
    const Scratch scratch;
    fill(scratch.file("a #1%.journal"), 100, 4);
    const std::string folder = std::filesystem::path(scratch.file()).parent_path().string();
    ASSERT_EQ(::chmod(folder.c_str(), 0555), 0);
    const pid_t child = ::fork();
    if (child == 0) {
        if (::geteuid() == 0 && ::seteuid(65534) != 0) ::_exit(3);
        const auto found = everything(scratch.file("a #1%.journal"));
        if (!found) (void)std::fputs(found.error().message.c_str(), stderr);
        ::_exit(found && found->order.size() == 100 ? 0 : 1);
    }
    int status = -1;
    ::waitpid(child, &status, 0);
    EXPECT_EQ(status, 0);
    ASSERT_EQ(::chmod(folder.c_str(), 0755), 0);
    EXPECT_FALSE(std::filesystem::exists(scratch.file("a #1%.journal-wal")));
}

} // namespace
} // namespace stillmark::journal::testing
