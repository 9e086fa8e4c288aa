#include "simulator/truth_log.hpp"

#include "simulator/mistake.hpp"

#include <fmt/format.h>

#include <chrono>

namespace stillmark::simulator {

namespace {

constexpr auto interval = std::chrono::milliseconds(20);

std::string quoted(const std::string& name) {
    std::string out = "\"";
    for (const char letter : name)
        out += letter == '"' ? std::string("\"\"") : std::string(1, letter);
    return out + "\"";
}

} // namespace

TruthLog::TruthLog(Rig& rig, const std::string& path) : rig_(rig), file_(path) {
    if (!file_) throw Mistake(path + ": cannot be written");
    file_ << "boottime_us,pressure_pa,range,piston,height_m,in_band,spin_rpm,oil_m3";
    for (const auto& instrument : rig.scenario().instruments)
        file_ << ',' << quoted("pressure_pa " + instrument.name) << ',' << quoted("settled_pa " + instrument.name);
    file_ << '\n';
    thread_ = std::jthread([this](const std::stop_token& stop) {
        auto next = std::chrono::steady_clock::now();
        while (!stop.stop_requested()) {
            write_row();
            next += interval;
            std::unique_lock lock(mutex_);
            woken_.wait_until(lock, stop, next, [] { return false; });
        }
    });
}

TruthLog::~TruthLog() {
    thread_.request_stop();
    thread_.join();
}

void TruthLog::write_row() {
    const Micros at_us = now_us();
    std::string row;
    rig_.look(at_us, [&](const Hydraulics& oil, const std::vector<Gauge>& gauges) {
        row = fmt::format("{},{:.4f},{},{},{:.7f},{},{:.2f},{:.6e}", at_us, oil.pressure_pa(), oil.range(),
                          word(oil.piston()), oil.height_m(), oil.in_band() ? 1 : 0, oil.spin_rpm(), oil.pressing_m3());
        for (const auto& gauge : gauges)
            row += fmt::format(",{:.4f},{:.4f}", gauge.pressure_pa(), gauge.settled_pa());
    });
    file_ << row << '\n' << std::flush;
}

} // namespace stillmark::simulator
