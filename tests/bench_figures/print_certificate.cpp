// How long a printed certificate takes from its content to its bytes, and whether printing many takes memory.
#include "daemon/records/print/print.hpp"
#include "records/sample.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <ctime>
#include <fstream>
#include <thread>
#include <unistd.h>
#include <vector>

namespace {

using namespace stillmark;

double seconds_of(const auto& work) {
    const auto from = std::chrono::steady_clock::now();
    work();
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - from).count();
}

double resident_mib() {
    std::ifstream file("/proc/self/statm");
    double whole = 0, resident = 0;
    file >> whole >> resident;
    return resident * static_cast<double>(::sysconf(_SC_PAGESIZE)) / (1U << 20U);
}

/// 2 x 21 points, signed, with a digital certificate of a usual size.
records::Certificate usual(int number) {
    records::Certificate one = sample::signed_certificate(21);
    one.number = fmt::format("INV-2026-{:04}", number);
    one.proof.xml_sha256 = std::string(64, 'f');
    one.proof.code_signature = std::string(88, 'S');
    return one;
}
const std::string xml(60'000, 'x');

bool print(int first, int count) {
    bool all = true;
    for (int i = first; i < first + count; ++i)
        all = records::pdf_of(usual(i), xml).has_value() && all;
    return all;
}

bool said(const char* what, double figure, const char* unit, double goal) {
    fmt::print("{:<52} {:>8.1f} {}: goal {:g} {}, {}\n", what, figure, unit, goal, unit,
               figure < goal ? "met" : "MISSED");
    return figure < goal;
}

} // namespace

int main() {
    bool good = true;
    const double first = seconds_of([&] { good = print(0, 1) && good; });
    fmt::print("{:<52} {:>8.1f} ms (fonts are looked for)\n", "the first certificate of a program", 1e3 * first);
    std::vector<double> times;
    for (int i = 0; i < 21; ++i)
        times.push_back(seconds_of([&] { good = print(i, 1) && good; }));
    std::ranges::sort(times);
    good = said("2 x 21 points, content to bytes, median of 21", 1e3 * times[10], "ms", 300) && good;
    good = said("the slowest of them", 1e3 * times.back(), "ms", 300) && good;

    print(100, 200); // the caches of the fonts are full
    const double before = resident_mib();
    print(300, 400);
    good = said("memory that 100 certificates keep", (resident_mib() - before) / 4, "MiB", 1) && good;

    // Of the processor, in two threads: other programs are no part of the figure.
    const auto from = std::clock();
    const double wall = seconds_of([&] {
        std::thread other([] { print(1000, 500); });
        print(2000, 500);
        other.join();
    });
    const double batch = static_cast<double>(std::clock() - from) / CLOCKS_PER_SEC / 2;
    good = said("1000 certificates in two threads, each one's processor", batch, "s", 120) && good;
    fmt::print("{:<52} {:>8.1f} s, with whatever else ran\n", "the same by the clock on the wall", wall);
    return good ? 0 : 1;
}
