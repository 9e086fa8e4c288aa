// Single bytes changed anywhere in a journal's file, a thousand of them in what is stored: each is found and named, and
// what only lies in unused space of the file is told apart. What a change did to the contents is judged by plain
// SQLite, not by the code that is tested.
#include "daemon/journal/backup.hpp"
#include "daemon/journal/verify.hpp"
#include "journal/scratch.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <fstream>
#include <map>
#include <optional>
#include <random>

namespace stillmark::journal::testing {
namespace {

/// Every value of every table with its type, by the name under which a finding should tell it; nothing where SQLite
/// cannot read the file.
std::optional<std::map<std::string, std::string>> contents(const std::string& path) {
    sqlite3* base = nullptr;
    sqlite3_open_v2(path.c_str(), &base, SQLITE_OPEN_READONLY, nullptr);
    std::map<std::string, std::string> found;
    const auto add = [base, &found](const char* sql) {
        sqlite3_stmt* rows = nullptr;
        if (sqlite3_prepare_v2(base, sql, -1, &rows, nullptr) != SQLITE_OK) return false;
        int code = SQLITE_ROW;
        int place = 0;
        while ((code = sqlite3_step(rows)) == SQLITE_ROW) {
            std::string row = std::to_string(place++);
            for (int i = 1; i < sqlite3_column_count(rows); ++i) {
                const int type = sqlite3_column_type(rows, i);
                const auto* bytes = static_cast<const char*>(sqlite3_column_blob(rows, i));
                row += fmt::format("|{}:", type) + std::string(bytes != nullptr ? bytes : "",
                                                               static_cast<std::size_t>(sqlite3_column_bytes(rows, i)));
            }
            const auto* name = reinterpret_cast<const char*>(sqlite3_column_text(rows, 0));
            found[name != nullptr ? name : ""] += row;
        }
        sqlite3_finalize(rows);
        return code == SQLITE_DONE;
    };
    // By rows and not by order: what stands in another place has another place number in its text.
    const bool whole =
        add("SELECT 'event ' || number, number, at_us, body, tag FROM events") &&
        add("SELECT 'block ' || first_number || ' of channel ' || channel, first_number, channel, columns, tag FROM "
            "blocks") &&
        add("SELECT 'link ' || link, link, last, unconfirmed, digest FROM links") &&
        add("SELECT 'checkpoint of link ' || link, link, utc_us, key, signature FROM checkpoints") &&
        add("SELECT 'table meta', key, value FROM meta") &&
        add("SELECT type || ' ' || name, type, name, tbl_name, sql FROM sqlite_schema") &&
        add("SELECT 'application id', application_id FROM pragma_application_id");
    sqlite3_close(base);
    if (!whole) return std::nullopt;
    return found;
}

std::string bytes_of_file(const std::string& path) {
    std::ifstream file(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(file), {}};
}

/// What one who read the file may have left there.
void clear_beside(const std::string& path) {
    for (const char* end : {"-wal", "-shm", "-journal"})
        std::filesystem::remove(path + end);
}

/// In place: a file that is written anew each time is forced to the disk each time.
void put_byte(const std::string& path, std::size_t at, char byte) {
    clear_beside(path);
    std::fstream file(path, std::ios::binary | std::ios::in | std::ios::out);
    file.seekp(static_cast<std::streamoff>(at));
    file.put(byte);
}

/// A journal of some size with everything in it: events long and short, blocks of many and of single readings.
void write_journal(const std::string& path) {
    Told told;
    WriterLimits limits;
    limits.ride_along = 1h;
    auto opened = std::move(JournalWriter::open(path, told.sinks(), limits, seal::PrivateKey::make().value()).value());
    std::mt19937_64 draw(7);
    for (std::uint64_t n = 1; n <= 3000; ++n) {
        const bool is_event = draw() % 60 == 0;
        ASSERT_TRUE(is_event ? opened->append(event(n, std::string(1 + draw() % (n % 7 == 0 ? 6000 : 90), 'a')))
                             : opened->append(reading(n, 5)));
        if (is_event) {
            ASSERT_TRUE(told.wait_durable(n));
        }
    }
}

/// The one row that was changed, where it is one.
std::optional<std::string> changed_row(const std::map<std::string, std::string>& before,
                                       const std::map<std::string, std::string>& after) {
    if (before.size() != after.size()) return std::nullopt;
    std::optional<std::string> changed;
    for (const auto& [name, row] : before) {
        const auto found = after.find(name);
        if (found == after.end()) return std::nullopt;
        if (found->second == row) continue;
        if (changed) return std::nullopt;
        changed = name;
    }
    return changed;
}

/// A quarter of the thousand each, with draws of its own.
class TamperedByte : public ::testing::TestWithParam<int> {};
INSTANTIATE_TEST_SUITE_P(Quarter, TamperedByte, ::testing::Range(1, 5));

TEST_P(TamperedByte, OfAThousandIsFoundAndNamed) {
    const Scratch scratch;
    write_journal(scratch.file("written"));
    // A copy is not in write-ahead mode, so that nothing is made beside it each time.
    ASSERT_TRUE(back_up(scratch.file("written"), scratch.file(), false));
    const std::string sound = bytes_of_file(scratch.file());
    const auto before = contents(scratch.file());
    ASSERT_TRUE(before);
    ASSERT_GT(before->size(), 250U);
    const std::string path = scratch.file("tampered");
    std::filesystem::copy_file(scratch.file(), path);
    std::mt19937_64 draw(static_cast<std::uint64_t>(20260100 + GetParam()));
    int changed = 0, unused = 0, unreadable = 0, named_exactly = 0;
    for (int tries = 0; changed < 250 && tries < 5000; ++tries) {
        const std::size_t at = draw() % sound.size();
        const auto other = static_cast<char>(sound[at] ^ static_cast<char>(1 + draw() % 255));
        const std::string what = fmt::format("byte {} from {:02x} to {:02x}", at, static_cast<unsigned char>(sound[at]),
                                             static_cast<unsigned char>(other));
        put_byte(path, at, other);
        const auto after = contents(path);
        clear_beside(path);
        const auto told = verify(path, {});
        put_byte(path, at, sound[at]);
        ASSERT_TRUE(told) << what << ": " << told.error().message;
        if (after == before) {
            ++unused;
            ASSERT_EQ(told->findings, std::vector<std::string>{}) << what << ", which changed no content";
            continue;
        }
        ++changed;
        ASSERT_GT(told->found, 0U) << what << " was not found";
        ASSERT_FALSE(told->findings.empty()) << what;
        if (!after) {
            ++unreadable;
            continue;
        }
        const auto row = changed_row(*before, *after);
        if (!row) continue;
        ++named_exactly;
        const bool named = std::ranges::any_of(told->findings, [&row](const std::string& finding) {
            // A checkpoint or a link that was changed may be told by its own name or by its link's.
            return finding.find(*row) != std::string::npos ||
                   (row->starts_with("link ") && finding.find("(" + *row + ")") != std::string::npos) ||
                   (*row == "application id" && finding.find(*row) != std::string::npos);
        });
        ASSERT_TRUE(named) << what << " changed " << *row << ", told was: " << fmt::format("{}", told->findings);
    }
    EXPECT_EQ(changed, 250);
    EXPECT_GT(unused, 10);
    EXPECT_GT(named_exactly, 200);
    std::printf("%d changes of content found (%d of them made a page unreadable, %d of one row named), %d in unused "
                "space told apart\n",
                changed, unreadable, named_exactly, unused);
}

// Every byte of the file's header in turn: it holds marks and counters, and what makes the file unreadable.
TEST(Tampered, TheFilesHeaderIsReadWithoutSurprise) {
    const Scratch scratch;
    write_journal(scratch.file());
    const std::string sound = bytes_of_file(scratch.file());
    const auto before = contents(scratch.file());
    const std::string path = scratch.file("tampered");
    std::filesystem::copy_file(scratch.file(), path);
    for (std::size_t at = 0; at < 100; ++at)
        for (const unsigned mask : {0x01U, 0x80U, 0xFFU}) {
            put_byte(path, at, static_cast<char>(static_cast<unsigned char>(sound[at]) ^ mask));
            const bool same = contents(path) == before;
            clear_beside(path);
            const auto told = verify(path, {});
            put_byte(path, at, sound[at]);
            ASSERT_TRUE(told) << at << ": " << told.error().message;
            EXPECT_EQ(told->found == 0, same) << at << ": " << fmt::format("{}", told->findings);
        }
}

// The kind of a value is one bit beside it: the rows of meta, of the schema and of the first links, bit by bit.
TEST(Tampered, AnotherKindOfValueIsFoundEverywhere) {
    const Scratch scratch;
    write_journal(scratch.file());
    const std::string sound = bytes_of_file(scratch.file());
    const auto before = contents(scratch.file());
    const std::string path = scratch.file("tampered");
    std::filesystem::copy_file(scratch.file(), path);
    int changed = 0;
    for (const std::size_t end : {4096U, 8192U})
        for (std::size_t at = end - 300; at < end; ++at) {
            put_byte(path, at, static_cast<char>(static_cast<unsigned char>(sound[at]) ^ 1U));
            const bool same = contents(path) == before;
            clear_beside(path);
            const auto told = verify(path, {});
            put_byte(path, at, sound[at]);
            ASSERT_TRUE(told) << at << ": " << told.error().message;
            EXPECT_EQ(told->found == 0, same) << at << ": " << fmt::format("{}", told->findings);
            changed += same ? 0 : 1;
        }
    EXPECT_GT(changed, 350);
}

} // namespace
} // namespace stillmark::journal::testing
