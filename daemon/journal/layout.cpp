#include "daemon/journal/layout.hpp"

#include "daemon/journal/block.hpp"
#include "daemon/journal/chain.hpp"
#include "daemon/journal/chain_writer.hpp"
#include "daemon/journal/rows.hpp"

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
    CREATE TABLE events (number INTEGER PRIMARY KEY, at_us INTEGER NOT NULL, body TEXT NOT NULL, tag BLOB NOT NULL) STRICT;
    CREATE TABLE blocks (first_number INTEGER PRIMARY KEY, channel INTEGER NOT NULL, columns BLOB NOT NULL, tag BLOB NOT NULL) STRICT;
    CREATE TABLE links (link INTEGER PRIMARY KEY, last INTEGER NOT NULL, unconfirmed INTEGER NOT NULL, digest BLOB NOT NULL) STRICT;
    CREATE TABLE checkpoints (link INTEGER PRIMARY KEY, utc_us INTEGER NOT NULL, key BLOB NOT NULL, signature BLOB NOT NULL) STRICT;
)";

JournalResult<void> set(Database& database, std::string_view key, std::string_view value) {
    auto insert = database.prepare("INSERT INTO meta VALUES (?, ?)");
    if (!insert) return insert.error();
    insert->bind(1, key);
    insert->bind(2, value);
    if (auto done = insert->step(); !done) return done.error();
    return {};
}

JournalResult<std::string> meta_value(const Database& database, std::string_view key) {
    auto found = database.prepare("SELECT value FROM meta WHERE key = ?");
    if (!found) return found.error();
    found->bind(1, key);
    const auto row = found->step();
    if (!row) return row.error();
    return {boost::system::in_place_value, *row ? found->text(0) : std::string_view()};
}

/// From here on nothing in the table meta changes: link 0 is its digest.
JournalResult<void> begin_chain(Database& database) {
    const auto identity = seal::random_bytes(std::tuple_size_v<JournalIdentity>);
    if (!identity) return database.error("cannot be given an identity: the system has no random bytes; start again");
    if (auto made = set(database, "format", std::to_string(format_version)); !made) return made;
    if (auto made = set(database, "identity", seal::hex(*identity)); !made) return made;
    const auto digest = digest_of_meta(database);
    if (!digest) return digest.error();
    auto insert = database.prepare("INSERT INTO links VALUES (0, 0, 0, ?)");
    if (!insert) return insert.error();
    insert->bind(1, *digest);
    if (auto done = insert->step(); !done) return done.error();
    return {};
}

JournalResult<void> fill_empty_file(Database& database) {
    if (auto made = make_tables(database); !made) return made;
    const auto now = std::chrono::time_point_cast<std::chrono::seconds>(std::chrono::system_clock::now());
    if (auto made = set(database, "created", fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", now)); !made) return made;
    return begin_chain(database);
}

/// As many rows of format 1 share a link, so that a change among them is named closely.
constexpr int rows_a_link = 256;

JournalResult<void> link_format_1(const Database& database, ChainWriter& chain, std::int64_t last,
                                  std::int64_t unconfirmed) {
    auto rows = RowsInOrder::of(database, RowsInOrder::Tables{"events_1", "blocks_1", false});
    if (!rows) return rows.error();
    auto row = rows->peek();
    do {
        chain.begin();
        std::int64_t key = last;
        for (int i = 0; i < rows_a_link && row && *row != nullptr; ++i) {
            key = (*row)->number;
            if (auto put = chain.put(**row); !put) return put;
            if (auto popped = rows->pop(); !popped) return popped;
            row = rows->peek();
        }
        if (!row) return row.error();
        const bool is_last = *row == nullptr;
        if (auto ended = chain.end(is_last ? last : key, unconfirmed); !ended) return ended;
        chain.committed();
    } while (*row != nullptr);
    return {};
}

/// Chains what format 1 left: its rows get their tags in new tables, because a column that was added could hold none.
JournalResult<void> chain_format_1(Database& database) {
    const auto last = last_number_in(database);
    if (!last) return last.error();
    const auto created = meta_value(database, "created");
    if (!created) return created.error();
    const auto unconfirmed = database.ask("SELECT CAST(value AS INTEGER) FROM meta WHERE key = 'unconfirmed'");
    if (!unconfirmed) return unconfirmed.error();
    if (auto moved = database.run("ALTER TABLE meta RENAME TO meta_1; ALTER TABLE events RENAME TO events_1; ALTER "
                                  "TABLE blocks RENAME TO blocks_1");
        !moved)
        return moved;
    if (auto made = make_tables(database); !made) return made;
    if (auto made = set(database, "created", *created); !made) return made;
    if (auto made = set(database, "chained_after", std::to_string(*last)); !made) return made;
    if (auto begun = begin_chain(database); !begun) return begun;

    auto chain = ChainWriter::on(database);
    if (!chain) return chain.error();
    if (auto linked = link_format_1(database, *chain, static_cast<std::int64_t>(*last), *unconfirmed); !linked)
        return linked;
    return database.run("DROP TABLE meta_1; DROP TABLE events_1; DROP TABLE blocks_1");
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

JournalResult<void> make_tables(Database& database) {
    return database.run(tables);
}

JournalResult<std::vector<std::string>> objects_in(const Database& database) {
    auto rows = database.prepare("SELECT type || ' ' || name || ' of ' || tbl_name || ': ' || coalesce(sql, '') || ' ' "
                                 "|| typeof(type) || typeof(name) || typeof(tbl_name) || typeof(sql) "
                                 "FROM sqlite_schema ORDER BY 1");
    if (!rows) return rows.error();
    std::vector<std::string> found;
    for (;;) {
        const auto row = rows->step();
        if (!row) return row.error();
        if (!*row) return {boost::system::in_place_value, std::move(found)};
        found.emplace_back(rows->text(0));
    }
}

JournalResult<void> make_ready_to_write(Database& database) {
    const auto objects = database.ask("SELECT count(*) FROM sqlite_schema");
    if (!objects) return objects.error();
    // A file of another kind is refused before anything in it is changed.
    std::int64_t format = 0;
    if (*objects > 0) {
        const auto known = recognise(database);
        if (!known) return known.error();
        format = *known;
    }
    if (auto logged = use_write_ahead_log(database); !logged || format == format_version) return logged;

    // One transaction, so that a crash while the journal is made, or chained, leaves what was there and never half of
    // it.
    if (auto begun = database.run("BEGIN IMMEDIATE"); !begun) return begun;
    if (auto filled = format == 1 ? chain_format_1(database) : fill_empty_file(database); !filled) {
        (void)database.run("ROLLBACK");
        return filled;
    }
    return database.run("COMMIT");
}

bool is_marked_as_journal(const Database& database) {
    const auto kind = database.ask("PRAGMA application_id");
    return kind && *kind == application_id;
}

JournalResult<std::int64_t> recognise(const Database& database) {
    const auto kind = database.ask("PRAGMA application_id");
    if (!kind) return kind.error();
    if (*kind != application_id)
        return database.error("is an SQLite file of another kind; give the path of a journal, or of a file that does "
                              "not exist yet");
    auto found = meta_value(database, "format");
    if (!found) return found.error();
    for (std::int64_t known = 1; known <= format_version; ++known)
        if (*found == std::to_string(known)) return known;
    return database.error(fmt::format("is a journal of format {}; this build reads up to {}; use a newer stillmark",
                                      found->empty() ? "none" : *found, format_version));
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
