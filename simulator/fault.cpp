#include "simulator/fault.hpp"

#include <fmt/format.h>

#include <array>
#include <utility>

namespace stillmark::simulator {

namespace {

constexpr std::array words{
    std::pair{FaultKind::silence, "silence"},           std::pair{FaultKind::late, "late"},
    std::pair{FaultKind::byte_by_byte, "byte by byte"}, std::pair{FaultKind::garbage, "garbage"},
    std::pair{FaultKind::bad_checksum, "bad checksum"}, std::pair{FaultKind::wrong_address, "wrong address"},
    std::pair{FaultKind::wrong_count, "wrong count"},   std::pair{FaultKind::exception, "exception"},
    std::pair{FaultKind::disconnect, "disconnect"},     std::pair{FaultKind::wrong_word_order, "wrong word order"},
    std::pair{FaultKind::stuck_value, "stuck value"},   std::pair{FaultKind::noise, "noise"},
    std::pair{FaultKind::own_report, "own report"},     std::pair{FaultKind::leak, "leak"},
};

FaultKind read_kind(const JsonPlace& place) {
    std::string known;
    for (const auto& [kind, name] : words) {
        if (place.text() == name) return kind;
        known += fmt::format("{}{}", known.empty() ? "" : ", ", name);
    }
    place.refuse(fmt::format("\"{}\" is not a fault; use one of: {}", place.text(), known));
}

} // namespace

const char* word(FaultKind kind) {
    for (const auto& [candidate, name] : words)
        if (candidate == kind) return name;
    return "?";
}

Fault read_fault(const JsonPlace& place) {
    place.only({"what", "instrument", "bus", "from", "for", "every", "at", "by", "size", "rate", "code", "means"});
    Fault fault;
    fault.kind = read_kind(place.at("what"));
    fault.instrument = place.text_or("instrument", "");
    fault.bus = place.text_or("bus", "");
    fault.from_s = place.quantity_or("from", time_kind, 0);
    fault.for_s = place.quantity_or("for", time_kind, fault.for_s);
    if (place.has("every")) fault.every = static_cast<int>(place.at("every").whole());
    if (fault.every < 1) place.at("every").refuse("use 1 for every answer, 2 for each second one");
    if (place.has("at")) {
        const auto at = place.at("at");
        at.only({"point", "direction", "step"});
        fault.at_point = static_cast<int>(at.at("point").whole());
        fault.at_direction = at.text_or("direction", "");
        fault.at_step = at.text_or("step", "");
    }
    const double usual_gap_s = fault.kind == FaultKind::late           ? 0.3
                               : fault.kind == FaultKind::byte_by_byte ? 0.005
                                                                       : 0.0;
    fault.by_s = place.quantity_or("by", time_kind, usual_gap_s);
    fault.size_pa = place.quantity_or("size", pressure_kind, 1e5);
    fault.rate_m3_per_s = place.quantity_or("rate", Kind{0, 3, -1, 0}, 1e-8);
    if (place.has("code")) fault.code = static_cast<int>(place.at("code").whole());
    fault.means = place.text_or("means", "instrument_fault");
    if (fault.kind != FaultKind::leak && fault.instrument.empty() && fault.bus.empty())
        place.refuse("whose fault is it? give \"instrument\" or \"bus\"");
    return fault;
}

FaultBoard::FaultBoard(std::vector<Fault> faults, Micros start_us) {
    for (auto& fault : faults) {
        Entry entry{std::move(fault), std::nullopt, 0};
        if (!entry.fault.at_point) entry.begins_us = start_us + micros(entry.fault.from_s);
        entries_.push_back(std::move(entry));
    }
}

void FaultBoard::reached(int point, const std::string& direction, const std::string& step, Micros at_us) {
    for (auto& entry : entries_) {
        const auto& fault = entry.fault;
        if (entry.begins_us || fault.at_point != point) continue;
        if (!fault.at_direction.empty() && fault.at_direction != direction) continue;
        if (!fault.at_step.empty() && fault.at_step != step) continue;
        entry.begins_us = at_us + micros(fault.from_s);
    }
}

bool FaultBoard::holds(const Entry& entry, Micros at_us) {
    return entry.begins_us && at_us >= *entry.begins_us && at_us < *entry.begins_us + micros(entry.fault.for_s);
}

bool FaultBoard::concerns(const Entry& entry, const std::string& instrument, const std::string& bus) {
    return entry.fault.instrument.empty() ? entry.fault.bus == bus : entry.fault.instrument == instrument;
}

const Fault* FaultBoard::holding(FaultKind kind, const std::string& instrument, const std::string& bus,
                                 Micros at_us) const {
    for (const auto& entry : entries_)
        if (entry.fault.kind == kind && holds(entry, at_us) && concerns(entry, instrument, bus)) return &entry.fault;
    return nullptr;
}

Misbehaviour FaultBoard::next_answer(const std::string& instrument, const std::string& bus, Micros at_us) {
    Misbehaviour how;
    for (auto& entry : entries_) {
        const auto& fault = entry.fault;
        if (!holds(entry, at_us) || !concerns(entry, instrument, bus)) continue;
        if (entry.answers++ % fault.every != fault.every - 1) continue;
        switch (fault.kind) {
        case FaultKind::silence:
            how.silence = true;
            break;
        case FaultKind::late:
            how.late_s = fault.by_s;
            break;
        case FaultKind::byte_by_byte:
            how.byte_gap_s = fault.by_s;
            break;
        case FaultKind::garbage:
            how.garbage = true;
            break;
        case FaultKind::bad_checksum:
            how.bad_checksum = true;
            break;
        case FaultKind::wrong_address:
            how.wrong_address = true;
            break;
        case FaultKind::wrong_count:
            how.wrong_count = true;
            break;
        case FaultKind::exception:
            how.exception_code = fault.code;
            break;
        default:
            break;
        }
    }
    return how;
}

} // namespace stillmark::simulator
