#include "daemon/journal/layout.hpp"

#include "daemon/journal/block.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <limits>

namespace stillmark::journal {
namespace {

// "stmk" in ASCII, so that a journal is told from any other SQLite file.
constexpr std::int64_t application_id = 0x73746D6B;

constexpr const char* tables = R"(
    PRAGMA application_id = 0x73746D6B;
    CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;
    CREATE TABLE events (number INTEGER PRIMARY KEY, at_us INTEGER NOT NULL, body TEXT NOT NULL) STRICT;
    CREATE TABLE blocks (first_number INTEGER PRIMARY KEY, channel INTEGER NOT NULL, columns BLOB NOT NULL) STRICT;
)";

JournalResult<void> set(Database& database, std::string_view key, std::string_view value) {
    auto insert = database.prepare("INSERT INTO meta VALUES (?, ?)");
    if (!insert) return insert.error();
    insert->bind(1, key);
    insert->bind(2, value);
    if (auto done = insert->step(); !done) return done.error();
    return {};
}

JournalResult<void> fill_empty_file(Database& database) {
    if (auto made = database.run(tables); !made) return made;
    if (auto made = set(database, "format", std::to_string(format_version)); !made) return made;
    if (auto made = set(database, "unconfirmed", "0"); !made) return made;
    const auto now = std::chrono::time_point_cast<std::chrono::seconds>(std::chrono::system_clock::now());
    return set(database, "created", fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", now));
}

JournalResult<void> use_write_ahead_log(Database& database) {
    auto mode = database.prepare("PRAGMA journal_mode = WAL");
    if (!mode) return mode.error();
    const auto row = mode->step();
    if (!row) return row.error();
    if (mode->text(0) != "wal")
        return database.error("its file system has no shared memory, which a write-ahead log needs; put the journal on "
                              "a local disk");
    mode->reset();
    return database.run("PRAGMA synchronous = FULL");
}

} // namespace

JournalResult<void> make_ready_to_write(Database& database) {
    const auto objects = database.ask("SELECT count(*) FROM sqlite_schema");
    if (!objects) return objects.error();
    // A file of another kind is refused before anything in it is changed.
    if (*objects > 0) {
        if (auto known = recognise(database); !known) return known;
    }
    if (auto logged = use_write_ahead_log(database); !logged || *objects > 0) return logged;

    // One transaction, so that a crash while the journal is made leaves an empty file and never half a journal.
    if (auto begun = database.run("BEGIN IMMEDIATE"); !begun) return begun;
    if (auto filled = fill_empty_file(database); !filled) {
        (void)database.run("ROLLBACK");
        return filled;
    }
    return database.run("COMMIT");
}

JournalResult<void> recognise(const Database& database) {
    const auto kind = database.ask("PRAGMA application_id");
    if (!kind) return kind.error();
    if (*kind != application_id)
        return database.error("is an SQLite file of another kind; give the path of a journal, or of a file that does "
                              "not exist yet");
    auto format = database.prepare("SELECT value FROM meta WHERE key = 'format'");
    if (!format) return format.error();
    const auto row = format->step();
    if (!row) return row.error();
    const std::string found = *row ? std::string(format->text(0)) : "none";
    if (found == std::to_string(format_version)) return {};
    return database.error(fmt::format("is a journal of format {}; this build reads up to {}; use a newer stillmark",
                                      found, format_version));
}

JournalResult<std::uint64_t> last_number_in(Database& database) {
    const auto event = database.ask("SELECT max(number) FROM events");
    if (!event) return event.error();
    const auto block = database.ask("SELECT max(first_number) FROM blocks");
    if (!block) return block.error();
    auto last = static_cast<std::uint64_t>(std::max<std::int64_t>({*event, *block, 0}));
    // The last reading may stand in a block that began before the last block did.
    auto blocks = database.prepare("SELECT first_number, channel, columns FROM blocks WHERE first_number > ?");
    if (!blocks) return blocks.error();
    blocks->bind(1, *block - static_cast<std::int64_t>(block_span));
    std::vector<ReadingRecord> readings;
    for (;;) {
        const auto row = blocks->step();
        if (!row) return row.error();
        if (!*row) return last;
        if (auto decoded = decode_row(database, *blocks, readings); !decoded) return decoded.error();
        last = std::max(last, readings.back().number);
    }
}

JournalResult<void> decode_row(const Database& database, const Statement& row, std::vector<ReadingRecord>& readings) {
    const std::int64_t first = row.integer(0);
    const std::int64_t channel = row.integer(1);
    const char* wrong = "a channel outside 32 bits";
    if (channel >= 0 && channel <= std::numeric_limits<std::uint32_t>::max())
        wrong =
            decode_block(static_cast<std::uint64_t>(first), static_cast<std::uint32_t>(channel), row.blob(2), readings);
    if (wrong == nullptr) return {};
    return database.error(
        fmt::format("block {} of channel {} breaks the format ({}); use an undamaged copy", first, channel, wrong));
}

} // namespace stillmark::journal
