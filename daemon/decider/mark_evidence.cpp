#include "daemon/decider/mark_evidence.hpp"

#include "daemon/bench/mark.hpp"
#include "drivers/driver.hpp"

#include <fmt/format.h>

#include <cmath>

namespace stillmark::decider {

namespace {

std::optional<MarkEvidence> evidence_in(const bench::State& state, const bench::MarkTaken& taken) {
    const auto channel = static_cast<std::size_t>(taken.channel);
    if (!state.bench || channel >= state.bench->instruments.size()) return std::nullopt;
    const auto& instrument = state.bench->instruments[channel];
    const auto* interval = state.open_interval();
    MarkEvidence out;
    out.taken = taken;
    out.instrument = instrument.name;
    out.unit = instrument.unit;
    out.manual = instrument.manual();
    out.utc_offset_us = state.utc_offset_us;
    out.reference = interval != nullptr && !taken.vented.value_or(false)
                        ? bench::reference_for(state, *interval, instrument)
                        : bench::reference_vented(state, instrument);
    return out;
}

} // namespace

journal::JournalResult<MarkEvidence> evidence_of(const std::string& journal_path, const std::string& run,
                                                 std::int64_t mark) {
    auto reader = journal::JournalReader::open(journal_path);
    if (!reader) return reader.error();
    // The state as it was when the mark was taken.
    bench::State state;
    std::optional<MarkEvidence> found;
    std::optional<journal::JournalError> mistake;
    const auto walked = (*reader)->events([&](const journal::EventRecord& record) {
        std::string why;
        auto fact = bench::fact_from_text(record.body, why);
        if (!fact) {
            mistake = journal::JournalError{fmt::format("{}: event {}: {}", journal_path, record.number, why)};
            return false;
        }
        const auto* taken = std::get_if<bench::MarkTaken>(&*fact);
        if (taken != nullptr && taken->mark == mark && (run.empty() || taken->run == run)) {
            found = evidence_in(state, *taken);
            if (found) return false;
        }
        bench::apply(state, {record.number, record.at_us, std::move(*fact)});
        return true;
    });
    if (!walked) return walked.error();
    if (mistake) return *mistake;
    if (!found)
        return journal::JournalError{run.empty() ? fmt::format("no run has a mark {}", mark)
                                                 : fmt::format("run {} has no mark {}", run, mark)};
    return std::move(*found);
}

std::vector<ReadingLine> reading_lines(const bench::MarkTaken& mark) {
    std::vector<ReadingLine> lines;
    const double variance = mark.u_pa * mark.u_pa;
    const auto line = [&](const char* input, double u_pa) {
        lines.push_back({input, u_pa, variance > 0 ? u_pa * u_pa / variance : 0.0});
    };
    line("reference pressure", mark.u_reference_pa);
    if (mark.u_mean_pa > 0) line("mean of the readings", mark.u_mean_pa);
    line("resolution of the instrument", mark.resolution_pa / std::sqrt(12.0));
    return lines;
}

journal::JournalResult<std::vector<WindowReading>> window_readings(const std::string& journal_path,
                                                                   const MarkEvidence& evidence) {
    const auto& taken = evidence.taken;
    std::vector<WindowReading> out;
    if (evidence.manual) {
        out.push_back({0, taken.from_us, taken.untapped_pa, "before tapping", taken.timing_us});
        out.push_back({0, taken.to_us, taken.tapped_pa, "after tapping", taken.timing_us});
        return out;
    }
    auto reader = journal::JournalReader::open(journal_path);
    if (!reader) return reader.error();
    const auto readings =
        (*reader)->readings(static_cast<std::uint32_t>(taken.channel), static_cast<std::uint64_t>(taken.first),
                            static_cast<std::uint64_t>(taken.last));
    if (!readings) return readings.error();
    for (const auto& one : *readings) {
        const auto status = static_cast<drivers::ReadingStatus>(one.status);
        WindowReading reading{one.number, one.at_us, {}, drivers::word(status), static_cast<Micros>(one.timing_us)};
        if (status == drivers::ReadingStatus::good) reading.value_pa = one.value;
        out.push_back(std::move(reading));
    }
    return out;
}

} // namespace stillmark::decider
