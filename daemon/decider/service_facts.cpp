#include "daemon/decider/service_facts.hpp"

#include <boost/config.hpp>
#include <fmt/format.h>

#include <chrono>
#include <fstream>
#include <gnu/libc-version.h>
#include <sys/utsname.h>

namespace stillmark::decider {

namespace {

std::string first_line(const char* path) {
    std::ifstream in(path);
    std::string line;
    std::getline(in, line);
    return line.empty() ? "unknown" : line;
}

/// The processor's name, and whether it has the extensions by which a libm may choose other code.
std::string processor() {
    std::string words = "unknown";
    std::ifstream in("/proc/cpuinfo");
    for (std::string line; std::getline(in, line);)
        if (line.starts_with("model name")) {
            const auto colon = line.find(':');
            if (colon != std::string::npos && colon + 2 < line.size()) words = line.substr(colon + 2);
            break;
        }
#if defined(__x86_64__)
    if (__builtin_cpu_supports("fma")) words += " fma";
    if (__builtin_cpu_supports("avx2")) words += " avx2";
    if (__builtin_cpu_supports("avx512f")) words += " avx512f";
#endif
    utsname machine{};
    if (::uname(&machine) == 0) words += fmt::format(" {}", machine.machine);
    return words;
}

} // namespace

bench::ServiceStarted this_service() {
    bench::ServiceStarted started;
    started.boot_id = first_line("/proc/sys/kernel/random/boot_id");
    started.utc_us =
        std::chrono::duration_cast<std::chrono::microseconds>(std::chrono::system_clock::now().time_since_epoch())
            .count();
    started.build = STILLMARK_VERSION;
    started.compiler = BOOST_COMPILER;
    started.libm = fmt::format("glibc {}", ::gnu_get_libc_version());
    started.processor = processor();
    return started;
}

bench::Decision first_facts(const bench::State& recovered, const bench::BenchFile& bench, bool end_run) {
    std::vector<bench::Fact> facts;
    facts.emplace_back(this_service());
    if (const auto* interval = recovered.open_interval()) facts.emplace_back(bench::FloatUnknown{interval->number});
    const bool is_new = !recovered.bench || recovered.bench->revision != bench.revision;
    if (const auto* run = recovered.running(); run != nullptr && is_new) {
        if (!end_run)
            return bench::Refusal{fmt::format("run {} is open and began with another revision of the bench file ({}; "
                                              "this one is {}). Put the former "
                                              "text back, or end the run with --end-run",
                                              run->id, run->bench->revision, bench.revision),
                                  false};
        facts.emplace_back(bench::RunStopped{run->id, "the bench file was changed", bench::by_service});
    }
    if (is_new)
        facts.emplace_back(
            bench::BenchTaken{bench.path, bench.revision, bench.text, bench.profile_texts, bench.planned_loads});
    return facts;
}

} // namespace stillmark::decider
