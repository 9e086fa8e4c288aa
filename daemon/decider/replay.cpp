#include "daemon/decider/replay.hpp"

#include "daemon/bench/mark.hpp"
#include "drivers/driver.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>

namespace stillmark::decider {

using nlohmann::json;

namespace {

bool is_good(const journal::ReadingRecord& reading) {
    return reading.status == static_cast<std::uint8_t>(drivers::ReadingStatus::good);
}

/// The window and the approach of a journalled mark, from its readings.
journal::JournalResult<bench::Fact> make_again(journal::JournalReader& reader, const bench::State& state,
                                               const bench::MarkTaken& taken) {
    const auto channel = static_cast<std::size_t>(taken.channel);
    if (!state.bench || channel >= state.bench->instruments.size())
        return bench::Fact{bench::WindowFailed{taken.channel, 0, 0, "there is no such channel"}};
    if (state.bench->instruments[channel].manual()) {
        const auto& entered = state.channels[channel].entered;
        if (!entered) return bench::Fact{bench::WindowFailed{taken.channel, 0, 0, "no entry is journalled before it"}};
        return bench::judge_entry(state, channel, *entered);
    }
    const auto first = static_cast<std::uint64_t>(taken.first), last = static_cast<std::uint64_t>(taken.last);
    const auto from = std::min(first, static_cast<std::uint64_t>(taken.approach_from) + 1);
    const auto readings = reader.readings(static_cast<std::uint32_t>(channel), from, last);
    if (!readings) return readings.error();
    auto approach = bench::approach_watch(state, channel);
    if (!approach) return bench::Fact{bench::WindowFailed{taken.channel, 0, 0, "no point was being approached"}};
    std::vector<acquisition::TimedValue> values;
    bench::Window window;
    for (const auto& reading : *readings) {
        if (is_good(reading) && reading.number > static_cast<std::uint64_t>(taken.approach_from))
            approach->take(reading.value);
        if (reading.number < first) continue;
        values.push_back({reading.at_us, reading.value, is_good(reading)});
        if (values.size() == 1) window.first = reading.number;
        window.last = reading.number;
        window.largest_timing_us = std::max(window.largest_timing_us, static_cast<Micros>(reading.timing_us));
    }
    window.readings = values;
    return bench::judge_window(state, channel, window, *approach);
}

void compare(ReplayedMark& mark) {
    const std::string before = bench::to_text(mark.journalled), after = bench::to_text(mark.again);
    mark.same = before == after;
    if (mark.same) return;
    if (const auto* failed = std::get_if<bench::WindowFailed>(&mark.again)) {
        mark.differences.push_back(fmt::format("the evidence makes no mark now: {}", failed->why));
        mark.largest_relative = 1;
        return;
    }
    const json a = json::parse(before, nullptr, false), b = json::parse(after, nullptr, false);
    for (const auto& change : json::diff(a, b)) {
        const json::json_pointer place(change.value("path", ""));
        const json& x = a.contains(place) ? a[place] : json();
        const json& y = b.contains(place) ? b[place] : json();
        mark.differences.push_back(
            fmt::format("{}: journalled {}, again {}", change.value("path", "").substr(1), x.dump(), y.dump()));
        // A whole number counts something, or is an instant: it is a decision like a word.
        mark.largest_relative =
            std::max(mark.largest_relative, x.is_number_float() && y.is_number_float()
                                                ? std::abs(x.get<double>() - y.get<double>()) /
                                                      std::max(std::abs(x.get<double>()), std::abs(y.get<double>()))
                                                : 1.0);
    }
}

} // namespace

journal::JournalResult<Replay> replay(const std::string& journal_path) {
    auto reader = journal::JournalReader::open(journal_path);
    if (!reader) return reader.error();
    // Windows are fetched while the events are walked, so they need a reader of their own.
    auto windows = journal::JournalReader::open(journal_path);
    if (!windows) return windows.error();
    Replay result;
    std::optional<journal::JournalError> mistake;
    const auto walked = (*reader)->walk(
        [&](const journal::EventRecord& record) {
            std::string why;
            auto fact = bench::fact_from_text(record.body, why);
            if (!fact) {
                mistake = journal::JournalError{fmt::format("{}: event {}: {}", journal_path, record.number, why)};
                return false;
            }
            ++result.events;
            if (const auto* taken = std::get_if<bench::MarkTaken>(&*fact)) {
                auto again = make_again(**windows, result.state, *taken);
                if (!again) {
                    mistake = again.error();
                    return false;
                }
                ReplayedMark mark;
                mark.journalled = *taken;
                mark.again = std::move(*again);
                compare(mark);
                result.marks.push_back(std::move(mark));
            }
            if (const auto* started = std::get_if<bench::ServiceStarted>(&*fact)) result.services.push_back(*started);
            const bool takes_bench = std::holds_alternative<bench::BenchTaken>(*fact);
            const auto told = bench::apply(result.state, {record.number, record.at_us, std::move(*fact)});
            // Without its bench nothing that follows can be made again; another build may have written it.
            for (const auto& tell : told)
                if (takes_bench && tell.alarm) {
                    mistake =
                        journal::JournalError{fmt::format("{}: event {}: {}; replay it with the build that wrote it",
                                                          journal_path, record.number, tell.words)};
                    return false;
                }
            return true;
        },
        [&](const journal::ReadingRecord&) {
            ++result.readings;
            return true;
        },
        0);
    if (!walked) return walked.error();
    if (mistake) return *mistake;
    return result;
}

} // namespace stillmark::decider
