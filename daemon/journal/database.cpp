#include "daemon/journal/database.hpp"

#include <fmt/format.h>
#include <sqlite3.h>

#include <cstring>
#include <filesystem>

namespace stillmark::journal {
namespace {

// A journal on a read-only medium cannot be opened as usual, because readers and writer agree through a file beside it.
// With no write-ahead log there, nobody is writing, and the file may be read as unchanging.
std::string unchanging(const std::string& path) {
    std::string uri = "file:";
    for (const char c : path) {
        const bool plain = (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || c == '/' ||
                           c == '.' || c == '-' || c == '_';
        uri += plain ? std::string(1, c) : fmt::format("%{:02X}", static_cast<unsigned char>(c));
    }
    return uri + "?immutable=1";
}

bool nothing_in_log(const std::filesystem::path& path) {
    std::error_code wrong;
    const auto size = std::filesystem::file_size(path.string() + "-wal", wrong);
    return wrong == std::errc::no_such_file_or_directory || (!wrong && size == 0);
}

std::string remedy_for(int code, const char* found, int system_error) {
    switch (code) {
    case SQLITE_FULL:
        return "the disk is full; free some space there, then go on";
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return "is locked by another program; close that program, then go on";
    case SQLITE_CANTOPEN:
    case SQLITE_PERM:
    case SQLITE_AUTH:
    case SQLITE_READONLY:
        return fmt::format("cannot be opened or written ({}); give the user of this program permission to write the "
                           "file and its folder",
                           system_error != 0 ? std::strerror(system_error) : found);
    case SQLITE_IOERR:
        return fmt::format("the disk failed ({}); check the disk, then go on",
                           system_error != 0 ? std::strerror(system_error) : found);
    case SQLITE_NOTADB:
        return "is not a journal; give the path of a journal, or of a file that does not exist yet";
    case SQLITE_CORRUPT:
        return fmt::format("is damaged ({}); keep a copy, and go on with a new journal", found);
    default:
        return fmt::format("{}; keep a copy, and go on with a new journal", found);
    }
}

} // namespace

void Statement::Finalizer::operator()(sqlite3_stmt* statement) const {
    sqlite3_finalize(statement);
}

void Statement::bind(int place, std::uint64_t value) {
    bind(place, static_cast<std::int64_t>(value));
}
void Statement::bind(int place, std::int64_t value) {
    sqlite3_bind_int64(statement_.get(), place, value);
}
void Statement::bind(int place, std::string_view text) {
    sqlite3_bind_text64(statement_.get(), place, text.data(), text.size(), SQLITE_STATIC, SQLITE_UTF8);
}
void Statement::bind(int place, std::span<const std::uint8_t> blob) {
    sqlite3_bind_blob64(statement_.get(), place, blob.data(), blob.size(), SQLITE_STATIC);
}

JournalResult<bool> Statement::step() {
    const int code = sqlite3_step(statement_.get());
    if (code == SQLITE_ROW) return true;
    if (code == SQLITE_DONE) {
        sqlite3_reset(statement_.get());
        return false;
    }
    JournalError error = database_->trouble();
    sqlite3_reset(statement_.get());
    return error;
}

void Statement::reset() {
    sqlite3_reset(statement_.get());
}

Statement::Stored Statement::stored(int column) const {
    switch (sqlite3_column_type(statement_.get(), column)) {
    case SQLITE_INTEGER:
        return Stored::integer;
    case SQLITE_FLOAT:
        return Stored::real;
    case SQLITE_TEXT:
        return Stored::text;
    case SQLITE_BLOB:
        return Stored::blob;
    default:
        return Stored::nothing;
    }
}

std::int64_t Statement::integer(int column) const {
    return sqlite3_column_int64(statement_.get(), column);
}

std::string_view Statement::text(int column) const {
    const auto* text = reinterpret_cast<const char*>(sqlite3_column_text(statement_.get(), column));
    if (text == nullptr) return {};
    return {text, static_cast<std::size_t>(sqlite3_column_bytes(statement_.get(), column))};
}

std::span<const std::uint8_t> Statement::blob(int column) const {
    const auto* blob = static_cast<const std::uint8_t*>(sqlite3_column_blob(statement_.get(), column));
    return {blob, static_cast<std::size_t>(sqlite3_column_bytes(statement_.get(), column))};
}

void Database::Closer::operator()(sqlite3* connection) const {
    sqlite3_close_v2(connection);
}

JournalResult<std::unique_ptr<Database>> Database::open(const std::string& path, Access access,
                                                        std::chrono::milliseconds busy) {
    // Made absolute, because SQLite gives names such as ":memory:" a meaning of their own.
    std::error_code wrong;
    const std::filesystem::path absolute = std::filesystem::absolute(path, wrong);
    if (path.empty() || wrong) return JournalError{"no journal named; give the path of one"};
    if (std::filesystem::is_directory(absolute, wrong))
        return JournalError{path + ": is a folder; give the path of a file in it"};
    if (access == Access::read && !std::filesystem::exists(absolute, wrong))
        return JournalError{path + ": does not exist; give the path of a journal"};
    if (access == Access::write && !std::filesystem::is_directory(absolute.parent_path(), wrong))
        return JournalError{
            fmt::format("{}: there is no folder {}; make it first", path, absolute.parent_path().string())};

    const auto connect = [&](const std::string& name, int flags) {
        sqlite3* connection = nullptr;
        sqlite3_open_v2(name.c_str(), &connection, flags | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_EXRESCODE, nullptr);
        auto database = std::unique_ptr<Database>(new Database(path, connection));
        // A file from elsewhere may not run functions of its own choice through its schema.
        sqlite3_db_config(connection, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr);
        sqlite3_busy_timeout(connection, static_cast<int>(busy.count()));
        return database;
    };
    const auto readable = [](const Database& database) { return database.ask("PRAGMA schema_version"); };

    auto database = access == Access::write ? connect(absolute, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE)
                                            : connect(absolute, SQLITE_OPEN_READONLY);
    auto first = readable(*database);
    const int code = sqlite3_errcode(database->connection_.get()) & 0xFF;
    if (!first && (code == SQLITE_CANTOPEN || code == SQLITE_READONLY) && access == Access::read &&
        nothing_in_log(absolute)) {
        database = connect(unchanging(absolute), SQLITE_OPEN_READONLY | SQLITE_OPEN_URI);
        first = readable(*database);
    }
    if (!first) return first.error();
    return database;
}

JournalResult<std::unique_ptr<Database>> Database::in_memory() {
    sqlite3* connection = nullptr;
    const int code = sqlite3_open_v2(":memory:", &connection, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, nullptr);
    auto database = std::unique_ptr<Database>(new Database("memory", connection));
    if (code != SQLITE_OK) return database->trouble();
    return database;
}

JournalResult<void> Database::run(const char* sql) {
    if (sqlite3_exec(connection_.get(), sql, nullptr, nullptr, nullptr) != SQLITE_OK) return trouble();
    return {};
}

JournalResult<Statement> Database::prepare(std::string_view sql) const {
    sqlite3_stmt* statement = nullptr;
    if (sqlite3_prepare_v3(connection_.get(), sql.data(), static_cast<int>(sql.size()), SQLITE_PREPARE_PERSISTENT,
                           &statement, nullptr) != SQLITE_OK)
        return trouble();
    return Statement(*this, statement);
}

JournalResult<std::int64_t> Database::ask(std::string_view sql) const {
    auto statement = prepare(sql);
    if (!statement) return statement.error();
    const auto row = statement->step();
    if (!row) return row.error();
    return *row ? statement->integer(0) : 0;
}

JournalError Database::trouble() const {
    sqlite3* connection = connection_.get();
    return error(
        remedy_for(sqlite3_errcode(connection) & 0xFF, sqlite3_errmsg(connection), sqlite3_system_errno(connection)));
}

JournalError Database::error(std::string_view words) const {
    return {fmt::format("{}: {}", path_, words)};
}

JournalResult<Snapshot> Snapshot::of(Database& database) {
    if (auto begun = database.run("BEGIN"); !begun) return begun.error();
    return Snapshot(database);
}

Snapshot::~Snapshot() {
    if (database_ != nullptr) (void)database_->run("ROLLBACK");
}

} // namespace stillmark::journal
