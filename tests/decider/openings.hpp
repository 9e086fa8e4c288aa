#pragma once

#include <sqlite3.h>

#include <algorithm>
#include <mutex>
#include <sys/types.h>
#include <unistd.h>
#include <vector>

namespace stillmark::decider::testing {

/// Threads that open the database, by what SQLite calls at each opening.
inline std::vector<pid_t>& openings() {
    static std::vector<pid_t> threads;
    return threads;
}
inline std::mutex& openings_mutex() {
    static std::mutex mutex;
    return mutex;
}
extern "C" inline int note_opening(sqlite3*, char**, const void*) {
    const std::lock_guard lock(openings_mutex());
    openings().push_back(::gettid());
    return SQLITE_OK;
}
/// While it lives, what opens a database is noted.
class OpeningsWatched {
  public:
    OpeningsWatched() {
        openings().clear();
        sqlite3_auto_extension(entry());
    }
    ~OpeningsWatched() { sqlite3_cancel_auto_extension(entry()); }
    OpeningsWatched(const OpeningsWatched&) = delete;
    OpeningsWatched& operator=(const OpeningsWatched&) = delete;

    static std::size_t all() {
        const std::lock_guard lock(openings_mutex());
        return openings().size();
    }
    static std::size_t on_this_thread() {
        const std::lock_guard lock(openings_mutex());
        return static_cast<std::size_t>(std::ranges::count(openings(), ::gettid()));
    }

  private:
    static void (*entry())() { return reinterpret_cast<void (*)()>(&note_opening); }
};

} // namespace stillmark::decider::testing
