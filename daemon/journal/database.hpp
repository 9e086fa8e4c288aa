#pragma once

#include "daemon/journal/journal.hpp"

#include <chrono>
#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <string_view>

struct sqlite3;
struct sqlite3_stmt;

namespace stillmark::journal {

class Database;

/// One prepared statement. What is bound must outlive the next step().
class Statement {
  public:
    Statement() = default;
    Statement(const Database& database, sqlite3_stmt* statement) : database_(&database), statement_(statement) {}

    void bind(int place, std::uint64_t value);
    void bind(int place, std::int64_t value);
    void bind(int place, std::string_view text);
    void bind(int place, std::span<const std::uint8_t> blob);

    /// True: a row is there to read. False: done, and reset for the next use.
    JournalResult<bool> step();
    void reset();

    /// Columns of the present row, counted from 0. Views last until the next step.
    enum class Stored : std::uint8_t { integer, real, text, blob, nothing };
    Stored stored(int column) const; ///< to be asked before the value, which may be converted
    std::int64_t integer(int column) const;
    std::string_view text(int column) const;
    std::span<const std::uint8_t> blob(int column) const;

  private:
    struct Finalizer {
        void operator()(sqlite3_stmt* statement) const;
    };
    const Database* database_ = nullptr;
    std::unique_ptr<sqlite3_stmt, Finalizer> statement_;
};

/// One connection to the file of a journal, used by one thread at a time.
class Database {
  public:
    enum class Access : std::uint8_t { read, write };

    /// `busy` is how long a step waits for a lock that another program holds.
    static JournalResult<std::unique_ptr<Database>> open(const std::string& path, Access access,
                                                         std::chrono::milliseconds busy);

    /// One without a file, to hold a file's tables against.
    static JournalResult<std::unique_ptr<Database>> in_memory();

    JournalResult<void> run(const char* sql);
    JournalResult<Statement> prepare(std::string_view sql) const;
    /// The first column of the first row; 0 where there is none.
    JournalResult<std::int64_t> ask(std::string_view sql) const;

    /// What the last call ran into, in words: path, finding, remedy.
    JournalError trouble() const;
    /// An error about this file: "path: words".
    JournalError error(std::string_view words) const;
    const std::string& path() const { return path_; }
    /// For what SQLite alone can do with a whole file. It stays this database's.
    sqlite3* connection() const { return connection_.get(); }

  private:
    struct Closer {
        void operator()(sqlite3* connection) const;
    };
    Database(std::string path, sqlite3* connection) : path_(std::move(path)), connection_(connection) {}

    std::string path_;
    std::unique_ptr<sqlite3, Closer> connection_;
};

/// Keeps one snapshot of the file from its making to its end, while a service goes on writing.
class Snapshot {
  public:
    static JournalResult<Snapshot> of(Database& database);
    Snapshot(Snapshot&& other) noexcept : database_(std::exchange(other.database_, nullptr)) {}
    Snapshot& operator=(Snapshot&&) = delete;
    ~Snapshot();

  private:
    explicit Snapshot(Database& database) : database_(&database) {}
    Database* database_;
};

} // namespace stillmark::journal
