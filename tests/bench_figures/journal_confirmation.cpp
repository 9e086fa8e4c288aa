// How long until a confirmation is told as durable, beside one fdatasync of as many bytes; in turn, so that the
// machine's drift meets both. Meanwhile readings arrive as from 64 channels at 10 Hz.
#include "daemon/journal/journal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <condition_variable>
#include <cstdlib>
#include <fcntl.h>
#include <filesystem>
#include <mutex>
#include <stdlib.h>
#include <thread>
#include <unistd.h>

namespace {

using namespace stillmark::journal;
using Clock = std::chrono::steady_clock;

double ms_since(Clock::time_point begin) {
    return std::chrono::duration<double, std::milli>(Clock::now() - begin).count();
}

double at(std::vector<double> figures, double share) {
    std::ranges::sort(figures);
    return figures[static_cast<std::size_t>(share * static_cast<double>(figures.size() - 1))];
}

} // namespace

int main() {
    std::string folder = (std::filesystem::temp_directory_path() / "stillmark-figures-XXXXXX").string();
    if (::mkdtemp(folder.data()) == nullptr) return 1;
    const int bare = ::open((folder + "/bare").c_str(), O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0600);

    std::mutex mutex;
    std::condition_variable told;
    std::uint64_t durable = 0;
    WriterSinks sinks;
    sinks.durable = [&](std::uint64_t number, const stillmark::seal::Digest&) {
        const std::lock_guard lock(mutex);
        durable = number;
        told.notify_one();
    };
    auto writer = JournalWriter::open(folder + "/x.journal", sinks);
    if (!writer || bare < 0) return 1;

    const std::string body = R"({"kind":"float_confirmed","range":"low","by":"an invented person"})";
    // What such a commit appends to a write-ahead log: two pages, each behind a header of 24 bytes.
    const std::string frames(std::size_t{2} * (4096 + 24), 'x');
    std::vector<double> sync_ms;
    std::vector<double> told_ms;
    std::uint64_t number = 0;
    for (int round = 0; round < 1000; ++round) {
        const auto sync_begin = Clock::now();
        if (::write(bare, frames.data(), frames.size()) < 0 || ::fdatasync(bare) != 0) return 1;
        sync_ms.push_back(ms_since(sync_begin));

        for (std::uint32_t channel = 0; channel < 3; ++channel)
            (void)(*writer)->append(
                ReadingRecord{++number, channel, 450, static_cast<std::int64_t>(number) * 1562, 1e5, 0});
        const auto begin = Clock::now();
        const std::uint64_t confirmation = ++number;
        if (!(*writer)->append(EventRecord{confirmation, static_cast<std::int64_t>(number) * 1562, body})) return 1;
        {
            std::unique_lock lock(mutex);
            told.wait(lock, [&] { return durable >= confirmation; });
        }
        told_ms.push_back(ms_since(begin));
        std::this_thread::sleep_for(std::chrono::milliseconds(2));
    }
    writer->reset();
    ::close(bare);
    std::filesystem::remove_all(folder);

    fmt::print("1000 confirmations, each beside one write and fdatasync of as many bytes\n");
    fmt::print("  fdatasync            median {:.3f} ms, p99 {:.3f} ms\n", at(sync_ms, 0.5), at(sync_ms, 0.99));
    fmt::print("  told after on disk   median {:.3f} ms, p99 {:.3f} ms\n", at(told_ms, 0.5), at(told_ms, 0.99));
    fmt::print("  goal: p99 within 1.5 of the fdatasync's p99, and 1 ms: {:.3f} ms\n", 1.5 * at(sync_ms, 0.99) + 1);
}
