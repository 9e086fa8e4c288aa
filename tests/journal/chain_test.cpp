#include "daemon/journal/backup.hpp"
#include "daemon/journal/compare.hpp"
#include "daemon/journal/verify.hpp"
#include "journal/scratch.hpp"
#include "journal/shaky_disk.hpp"

#include <fmt/format.h>

#include <fstream>
#include <map>
#include <random>
#include <thread>

namespace stillmark::journal::testing {
namespace {

const seal::PrivateKey& the_key() {
    static const auto key = seal::PrivateKey::make().value();
    return key;
}

/// A writer that signs, and commits only where it is waited for.
std::unique_ptr<JournalWriter> signing_writer(const std::string& path, Told& told,
                                              std::optional<seal::PrivateKey> key = the_key()) {
    WriterLimits limits;
    limits.ride_along = 1h;
    return std::move(JournalWriter::open(path, told.sinks(), limits, std::move(key)).value());
}

/// `commits` commits of ten numbers each, the tenth an event.
void fill(const std::string& path, std::uint64_t commits, std::optional<seal::PrivateKey> key = the_key()) {
    Told told;
    const auto last = [&path] {
        const auto before = JournalReader::open(path);
        return before ? (*before)->last_number().value() : 0;
    }();
    auto opened = signing_writer(path, told, std::move(key));
    for (std::uint64_t n = last + 1; n <= last + 10 * commits; ++n) {
        ASSERT_TRUE(n % 10 == 0 ? opened->append(event(n)) : opened->append(reading(n, 3)));
        if (n % 10 == 0) {
            ASSERT_TRUE(told.wait_durable(n));
        }
    }
}

Verification verified(const std::string& path, const Anchors& anchors = {}) {
    auto told = verify(path, anchors);
    if (!told) throw std::runtime_error(told.error().message);
    return std::move(*told);
}

std::vector<std::string> findings(const std::string& path, const Anchors& anchors = {}) {
    return verified(path, anchors).findings;
}

using Words = std::vector<std::string>;

std::string first(const Words& words) {
    return words.empty() ? "nothing was found" : words.front();
}

class Chain : public ::testing::Test {
  protected:
    void SetUp() override { fill(path, 6); }
    /// Changed behind the service's back.
    void alter(const std::string& statement) { sql(path, statement); }
    /// The service's own last links: link 0 is the beginning, each commit has one, and one more covers the signature.
    static constexpr std::int64_t commits = 6;

    Scratch scratch;
    const std::string path = scratch.file();
};

TEST_F(Chain, OfAnUntouchedJournalHolds) {
    const auto told = verify(path, {}, Pages::every_one).value();
    EXPECT_EQ(told.findings, Words{});
    EXPECT_EQ(told.pages, Words{});
    EXPECT_EQ(told.events, 6U);
    EXPECT_EQ(told.readings, 54U);
    EXPECT_EQ(told.blocks, 18U);
    EXPECT_EQ(told.links, 8U);
    EXPECT_EQ(told.checkpoints, 2U); // at the start and at the end
    EXPECT_EQ(told.head.last, 60);
    EXPECT_EQ(told.signed_up_to, 60);
    EXPECT_EQ(told.signed_by, Words{the_key().public_key().fingerprint()});
    EXPECT_EQ(told.chained_after, 0);
    EXPECT_EQ(told.created.size(), 20U);
    EXPECT_EQ(told.identity.size(), 32U);
}

TEST_F(Chain, GoesOnOverRestartsAndWithoutAKey) {
    fill(path, 2);
    fill(path, 2, std::nullopt);
    const auto told = verified(path);
    EXPECT_EQ(told.findings, Words{});
    EXPECT_EQ(told.head.last, 100);
    EXPECT_EQ(told.checkpoints, 4U);
    EXPECT_EQ(told.signed_up_to, 80);
}

TEST_F(Chain, AChangedRowIsNamed) {
    alter("UPDATE events SET body = '{}' WHERE number = 30");
    EXPECT_EQ(findings(path), Words{"event 30: it is not what was written"});
    alter("UPDATE events SET at_us = at_us + 1 WHERE number = 10");
    alter("UPDATE blocks SET channel = 7 WHERE first_number = 42");
    EXPECT_EQ(findings(path), (Words{"event 10: it is not what was written", "event 30: it is not what was written",
                                     "block 42 of channel 7: it is not what was written"}));
}

// Who changes a row with its tag is found all the same, and named by the numbers of its commit.
TEST_F(Chain, AChangedRowWithItsOwnTagIsFound) {
    std::vector<std::uint8_t> row;
    add_event(row, 30, 30000, "{}");
    seal::Sha256 sha;
    alter(fmt::format("UPDATE events SET body = '{{}}', tag = x'{}' WHERE number = 30", seal::hex(tag_of(sha, row))));
    const auto found = findings(path);
    ASSERT_EQ(found.size(), 1U);
    EXPECT_TRUE(found[0].starts_with("numbers 21 to 30 (link 3): ")) << found[0];
}

TEST_F(Chain, ARowTakenAwayAddedOrMovedIsFoundBetweenItsNeighbours) {
    alter("DELETE FROM events WHERE number = 20");
    EXPECT_TRUE(first(findings(path)).starts_with("numbers 11 to 20 (link 2): "));
    alter("INSERT INTO events VALUES (15, 1, '{}', x'00000000')");
    EXPECT_EQ(findings(path), Words{"event 15: it is not what was written"});
    alter("DELETE FROM events WHERE number = 15; UPDATE events SET number = 35 WHERE number = 50");
    const auto moved = findings(path);
    ASSERT_EQ(moved.size(), 3U);
    EXPECT_EQ(moved[1], "event 35: it is not what was written");
    EXPECT_TRUE(moved[2].starts_with("numbers 41 to 50 (link 5): "));
}

// Two commits in each other's place, rows, tags and links alike.
TEST_F(Chain, ReorderedCommitsAreFound) {
    alter("UPDATE events SET number = -20 WHERE number = 20; UPDATE events SET number = 20 WHERE number = 30;"
          "UPDATE events SET number = 30 WHERE number = -20");
    EXPECT_EQ(findings(path), (Words{"event 20: it is not what was written", "event 30: it is not what was written"}));
}

TEST_F(Chain, ANumberBelowOneIsFound) {
    alter("INSERT INTO events VALUES (-5, 1, '{}', x'00000000')");
    EXPECT_EQ(findings(path), Words{"event -5: it is not what was written"});
}

TEST_F(Chain, WhatStandsAfterTheLastLinkIsFound) {
    alter("INSERT INTO events VALUES (61, 1, '{}', x'00000000')");
    EXPECT_EQ(findings(path), Words{"event 61: it stands after the last link: it was added, or its link is missing"});
}

TEST_F(Chain, AChangedLinkIsNamed) {
    alter("UPDATE links SET digest = zeroblob(32) WHERE link = 3");
    EXPECT_EQ(findings(path), Words{"link 3 (number 30): its digest was changed; what it covers is as it was"});
    alter("UPDATE links SET digest = zeroblob(31) WHERE link = 3");
    EXPECT_EQ(first(findings(path)), "link 3: it is not of the kind that a link is");
}

TEST_F(Chain, ALinkOfAnotherNumberOrCountIsFound) {
    alter("UPDATE links SET unconfirmed = 1 WHERE link = 3");
    EXPECT_TRUE(first(findings(path)).starts_with("numbers 21 to 30 (link 3): "));
    alter("UPDATE links SET unconfirmed = 0, last = 29 WHERE link = 3");
    EXPECT_GE(findings(path).size(), 2U);
}

TEST_F(Chain, AMissingLinkIsNamed) {
    alter("DELETE FROM links WHERE link = 3");
    EXPECT_EQ(first(findings(path)), "link 3 is missing");
    alter("DELETE FROM links WHERE link IN (4, 5)");
    EXPECT_EQ(first(findings(path)), "links 3 to 5 are missing");
    alter("DELETE FROM links WHERE link = 0");
    EXPECT_EQ(first(findings(path)), "link 0: it is missing, with which the chain begins");
}

TEST_F(Chain, ALinkBeforeTheBeginningIsFound) {
    for (const char* number : {"-1", "-9223372036854775808"}) {
        alter(fmt::format("INSERT INTO links VALUES ({}, 0, 0, x'00')", number));
        EXPECT_EQ(first(findings(path)), "link 0: it is missing, with which the chain begins") << number;
        alter(fmt::format("DELETE FROM links WHERE link = {}", number));
        EXPECT_EQ(findings(path), Words{});
    }
}

// The chain is read in stretches by several threads: wherever they meet, nothing is lost between them.
TEST_F(Chain, EveryRowAndLinkIsHeldAgainstItWhereverTheStretchesMeet) {
    fill(path, 40);
    ASSERT_EQ(findings(path), Words{});
    for (int number = 10; number <= 460; number += 10) {
        alter(fmt::format("UPDATE events SET at_us = at_us + 1 WHERE number = {}", number));
        EXPECT_EQ(findings(path), Words{fmt::format("event {}: it is not what was written", number)});
        alter(fmt::format("UPDATE events SET at_us = at_us - 1 WHERE number = {}", number));
    }
    const auto links = sql(path, "SELECT max(link) FROM links").front();
    for (int link = 1; link <= std::stoi(links); ++link)
        for (const char* change : {"last = last %c 1", "last = last %c 1000", "unconfirmed = unconfirmed %c 1"}) {
            const auto with = [&](char sign) {
                std::string words = change;
                words.replace(words.find("%c"), 2, std::string(1, sign));
                return fmt::format("UPDATE links SET {} WHERE link = {}", words, link);
            };
            alter(with('+'));
            EXPECT_FALSE(verified(path).content_is_as_stored()) << with('+');
            alter(with('-'));
            ASSERT_EQ(findings(path), Words{}) << with('-');
        }
}

TEST_F(Chain, AChangedTableMetaIsNamed) {
    const std::string words =
        "table meta, or link 0: they are not what the journal was made with (format, created, identity)";
    const auto created = sql(path, "SELECT value FROM meta WHERE key = 'created'").front();
    for (const char* change : {"UPDATE meta SET value = '2020-01-01T00:00:00Z' WHERE key = 'created'",
                               "INSERT INTO meta VALUES ('note', 'x')"}) {
        alter(change);
        EXPECT_EQ(first(findings(path)), words) << change;
        alter("DELETE FROM meta WHERE key = 'note'; UPDATE meta SET value = '" + created + "' WHERE key = 'created'");
    }
    EXPECT_EQ(findings(path), Words{});
    for (const char* format : {"1", "3", "9"}) {
        alter(fmt::format("UPDATE meta SET value = '{}' WHERE key = 'format'", format));
        EXPECT_EQ(first(findings(path)), words) << format;
    }
}

TEST_F(Chain, ACheckpointThatWasRemovedOrChangedIsNamed) {
    const std::string copy = scratch.file("copy");
    ASSERT_TRUE(back_up(path, copy, false));
    sql(copy, "DELETE FROM checkpoints WHERE link = 0");
    EXPECT_TRUE(first(findings(copy)).starts_with("numbers 1 to 10 (link 1): "));
    sql(path, "UPDATE checkpoints SET utc_us = utc_us + 1 WHERE link = 6");
    EXPECT_EQ(first(findings(path)), "the checkpoint of link 6 (number 60): its signature does not fit");
    sql(path, "UPDATE checkpoints SET link = 17 WHERE link = 6");
    EXPECT_EQ(first(findings(path)), "the checkpoint of link 17: the link after it is missing, or it was added");
}

TEST_F(Chain, WhatDoesNotBelongToAJournalIsNamed) {
    for (const auto& [add, remove, what] :
         {std::tuple{"CREATE TABLE more (x)", "DROP TABLE more", "table more"},
          std::tuple{"CREATE INDEX by_channel ON blocks (channel)", "DROP INDEX by_channel", "index by_channel"},
          std::tuple{"CREATE TRIGGER t AFTER INSERT ON events BEGIN DELETE FROM events; END", "DROP TRIGGER t",
                     "trigger t"},
          std::tuple{"CREATE VIEW v AS SELECT 1", "DROP VIEW v", "view v"}}) {
        alter(add);
        EXPECT_EQ(findings(path), Words{std::string(what) + ": it does not belong to a journal, or not so"});
        alter(remove);
        EXPECT_EQ(findings(path), Words{});
    }
    const std::string bare = scratch.file("bare");
    ASSERT_TRUE(back_up(path, bare, false));
    sql(bare, "DROP TABLE links; DROP TABLE checkpoints");
    EXPECT_EQ(first(findings(bare)), "table checkpoints: it is missing");
    alter("ALTER TABLE events ADD COLUMN more TEXT");
    EXPECT_EQ(findings(path), Words{"table events: it does not belong to a journal, or not so"});
}

// The pages that lead to a row by its number hold no content: the file is damaged, what is stored is not.
TEST_F(Chain, ADamagedPageThatHoldsNoContentIsToldApart) {
    fill(path, 2000);
    const auto pages = static_cast<std::size_t>(std::filesystem::file_size(path) / 4096);
    std::size_t damaged = 0;
    for (std::size_t page = 1; page < pages; ++page) {
        std::fstream file(path, std::ios::binary | std::ios::in | std::ios::out);
        file.seekg(static_cast<std::streamoff>(4096 * page));
        if (file.get() != 5) continue; // an inner page of a table
        // The last byte of the page is the lowest of the first dividing number.
        file.seekg(static_cast<std::streamoff>(4096 * page + 4095));
        const int last = file.get();
        file.seekp(static_cast<std::streamoff>(4096 * page + 4095));
        file.put(static_cast<char>(last - 1));
        file.close();
        const auto told = verify(path, {}, Pages::every_one).value();
        EXPECT_EQ(told.findings, Words{});
        EXPECT_FALSE(told.pages.empty()) << page;
        ++damaged;
        std::fstream again(path, std::ios::binary | std::ios::in | std::ios::out);
        again.seekp(static_cast<std::streamoff>(4096 * page + 4095));
        again.put(static_cast<char>(last));
    }
    EXPECT_GT(damaged, 0U);
    EXPECT_TRUE(verify(path, {}, Pages::every_one)->pages.empty());
}

// The same bytes as another kind of value: SQLite gives them out alike.
TEST_F(Chain, AValueOfAnotherKindIsNamed) {
    const auto strict = sql(path, "SELECT sql FROM sqlite_schema WHERE name = 'events'").front();
    alter(
        "PRAGMA writable_schema = ON; UPDATE sqlite_schema SET sql = replace(sql, 'STRICT', '') WHERE name = 'events'");
    alter("UPDATE events SET body = CAST(body AS BLOB) WHERE number = 30");
    alter("PRAGMA writable_schema = ON; UPDATE sqlite_schema SET sql = '" + strict + "' WHERE name = 'events'");
    EXPECT_EQ(sql(path, "SELECT typeof(body) FROM events WHERE number = 30"), Words{"blob"});
    EXPECT_EQ(findings(path), Words{"event 30: it is not what was written"});
}

TEST_F(Chain, AnotherKeyIsNamed) {
    const auto other = seal::PrivateKey::make().value();
    EXPECT_EQ(findings(path, {{the_key().public_key()}, {}}), Words{});
    EXPECT_EQ(findings(path, {{other.public_key(), the_key().public_key()}, {}}), Words{});
    EXPECT_EQ(first(findings(path, {{other.public_key()}, {}})),
              "the checkpoint of link 0 (number 0): it is signed with another key (fingerprint " +
                  the_key().public_key().fingerprint() + ")");
    const std::string unsigned_one = scratch.file("unsigned");
    fill(unsigned_one, 1, std::nullopt);
    EXPECT_EQ(findings(unsigned_one, {{other.public_key()}, {}}), Words{"nothing in it is signed, with no key"});
}

TEST_F(Chain, ADigestThatWasPrintedIsHeldAgainstIt) {
    seal::Digest at_30{};
    {
        const auto rows = sql(path, "SELECT hex(digest) FROM links WHERE last = 30");
        at_30 = seal::digest_from_hex(rows.front()).value();
    }
    EXPECT_EQ(findings(path, {{}, {{30, at_30}}}), Words{});
    EXPECT_EQ(findings(path, {{}, {{40, at_30}}}),
              Words{"the digest printed for number 40 is not the one that its contents have: they are not those that "
                    "it was printed from, or it was copied wrongly"});
    EXPECT_EQ(findings(path, {{}, {{90, at_30}}}),
              Words{"it ends at number 60, before the printed number 90: what followed is missing"});
}

// A whole journal made anew by somebody else holds in itself: only what was kept elsewhere shows it.
TEST_F(Chain, AWholeForgedJournalIsShownByKeyAndPrintedDigest) {
    const auto printed = verified(path).head;
    std::filesystem::remove(path);
    fill(path, 6, seal::PrivateKey::make().value());
    EXPECT_EQ(findings(path), Words{});
    EXPECT_FALSE(findings(path, {{the_key().public_key()}, {}}).empty());
    EXPECT_FALSE(findings(path, {{}, {{printed.last, printed.digest}}}).empty());
}

TEST_F(Chain, TheWriterTellsTheDigestOfEachNumber) {
    std::vector<std::pair<std::uint64_t, seal::Digest>> told;
    WriterSinks sinks;
    sinks.durable = [&told](std::uint64_t number, const seal::Digest& digest) { told.emplace_back(number, digest); };
    {
        auto opened = JournalWriter::open(path, sinks, {}, the_key());
        ASSERT_TRUE(opened);
        ASSERT_TRUE((*opened)->append(event(61)));
        ASSERT_TRUE((*opened)->append(event(62)));
    }
    ASSERT_FALSE(told.empty());
    for (const auto& [number, digest] : told)
        EXPECT_EQ(findings(path, {{}, {{static_cast<std::int64_t>(number), digest}}}), Words{}) << number;
}

TEST(Signing, IsDueWithinItsTimeWhetherOrNotSomethingMoreIsWritten) {
    const Scratch scratch;
    Told told;
    WriterLimits limits;
    limits.unsigned_for = 200ms;
    auto opened = std::move(JournalWriter::open(scratch.file(), told.sinks(), limits, the_key()).value());
    ASSERT_TRUE(opened->append(event(1)));
    ASSERT_TRUE(told.wait_durable(1));
    const auto until = std::chrono::steady_clock::now() + 5s;
    while (verified(scratch.file()).signed_up_to < 1 && std::chrono::steady_clock::now() < until)
        std::this_thread::sleep_for(20ms);
    EXPECT_EQ(verified(scratch.file()).signed_up_to, 1);
    // What is signed is not signed again and again.
    std::this_thread::sleep_for(500ms);
    EXPECT_EQ(verified(scratch.file()).checkpoints, 2U);
}

TEST(Signing, GoesOnWhileReadingsAreWritten) {
    const Scratch scratch;
    Told told;
    WriterLimits limits;
    limits.unsigned_for = 100ms;
    auto opened = std::move(JournalWriter::open(scratch.file(), told.sinks(), limits, the_key()).value());
    for (std::uint64_t n = 1; n <= 40; ++n) {
        ASSERT_TRUE(opened->append(event(n)));
        ASSERT_TRUE(told.wait_durable(n));
        std::this_thread::sleep_for(10ms);
    }
    EXPECT_GE(verified(scratch.file()).checkpoints, 3U);
    EXPECT_EQ(verified(scratch.file()).findings, Words{});
}

// The disk does not confirm a commit: the chain goes on from the one before, and nothing of it is left over.
TEST(FailedCommit, LeavesTheChainWhereItWas) {
    ShakyDisk disk;
    const Scratch scratch;
    for (std::uint64_t n = 1; n < 20; n += 2) {
        {
            Told told;
            auto opened = signing_writer(scratch.file(), told);
            ASSERT_TRUE(opened->append(event(n)));
            ASSERT_TRUE(told.wait_durable(n));
            disk.sync_gives = SQLITE_IOERR_FSYNC;
            ASSERT_TRUE(opened->append(event(n + 1)));
            ASSERT_TRUE(told.wait_failed());
        }
        disk.sync_gives = 0;
        const auto told = verified(scratch.file());
        ASSERT_EQ(told.findings, Words{}) << n;
        ASSERT_EQ(told.head.last, static_cast<std::int64_t>(n));
    }
    EXPECT_GT(verified(scratch.file()).unconfirmed, 0);
}

TEST(Verify, RefusesWhatHasNoChain) {
    const Scratch scratch;
    const auto words = [](const std::string& path) {
        const auto told = verify(path, {});
        return told ? std::string("taken") : told.error().message;
    };
    EXPECT_NE(words(scratch.file("absent")).find("does not exist"), std::string::npos);
    std::ofstream(scratch.file("text")) << std::string(5000, 'x');
    EXPECT_NE(words(scratch.file("text")).find("is not a journal"), std::string::npos);
    sql(scratch.file("other"), "CREATE TABLE something (x)");
    EXPECT_NE(words(scratch.file("other")).find("another kind"), std::string::npos);
    sql(scratch.file("newer"), "PRAGMA application_id = 0x73746D6B; CREATE TABLE meta (key TEXT, value TEXT); INSERT "
                               "INTO meta VALUES ('format', '3'); CREATE TABLE links (x)");
    EXPECT_NE(words(scratch.file("newer")).find("use a newer stillmark"), std::string::npos);
}

// Tables as format 1 has them, filled as its writer filled them.
void fill_format_1(const std::string& path) {
    fill(path, 60, std::nullopt);
    sql(path, R"(
        PRAGMA foreign_keys = OFF;
        ALTER TABLE meta RENAME TO m; ALTER TABLE events RENAME TO e; ALTER TABLE blocks RENAME TO b;
        CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;
        CREATE TABLE events (number INTEGER PRIMARY KEY, at_us INTEGER NOT NULL, body TEXT NOT NULL) STRICT;
        CREATE TABLE blocks (first_number INTEGER PRIMARY KEY, channel INTEGER NOT NULL, columns BLOB NOT NULL) STRICT;
        INSERT INTO meta SELECT key, value FROM m WHERE key = 'created';
        INSERT INTO meta VALUES ('format', '1'), ('unconfirmed', '4');
        INSERT INTO events SELECT number, at_us, body FROM e;
        INSERT INTO blocks SELECT first_number, channel, columns FROM b;
        DROP TABLE m; DROP TABLE e; DROP TABLE b; DROP TABLE links; DROP TABLE checkpoints; VACUUM;)");
}

TEST(Format1, IsReadAsBeforeAndChainedByTheNextWriter) {
    const Scratch scratch;
    fill_format_1(scratch.file());
    const auto before = everything(scratch.file());
    ASSERT_TRUE(before) << before.error().message;
    EXPECT_EQ(before->order.size(), 600U);
    const auto refused = verify(scratch.file(), {});
    ASSERT_FALSE(refused);
    EXPECT_NE(refused.error().message.find("format 1, which has no chain"), std::string::npos);
    const std::string copy = scratch.file("copy");
    ASSERT_TRUE(back_up(scratch.file(), copy, false));

    fill(scratch.file(), 1);
    const auto told = verify(scratch.file(), {}, Pages::every_one).value();
    EXPECT_EQ(told.findings, Words{});
    EXPECT_EQ(told.pages, Words{});
    EXPECT_EQ(told.chained_after, 600);
    EXPECT_EQ(told.unconfirmed, 4);
    EXPECT_EQ(told.readings, 540U + 9U);
    EXPECT_EQ(everything(scratch.file())->order.size(), 610U);
    EXPECT_EQ(compare(scratch.file(), copy)->outcome, Comparison::Outcome::other_is_beginning);

    sql(scratch.file(), "UPDATE events SET body = '{}' WHERE number = 300");
    EXPECT_EQ(findings(scratch.file()), Words{"event 300: it is not what was written"});
}

TEST(Format1, WithoutAnythingInItIsChainedToo) {
    const Scratch scratch;
    fill_format_1(scratch.file());
    sql(scratch.file(), "DELETE FROM events; DELETE FROM blocks");
    fill(scratch.file(), 1);
    EXPECT_EQ(findings(scratch.file()), Words{});
}

// A strange program's verdict on the same file: tests/journal/verify_by_python.py knows FORMAT.md only.
TEST(Chain2, APythonProgramByTheFormatAloneAgrees) {
    const Scratch scratch;
    fill(scratch.file(), 30);
    fill(scratch.file(), 3);
    std::ofstream(scratch.file("key.pub")) << the_key().public_key().pem();
    const auto said = [&scratch](const std::string& more) {
        const std::string command = "/usr/bin/python3 " STILLMARK_SOURCE_DIR "/tests/journal/verify_by_python.py " +
                                    scratch.file() + " " + more + " 2>&1";
        std::string text;
        FILE* pipe = ::popen(command.c_str(), "r");
        std::array<char, 1024> part{};
        while (pipe != nullptr && std::fgets(part.data(), part.size(), pipe) != nullptr)
            text += part.data();
        if (pipe != nullptr) ::pclose(pipe);
        return text;
    };
    const auto told = verified(scratch.file());
    EXPECT_EQ(said(scratch.file("key.pub")),
              fmt::format("as written: {} links, {} checkpoints, digest at number {}: {}\n", told.links,
                          told.checkpoints, told.head.last, seal::hex(told.head.digest)));
    std::ofstream(scratch.file("other.pub")) << seal::PrivateKey::make()->public_key().pem();
    EXPECT_EQ(said(scratch.file("other.pub")), "not as written: checkpoint 0\n");
    sql(scratch.file(), "UPDATE blocks SET channel = 9 WHERE first_number = 43");
    EXPECT_EQ(said(""), "not as written: row 43\n");
}

TEST(Compare, SaysWhatTwoJournalsShare) {
    const Scratch scratch;
    fill(scratch.file(), 3);
    const std::string copy = scratch.file("copy"), later = scratch.file("later");
    ASSERT_TRUE(back_up(scratch.file(), copy, false));
    using Outcome = Comparison::Outcome;
    EXPECT_EQ(compare(scratch.file(), copy)->outcome, Outcome::identical);
    EXPECT_EQ(compare(scratch.file(), copy)->alike, 12U);
    fill(scratch.file(), 1);
    EXPECT_EQ(compare(scratch.file(), copy)->outcome, Outcome::other_is_beginning);
    EXPECT_EQ(compare(copy, scratch.file())->outcome, Outcome::this_is_beginning);
    EXPECT_EQ(compare(copy, scratch.file())->words, "this one ends after number 30");
    sql(copy, "UPDATE events SET body = '{}' WHERE number = 10");
    EXPECT_EQ(compare(scratch.file(), copy)->words, "event 10 differs");
    sql(copy, "UPDATE events SET body = '{\"kind\":\"test\"}' WHERE number = 10");
    sql(copy, "UPDATE events SET at_us = 1 WHERE number = 20");
    EXPECT_EQ(compare(scratch.file(), copy)->words, "event 20 differs");
    EXPECT_EQ(compare(scratch.file(), copy)->outcome, Outcome::different);
    sql(copy, "DELETE FROM events WHERE number = 20");
    EXPECT_EQ(compare(scratch.file(), copy)->words, "event 20 stands in this one only");
    // The same events in another journal.
    fill(later, 4);
    EXPECT_EQ(compare(scratch.file(), later)->words, "meta differs: they were not made as one journal");
}

TEST(Backup, IsOneFileAndOverwritesNothingUnasked) {
    const Scratch scratch;
    Told told;
    auto opened = signing_writer(scratch.file(), told);
    ASSERT_TRUE(opened->append(event(1)));
    ASSERT_TRUE(told.wait_durable(1));
    const std::string copy = scratch.file("copy");
    const auto made = back_up(scratch.file(), copy, false);
    ASSERT_TRUE(made) << made.error().message;
    EXPECT_EQ(made->last_number, 1U);
    EXPECT_EQ(made->bytes, std::filesystem::file_size(copy));
    EXPECT_FALSE(std::filesystem::exists(copy + "-wal"));
    EXPECT_EQ(findings(copy), Words{});
    const auto again = back_up(scratch.file(), copy, false);
    ASSERT_FALSE(again);
    EXPECT_EQ(again.error().message, copy + ": is there already and stays as it is; give another path, or --replace");
    ASSERT_TRUE(opened->append(event(2)));
    ASSERT_TRUE(told.wait_durable(2));
    EXPECT_EQ(back_up(scratch.file(), copy, true)->last_number, 2U);
    EXPECT_EQ(verified(copy).head.last, 2);
    EXPECT_FALSE(back_up(scratch.file(), scratch.file(), true));
    EXPECT_FALSE(back_up(scratch.file(), scratch.file("no/folder"), true));
    EXPECT_FALSE(back_up(scratch.file("absent"), scratch.file("copy2"), true));
    // A copy may not take the place of a journal that is open.
    const auto into = back_up(copy, scratch.file(), true);
    ASSERT_FALSE(into);
    EXPECT_NE(into.error().message.find("is open in another program"), std::string::npos);
    opened.reset();
    std::size_t files = 0;
    for (const auto& one : std::filesystem::directory_iterator(std::filesystem::path(copy).parent_path()))
        if (const auto name = one.path().filename().string(); name != "copy" && !name.starts_with("x.journal")) ++files;
    EXPECT_EQ(files, 0U) << "something was left beside it";
}

TEST(Backup, IsOneStateWhileAServiceWritesAndComesToAnEnd) {
    const Scratch scratch;
    fill(scratch.file(), 200);
    std::atomic<bool> enough = false;
    std::thread service([&scratch, &enough] {
        Told told;
        auto opened = JournalWriter::open(scratch.file(), told.sinks(), {}, the_key());
        for (std::uint64_t n = 2001; opened && !enough; ++n) {
            (*opened)->append(event(n));
            told.wait_durable(n);
        }
    });
    std::uint64_t last = 2000;
    for (int round = 0; round < 20; ++round) {
        const std::string copy = scratch.file("copy" + std::to_string(round));
        const auto made = back_up(scratch.file(), copy, false);
        ASSERT_TRUE(made) << made.error().message;
        EXPECT_GE(made->last_number, last);
        last = made->last_number;
        const auto told = verified(copy);
        EXPECT_EQ(told.findings, Words{});
        EXPECT_EQ(told.head.last, static_cast<std::int64_t>(last));
        EXPECT_NE(compare(copy, scratch.file())->outcome, Comparison::Outcome::different);
    }
    EXPECT_GT(last, 2000U);
    enough = true;
    service.join();
    EXPECT_EQ(findings(scratch.file()), Words{});
}

} // namespace
} // namespace stillmark::journal::testing
