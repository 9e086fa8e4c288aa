#include "daemon/journal/memory.hpp"
#include "daemon/journal/verify.hpp"
#include "journal/scratch.hpp"

#include <nlohmann/json.hpp>

#include <fstream>
#include <sys/stat.h>

namespace stillmark::journal::testing {
namespace {

void put(const std::string& path, const std::string& text) {
    std::ofstream(path) << text;
}

nlohmann::json json_at(const std::string& path) {
    std::ifstream in(path);
    return nlohmann::json::parse(in);
}

std::string trouble_with(const std::string& path) {
    const auto numbers = remembered_numbers(path);
    return numbers ? "" : numbers.error().message;
}

TEST(Memory, OnlyEverRises) {
    const Scratch scratch;
    const auto path = memory_path(scratch.file("x.journal.key"));
    EXPECT_EQ(path, scratch.file("x.journal.key.memory"));
    EXPECT_TRUE(remembered_numbers(path)->empty());
    ASSERT_TRUE(remember_numbers(path, {{"INV-2026-{count}", 5}}));
    ASSERT_TRUE(remember_numbers(path, {{"INV-2026-{count}", 3}, {"INV-2027-{count}", 1}}));
    EXPECT_EQ(*remembered_numbers(path), (HighestNumbers{{"INV-2026-{count}", 5}, {"INV-2027-{count}", 1}}));
    struct stat found {};
    ASSERT_EQ(::stat(path.c_str(), &found), 0);
    EXPECT_EQ(found.st_mode & 0777U, 0600U);
    const auto inode = found.st_ino;
    ASSERT_TRUE(remember_numbers(path, {{"INV-2026-{count}", 5}}));
    ASSERT_EQ(::stat(path.c_str(), &found), 0);
    EXPECT_EQ(found.st_ino, inode) << "nothing rose, so nothing is written";
}

TEST(Memory, KeepsWhatALaterBuildOfTheSameVersionWrites) {
    const Scratch scratch;
    const auto path = scratch.file("memory");
    put(path,
        R"({"version": 1, "certificates": {"highest": {"A-{count}": 2}, "more": 1}, "journals": {"ab": {"number": 7}}})");
    ASSERT_TRUE(remember_numbers(path, {{"A-{count}", 9}}));
    EXPECT_EQ(json_at(path), nlohmann::json::parse(R"({"version": 1, "certificates": {"highest": {"A-{count}": 9},
        "more": 1}, "journals": {"ab": {"number": 7}}})"));
}

TEST(Memory, WhatIsNoneIsRefusedAndNeverWrittenOver) {
    const Scratch scratch;
    const auto path = scratch.file("memory");
    for (const char* text :
         {"", "nonsense", "[]", "{}", R"({"version": 1})", R"({"version": 1, "certificates": {"highest": []}})",
          R"({"version": 1, "certificates": {"highest": {"A-{count}": "5"}}})",
          R"({"version": 1, "certificates": {"highest": {"A-{count}": -1}}})"}) {
        put(path, text);
        EXPECT_NE(trouble_with(path).find(path + ": "), std::string::npos) << text;
        EXPECT_NE(trouble_with(path).find("from the latest back-up"), std::string::npos) << text;
        EXPECT_FALSE(remember_numbers(path, {{"A-{count}", 9}})) << text;
        std::ifstream in(path);
        EXPECT_EQ(std::string(std::istreambuf_iterator<char>(in), {}), text);
    }
    put(path, R"({"version": 2, "certificates": {"highest": {}}})");
    EXPECT_NE(trouble_with(path).find("has version 2, this build knows version 1"), std::string::npos);
}

TEST(Memory, OfABackupLowersNothing) {
    const Scratch scratch;
    const auto path = scratch.file("memory"), backup = scratch.file("backup");
    put(backup,
        R"({"version": 1, "certificates": {"highest": {"A-{count}": 4, "B-{count}": 7}}, "later": 1, "other": 2})");
    ASSERT_TRUE(remember_all_of(path, backup));
    EXPECT_EQ(json_at(path), json_at(backup));
    put(path, R"({"version": 1, "certificates": {"highest": {"A-{count}": 6, "C-{count}": 1}}, "later": 9})");
    ASSERT_TRUE(remember_all_of(path, backup));
    EXPECT_EQ(json_at(path), nlohmann::json::parse(R"({"version": 1, "certificates": {"highest": {"A-{count}": 6,
        "B-{count}": 7, "C-{count}": 1}}, "later": 9, "other": 2})"));
}

TEST(Digests, AreHeldAtTheirNumberOnly) {
    const Scratch scratch;
    Told told;
    seal::Digest head{};
    {
        auto sinks = told.sinks();
        std::mutex mutex;
        sinks.durable = [&, noted = sinks.durable](std::uint64_t number, const seal::Digest& digest) {
            {
                const std::lock_guard lock(mutex);
                head = digest;
            }
            noted(number, digest);
        };
        auto opened = JournalWriter::open(scratch.file(), std::move(sinks)).value();
        ASSERT_TRUE(opened->append(event(7)));
        ASSERT_TRUE(told.wait_durable(7));
    }
    EXPECT_TRUE(*holds_digest(scratch.file(), {7, head}));
    EXPECT_FALSE(*holds_digest(scratch.file(), {8, head}));
    head[0] ^= 1U;
    EXPECT_FALSE(*holds_digest(scratch.file(), {7, head}));
    EXPECT_FALSE(holds_digest(scratch.file("none"), {7, head}));
}

TEST(Digests, OfACertificateAreToldWithItsNumber) {
    const Scratch scratch;
    {
        Told told;
        auto opened = writer(scratch.file(), told);
        ASSERT_TRUE(opened->append(event(7)));
        ASSERT_TRUE(told.wait_durable(7));
    }
    Anchors anchors;
    anchors.printed = {{7, {}, "INV-2026-0001"}, {90, {}, "INV-2026-0002"}};
    const auto told = verify(scratch.file(), anchors);
    ASSERT_TRUE(told);
    ASSERT_EQ(told->findings.size(), 2U);
    EXPECT_EQ(told->findings[0].find("certificate INV-2026-0001 rests on number 7 with another digest"), 0U);
    EXPECT_EQ(told->findings[1].find("certificate INV-2026-0002 rests on number 90, the journal ends at 7"), 0U);
}

} // namespace
} // namespace stillmark::journal::testing
