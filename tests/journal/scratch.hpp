#pragma once

#include "daemon/journal/journal.hpp"

#include <gtest/gtest.h>
#include <sqlite3.h>

#include <chrono>
#include <condition_variable>
#include <cstring>
#include <filesystem>
#include <mutex>
#include <stdlib.h>
#include <string>
#include <vector>

namespace stillmark::journal::testing {

using namespace std::chrono_literals;

/// A folder of its own for each test, removed afterwards.
class Scratch {
  public:
    Scratch() {
        std::string name = (std::filesystem::temp_directory_path() / "stillmark-journal-XXXXXX").string();
        folder_ = ::mkdtemp(name.data());
    }
    ~Scratch() {
        std::error_code wrong;
        std::filesystem::remove_all(folder_, wrong);
    }
    Scratch(const Scratch&) = delete;
    Scratch& operator=(const Scratch&) = delete;
    std::string file(const std::string& name = "x.journal") const { return (folder_ / name).string(); }

  private:
    std::filesystem::path folder_;
};

/// What a writer told, and a way to wait for it.
class Told {
  public:
    WriterSinks sinks() {
        return {[this](std::uint64_t number, const seal::Digest&) { note([&] { durable_.push_back(number); }); },
                [this](const std::string& words) { note([&] { failed_.push_back(words); }); },
                [this](std::size_t waiting) { note([&] { full_.push_back(waiting); }); }};
    }
    bool wait_durable(std::uint64_t number, std::chrono::milliseconds most = 5s) {
        std::unique_lock lock(mutex_);
        return changed_.wait_for(lock, most, [&] { return !durable_.empty() && durable_.back() >= number; });
    }
    bool wait_failed(std::chrono::milliseconds most = 5s) {
        std::unique_lock lock(mutex_);
        return changed_.wait_for(lock, most, [&] { return !failed_.empty(); });
    }
    bool wait_full(std::chrono::milliseconds most = 5s) {
        std::unique_lock lock(mutex_);
        return changed_.wait_for(lock, most, [&] { return !full_.empty(); });
    }
    std::vector<std::uint64_t> durable() const { return copy(durable_); }
    std::vector<std::string> failed() const { return copy(failed_); }
    std::vector<std::size_t> full() const { return copy(full_); }

  private:
    template <class Change>
    void note(Change change) {
        const std::lock_guard lock(mutex_);
        change();
        changed_.notify_all();
    }
    template <class T>
    std::vector<T> copy(const std::vector<T>& list) const {
        const std::lock_guard lock(mutex_);
        return list;
    }

    mutable std::mutex mutex_;
    std::condition_variable changed_;
    std::vector<std::uint64_t> durable_;
    std::vector<std::string> failed_;
    std::vector<std::size_t> full_;
};

inline EventRecord event(std::uint64_t number, std::string body = R"({"kind":"test"})") {
    return {number, static_cast<std::int64_t>(number) * 1000, std::move(body)};
}

/// A reading whose every field follows from its number, so that a reader can tell whether it is the right one.
inline ReadingRecord reading(std::uint64_t number, std::uint32_t channels = 4) {
    const auto n = static_cast<double>(number);
    return {number,
            static_cast<std::uint32_t>(number % channels),
            static_cast<std::uint32_t>(200 + number % 57),
            static_cast<std::int64_t>(number * 1563 + number % 41),
            1e5 + n / 3.0,
            static_cast<std::uint8_t>(number % 29 == 0 ? 2 : 0)};
}

inline bool same(const ReadingRecord& one, const ReadingRecord& other) {
    return one.number == other.number && one.channel == other.channel && one.timing_us == other.timing_us &&
           one.at_us == other.at_us && one.status == other.status &&
           std::memcmp(&one.value, &other.value, sizeof one.value) == 0;
}

/// The journal seen by another program: any SQL on it, rows as text.
inline std::vector<std::string> sql(const std::string& path, const std::string& statement) {
    sqlite3* connection = nullptr;
    std::vector<std::string> rows;
    EXPECT_EQ(sqlite3_open(path.c_str(), &connection), SQLITE_OK);
    char* wrong = nullptr;
    const auto take = [](void* list, int columns, char** values, char**) {
        std::string row;
        for (int i = 0; i < columns; ++i)
            row += (i > 0 ? "|" : "") + std::string(values[i] != nullptr ? values[i] : "null");
        static_cast<std::vector<std::string>*>(list)->push_back(row);
        return 0;
    };
    EXPECT_EQ(sqlite3_exec(connection, statement.c_str(), take, &rows, &wrong), SQLITE_OK) << (wrong ? wrong : "");
    sqlite3_free(wrong);
    sqlite3_close(connection);
    return rows;
}

/// A writer that must open.
inline std::unique_ptr<JournalWriter> writer(const std::string& path, Told& told, const WriterLimits& limits = {}) {
    auto opened = JournalWriter::open(path, told.sinks(), limits);
    if (!opened) throw std::runtime_error(opened.error().message);
    return std::move(*opened);
}

inline std::unique_ptr<JournalReader> reader(const std::string& path) {
    auto opened = JournalReader::open(path);
    if (!opened) throw std::runtime_error(opened.error().message);
    return std::move(*opened);
}

/// Everything in a journal in its one order: events as number, readings likewise.
struct Everything {
    std::vector<std::uint64_t> order;
    std::vector<EventRecord> events;
    std::vector<ReadingRecord> readings;
};
inline JournalResult<Everything> everything(const std::string& path, std::uint64_t from = 0) {
    auto opened = JournalReader::open(path);
    if (!opened) return opened.error();
    Everything all;
    const auto walked = (*opened)->walk(
        [&](const EventRecord& one) {
            all.order.push_back(one.number);
            all.events.push_back(one);
            return true;
        },
        [&](const ReadingRecord& one) {
            all.order.push_back(one.number);
            all.readings.push_back(one);
            return true;
        },
        from);
    if (!walked) return walked.error();
    return all;
}

} // namespace stillmark::journal::testing
