// A verification of ten million readings, beside reading the file's bytes and beside SHA-256 over them; in turn, so
// that the machine's drift meets all three. The goal is 1.5 of the slower of those two. Then the same for a journal as
// the trade's pace makes it, with many small blocks.
#include "bench_figures/invented_readings.hpp"
#include "daemon/journal/verify.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <stdlib.h>
#include <thread>

namespace {

using namespace stillmark;
using Clock = std::chrono::steady_clock;

void must(bool fine, const std::string& words) {
    if (fine) return;
    fmt::print(stderr, "{}\n", words);
    std::exit(1);
}

/// Reads the file whole; digests it where it is asked for.
double read_all(const std::string& path, bool digests) {
    const auto begin = Clock::now();
    std::ifstream file(path, std::ios::binary);
    std::vector<char> bytes(1 << 20);
    seal::Sha256 sha;
    std::uint64_t sum = 0;
    while (file.read(bytes.data(), static_cast<std::streamsize>(bytes.size())) || file.gcount() > 0) {
        const auto count = static_cast<std::size_t>(file.gcount());
        sum += static_cast<std::uint8_t>(bytes[count - 1]);
        if (digests) sha.add(std::string_view(bytes.data(), count));
    }
    must(sum > 0 && sha.finish() != seal::Digest{}, "nothing was read");
    return std::chrono::duration<double>(Clock::now() - begin).count();
}

double verify(const std::string& path, std::size_t readings) {
    const auto begin = Clock::now();
    const auto told = journal::verify(path, {});
    const double took_s = std::chrono::duration<double>(Clock::now() - begin).count();
    must(told.has_value(), "the journal was not verified");
    must(told->found == 0 && told->pages.empty() && told->readings == readings, "the verification went wrong");
    return took_s;
}

/// In commits of so many readings, or as many as come together.
void write_journal(const std::string& path, std::size_t count, std::size_t a_commit) {
    journal::WriterSinks sinks;
    sinks.failed = [](const std::string& words) { must(false, words); };
    journal::WriterLimits limits;
    if (a_commit > 0) limits.waiting_readings = a_commit;
    auto writer = journal::JournalWriter::open(path, sinks, limits, seal::PrivateKey::make().value());
    must(writer.has_value(), "the journal did not open");
    for (const auto& one : figures::invented_readings(count))
        while (!(*writer)->append(one))
            std::this_thread::sleep_for(std::chrono::microseconds(50));
}

double median(std::vector<double> figures) {
    std::ranges::sort(figures);
    return figures[figures.size() / 2];
}

void print_figures(const std::string& path, std::size_t count, const char* what) {
    std::vector<double> read_s, sha_s, verify_s, ratio;
    for (int round = 0; round < 7; ++round) {
        read_s.push_back(read_all(path, false));
        sha_s.push_back(read_all(path, true));
        verify_s.push_back(verify(path, count));
        ratio.push_back(verify_s.back() / std::max(read_s.back(), sha_s.back()));
    }
    fmt::print("{} readings {}: {:.0f} MB, 7 rounds in turn\n", count, what,
               static_cast<double>(std::filesystem::file_size(path)) / 1e6);
    fmt::print("  the file's bytes      {:.3f} s\n  SHA-256 over them     {:.3f} s\n  verification          {:.3f} s, "
               "{:.3g} readings/s\n",
               median(read_s), median(sha_s), median(verify_s), static_cast<double>(count) / median(verify_s));
    fmt::print("  ratio to the slower of the first two, median of rounds {:.2f} ({:.2f} to {:.2f})\n", median(ratio),
               std::ranges::min(ratio), std::ranges::max(ratio));
}

} // namespace

int main() {
    std::string folder = (std::filesystem::temp_directory_path() / "stillmark-figures-XXXXXX").string();
    must(::mkdtemp(folder.data()) != nullptr, "no temporary folder");
    const std::string large = folder + "/large.journal", paced = folder + "/paced.journal";
    write_journal(large, 10'000'000, 0);
    print_figures(large, 10'000'000, "of 64 channels, in blocks as large as the queue makes them (goal: 1.5)");
    write_journal(paced, 1'000'000, 128);
    print_figures(paced, 1'000'000, "of 64 channels at 10 Hz, two a block, a commit every 200 ms");
    std::filesystem::remove_all(folder);
}
