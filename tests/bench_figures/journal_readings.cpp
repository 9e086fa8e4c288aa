// Readings a second and bytes a reading, durable: our journal beside a bare SQLite program that inserts one row a
// reading, 1000 a transaction, synchronous FULL. In turn, A B A B, so that the machine's drift meets both.
#include "bench_figures/invented_readings.hpp"
#include "daemon/journal/journal.hpp"

#include <fmt/format.h>
#include <sqlite3.h>

#include <algorithm>
#include <chrono>
#include <condition_variable>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <mutex>
#include <stdlib.h>
#include <thread>
#include <time.h>

namespace {

using namespace stillmark::journal;
using stillmark::figures::invented_readings;
using Clock = std::chrono::steady_clock;

struct Figure {
    double wall_s;
    double cpu_s;
    double bytes;
};

double cpu_s() {
    timespec now{};
    ::clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

template <class Work>
Figure measure(const std::string& path, Work work) {
    for (const char* end : {"", "-wal", "-shm", ".writer"})
        std::filesystem::remove(path + end);
    const double cpu = cpu_s();
    const auto begin = Clock::now();
    work();
    const std::chrono::duration<double> wall = Clock::now() - begin;
    return {wall.count(), cpu_s() - cpu, static_cast<double>(std::filesystem::file_size(path))};
}

void must(bool fine, const std::string& words) {
    if (fine) return;
    fmt::print(stderr, "{}\n", words);
    std::exit(1);
}

void bare_rows(const std::string& path, const std::vector<ReadingRecord>& readings) {
    sqlite3* db = nullptr;
    must(sqlite3_open(path.c_str(), &db) == SQLITE_OK, "SQLite did not open " + path);
    const auto run = [&](const char* sql) {
        must(sqlite3_exec(db, sql, nullptr, nullptr, nullptr) == SQLITE_OK, sqlite3_errmsg(db));
    };
    run("PRAGMA journal_mode = WAL");
    run("PRAGMA synchronous = FULL");
    run("CREATE TABLE readings (number INTEGER PRIMARY KEY, channel INTEGER, timing_us INTEGER, at_us INTEGER, "
        "value REAL, status INTEGER)");
    sqlite3_stmt* insert = nullptr;
    sqlite3_prepare_v2(db, "INSERT INTO readings VALUES (?, ?, ?, ?, ?, ?)", -1, &insert, nullptr);
    for (std::size_t i = 0; i < readings.size(); ++i) {
        if (i % 1000 == 0) run("BEGIN");
        const ReadingRecord& one = readings[i];
        sqlite3_bind_int64(insert, 1, static_cast<sqlite3_int64>(one.number));
        sqlite3_bind_int64(insert, 2, one.channel);
        sqlite3_bind_int64(insert, 3, one.timing_us);
        sqlite3_bind_int64(insert, 4, one.at_us);
        sqlite3_bind_double(insert, 5, one.value);
        sqlite3_bind_int64(insert, 6, one.status);
        must(sqlite3_step(insert) == SQLITE_DONE, sqlite3_errmsg(db));
        sqlite3_reset(insert);
        if (i % 1000 == 999 || i + 1 == readings.size()) run("COMMIT");
    }
    sqlite3_finalize(insert);
    sqlite3_close(db);
}

// As the service does it, through the queue and the writing thread; whoever is refused waits a little and asks again.
void our_journal(const std::string& path, const std::vector<ReadingRecord>& readings) {
    auto writer = JournalWriter::open(path, {{}, [](const std::string& words) { must(false, words); }, {}});
    must(writer.has_value(), "the journal did not open");
    for (const ReadingRecord& one : readings)
        while (!(*writer)->append(one))
            std::this_thread::sleep_for(std::chrono::microseconds(500));
    writer->reset();
}

// At the pace of the trade: commits every 200 ms hold two or three readings of a channel.
double paced_bytes_a_reading(const std::string& path, const std::vector<ReadingRecord>& readings,
                             std::size_t a_commit) {
    const Figure figure = measure(path, [&] {
        std::mutex mutex;
        std::condition_variable told;
        std::uint64_t durable = 0;
        WriterSinks sinks;
        sinks.durable = [&](std::uint64_t number, const stillmark::seal::Digest&) {
            const std::lock_guard lock(mutex);
            durable = number;
            told.notify_one();
        };
        WriterLimits limits;
        limits.waiting_readings = a_commit; // so many are committed at once, without waiting for the clock
        auto writer = JournalWriter::open(path, sinks, limits);
        must(writer.has_value(), "the journal did not open");
        for (std::size_t i = 0; i + a_commit <= readings.size(); i += a_commit) {
            for (std::size_t j = i; j < i + a_commit; ++j)
                must((*writer)->append(readings[j]), "a reading was refused");
            std::unique_lock lock(mutex);
            told.wait(lock, [&] { return durable == readings[i + a_commit - 1].number; });
        }
    });
    const std::size_t written = readings.size() / a_commit * a_commit;
    return figure.bytes / static_cast<double>(written);
}

// A recovery or a replay visits everything once, in the one order. Beside it, what it takes to read the file's bytes.
void print_walk(const std::string& path, const std::vector<ReadingRecord>& readings) {
    our_journal(path, readings);
    const auto plain_begin = Clock::now();
    std::ifstream file(path, std::ios::binary);
    std::vector<char> bytes(1 << 20);
    std::uint64_t sum = 0;
    while (file.read(bytes.data(), static_cast<std::streamsize>(bytes.size())) || file.gcount() > 0)
        sum += static_cast<std::uint64_t>(bytes[0]) + static_cast<std::uint64_t>(file.gcount());
    const std::chrono::duration<double> plain = Clock::now() - plain_begin;

    const auto begin = Clock::now();
    std::size_t seen = 0;
    const auto reader = JournalReader::open(path);
    must(reader.has_value(), "the journal did not open");
    const auto event = [](const EventRecord&) { return true; };
    const auto reading = [&](const ReadingRecord&) { return ++seen > 0; };
    must((*reader)->walk(event, reading, 0).has_value() && seen == readings.size() && sum > 0, "the walk went wrong");
    const std::chrono::duration<double> walk = Clock::now() - begin;
    fmt::print("  a walk over all of it in order: {:.2f} s, {:.3g} readings/s (the file's bytes alone: {:.3f} s)\n",
               walk.count(), static_cast<double>(seen) / walk.count(), plain.count());
}

double median(std::vector<double> figures) {
    std::ranges::sort(figures);
    return figures[figures.size() / 2];
}

} // namespace

int main() {
    std::string folder = (std::filesystem::temp_directory_path() / "stillmark-figures-XXXXXX").string();
    must(::mkdtemp(folder.data()) != nullptr, "no temporary folder");
    const std::string path = folder + "/x.journal";
    const auto readings = invented_readings(2'000'000);
    const auto count = static_cast<double>(readings.size());

    std::vector<double> bare_rate, our_rate, bare_cpu, our_cpu, ratio;
    double bare_bytes = 0;
    double our_bytes = 0;
    for (int round = 0; round < 7; ++round) {
        const Figure bare = measure(path, [&] { bare_rows(path, readings); });
        const Figure ours = measure(path, [&] { our_journal(path, readings); });
        bare_rate.push_back(count / bare.wall_s);
        our_rate.push_back(count / ours.wall_s);
        bare_cpu.push_back(bare.cpu_s / count * 1e9);
        our_cpu.push_back(ours.cpu_s / count * 1e9);
        ratio.push_back(bare.wall_s / ours.wall_s);
        bare_bytes = bare.bytes / count;
        our_bytes = ours.bytes / count;
    }
    const auto spread = [](const std::vector<double>& figures) {
        return fmt::format("{:.3g} to {:.3g}", std::ranges::min(figures), std::ranges::max(figures));
    };
    fmt::print("2 million readings of 64 channels, everything on disk, 7 rounds in turn\n");
    fmt::print("  bare SQLite rows, 1000 a commit  {:.3g} readings/s ({}), {:.0f} ns of CPU, {:.1f} bytes a reading\n",
               median(bare_rate), spread(bare_rate), median(bare_cpu), bare_bytes);
    fmt::print("  our journal, through its queue   {:.3g} readings/s ({}), {:.0f} ns of CPU, {:.1f} bytes a reading\n",
               median(our_rate), spread(our_rate), median(our_cpu), our_bytes);
    fmt::print("  ratio of the rates, median of rounds {:.2f} ({})\n", median(ratio), spread(ratio));
    fmt::print("  bytes a reading at 64 x 10 Hz with a commit every 200 ms: {:.1f}\n",
               paced_bytes_a_reading(path, {readings.begin(), readings.begin() + 128'000}, 128));
    std::filesystem::remove(path);
    std::filesystem::remove(path + ".writer");
    print_walk(path, readings);
    std::filesystem::remove_all(folder);
}
