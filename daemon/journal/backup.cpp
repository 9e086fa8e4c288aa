#include "daemon/journal/backup.hpp"

#include "daemon/journal/database.hpp"
#include "daemon/journal/layout.hpp"
#include "daemon/seal/whole_file.hpp"

#include <fmt/format.h>
#include <sqlite3.h>

#include <cerrno>
#include <chrono>
#include <cstring>
#include <fcntl.h>
#include <filesystem>
#include <sys/stat.h>
#include <unistd.h>

namespace stillmark::journal {

namespace {

namespace fs = std::filesystem;

constexpr int pages_a_step = 4096;
constexpr int most_waits = 500; ///< for locks, each of 10 ms, over the whole copy

JournalError trouble(const std::string& path, const std::string& words) {
    return {fmt::format("{}: {}", path, words)};
}

std::string reason() {
    return std::strerror(errno);
}

/// The copy on its way: a file beside its goal, gone again unless it was put there.
class Unfinished {
  public:
    explicit Unfinished(const std::string& goal) : path_(goal + ".XXXXXX") {
        descriptor_ = ::mkostemp(path_.data(), O_CLOEXEC);
    }
    ~Unfinished() {
        if (descriptor_ < 0) return;
        ::close(descriptor_);
        std::error_code gone;
        for (const char* end : {"", "-wal", "-shm", "-journal"})
            fs::remove(path_ + end, gone);
    }
    Unfinished(const Unfinished&) = delete;
    Unfinished& operator=(const Unfinished&) = delete;
    bool is_there() const { return descriptor_ >= 0; }
    int descriptor() const { return descriptor_; }
    const std::string& path() const { return path_; }

  private:
    std::string path_;
    int descriptor_ = -1;
};

/// Every page as the source's snapshot has it. The source is read in one transaction, so that what a service writes
/// meanwhile cannot make the copy begin again.
JournalResult<void> copy_pages(const Database& source, const Database& copy) {
    sqlite3_backup* work = sqlite3_backup_init(copy.connection(), "main", source.connection(), "main");
    if (work == nullptr) return copy.trouble();
    int waits = 0;
    int code = SQLITE_OK;
    while (code == SQLITE_OK || ((code == SQLITE_BUSY || code == SQLITE_LOCKED) && waits < most_waits)) {
        if (code != SQLITE_OK) {
            ++waits;
            sqlite3_sleep(10);
        }
        code = sqlite3_backup_step(work, pages_a_step);
    }
    const int end = sqlite3_backup_finish(work);
    if (code == SQLITE_BUSY || code == SQLITE_LOCKED)
        return source.error("is locked by another program; close that program, then go on");
    if (code != SQLITE_DONE || end != SQLITE_OK)
        return trouble(copy.path(), fmt::format("the copy could not be written ({}); free some space there, or give "
                                                "another folder",
                                                sqlite3_errstr(code == SQLITE_DONE ? end : code)));
    return {};
}

/// A copy is a single file: not in write-ahead mode, for which two more would be made beside it. A service that takes
/// it up sets that mode again.
JournalResult<void> make_single(Database& copy) {
    auto mode = copy.prepare("PRAGMA journal_mode = DELETE");
    if (!mode) return mode.error();
    const auto row = mode->step();
    if (!row) return row.error();
    if (mode->text(0) != "delete") return copy.error("the copy cannot be closed to a single file; try again");
    return {};
}

/// What is being written by a service is no place for a copy.
JournalResult<void> may_be_replaced(const std::string& to, bool replace) {
    std::error_code error;
    const auto there = fs::symlink_status(to, error);
    if (!fs::exists(there)) return {};
    if (!fs::is_regular_file(there)) return trouble(to, "is no file; give the path of a file for the copy");
    if (!replace) return trouble(to, "is there already and stays as it is; give another path, or --replace");
    if (fs::exists(to + "-wal", error) || fs::exists(to + "-shm", error))
        return trouble(to, fmt::format("is open in another program, or was left by one that was killed ({}-wal is "
                                       "there); close that program and open it once with stillmarkd, or give another "
                                       "path",
                                       to));
    return {};
}

} // namespace

JournalResult<Backup> back_up(const std::string& path, const std::string& to, bool replace) {
    if (to.empty()) return JournalError{"no copy named; give the path of one"};
    std::error_code error;
    if (fs::equivalent(path, to, error)) return trouble(to, "is the journal itself; give another path");
    if (auto may = may_be_replaced(to, replace); !may) return may.error();
    auto source = Database::open(path, Database::Access::read, std::chrono::seconds(5));
    if (!source) return source.error();
    if (const auto known = recognise(**source); !known) return known.error();
    const auto snapshot = Snapshot::of(**source);
    if (!snapshot) return snapshot.error();
    const auto last = last_number_in(**source);
    if (!last) return last.error();

    const Unfinished copy(to);
    if (!copy.is_there())
        return trouble(
            to, fmt::format("no copy can be written there ({}); give a folder that this user may write in", reason()));
    struct stat status {};
    if (::stat(path.c_str(), &status) == 0) (void)::fchmod(copy.descriptor(), status.st_mode & 0777U);
    {
        auto target = Database::open(copy.path(), Database::Access::write, std::chrono::seconds(5));
        if (!target) return target.error();
        if (auto copied = copy_pages(**source, **target); !copied) return copied.error();
        if (auto single = make_single(**target); !single) return single.error();
    }
    if (::fsync(copy.descriptor()) != 0)
        return trouble(to, fmt::format("the copy is not sure to be on the disk ({}); try another disk", reason()));
    const bool placed = replace
                            ? ::rename(copy.path().c_str(), to.c_str()) == 0
                            : ::renameat2(AT_FDCWD, copy.path().c_str(), AT_FDCWD, to.c_str(), RENAME_NOREPLACE) == 0;
    if (!placed) return trouble(to, fmt::format("the copy cannot be put there ({}); nothing was changed", reason()));
    if (const auto kept = seal::keep_names_of(to); !kept) return JournalError{kept.error().message};
    return Backup{*last, fs::file_size(to, error)};
}

} // namespace stillmark::journal
