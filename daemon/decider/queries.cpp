#include "daemon/decider/queries.hpp"

#include "daemon/decider/mark_evidence.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace stillmark::decider {

using nlohmann::json;

namespace {

using Reader = std::unique_ptr<journal::JournalReader>;

/// Events that are looked through for one page; a hundred thousand take a few tenths of a second.
constexpr std::size_t most_looked_at = 100'000;
constexpr std::size_t most_stretches = 660;      ///< of readings, three of each: at most 2000
constexpr std::uint64_t journal_end = INT64_MAX; ///< no number is higher

journal::JournalResult<std::string> text_of(const json& answer) {
    return {boost::system::in_place_value, answer.dump(-1, ' ', false, json::error_handler_t::replace)};
}

journal::JournalError no_fact(const std::string& path, const journal::EventRecord& record) {
    return {fmt::format("{}: event {} is not a fact", path, record.number)};
}

/// UTC less CLOCK_BOOTTIME as the last anchor at or before this event states it; nothing where none is near.
journal::JournalResult<std::optional<Micros>> utc_offset_at(journal::JournalReader& reader, std::uint64_t number) {
    std::optional<Micros> offset;
    std::size_t looked_at = 0;
    const auto walked = reader.events_below(number + 1, [&](const journal::EventRecord& record) {
        const json fact = json::parse(record.body, nullptr, false);
        if (fact.is_object() && fact.contains("utc_us") && fact["utc_us"].is_number_integer() &&
            (fact.value("fact", "") == "ServiceStarted" || fact.value("fact", "") == "ClockAnchored"))
            offset = fact["utc_us"].get<Micros>() - record.at_us;
        return !offset && ++looked_at < most_looked_at;
    });
    if (!walked) return walked.error();
    return offset;
}

struct FoundEvents {
    std::vector<std::pair<journal::EventRecord, json>> page; ///< in order of number
    std::optional<std::uint64_t> earlier, later;
};

journal::JournalResult<FoundEvents> find_events(journal::JournalReader& reader, const std::string& path,
                                                const EventQuery& query) {
    FoundEvents found;
    std::optional<journal::JournalError> mistake;
    std::size_t looked_at = 0;
    std::optional<std::uint64_t> stopped_at;
    const auto take = [&](const journal::EventRecord& record) {
        if (found.page.size() == query.limit || looked_at == most_looked_at) {
            stopped_at = record.number;
            return false;
        }
        ++looked_at;
        json fact = json::parse(record.body, nullptr, false);
        if (!fact.is_object() || !fact.contains("fact")) {
            mistake = no_fact(path, record);
            return false;
        }
        if (query.kind.empty() || fact["fact"] == query.kind) found.page.emplace_back(record, std::move(fact));
        return true;
    };
    const bool backward = !query.from;
    const auto walked =
        backward ? reader.events_below(query.below.value_or(journal_end), take) : reader.events_from(*query.from, take);
    if (!walked) return walked.error();
    if (mistake) return *mistake;
    if (backward) {
        std::ranges::reverse(found.page);
        if (stopped_at) found.earlier = *stopped_at + 1;
    } else {
        found.later = stopped_at;
        if (*query.from > 1) found.earlier = *query.from;
    }
    return found;
}

/// The least and the greatest good reading of a stretch of time, and the latest bad one.
struct Stretch {
    const journal::ReadingRecord* least = nullptr;
    const journal::ReadingRecord* greatest = nullptr;
    const journal::ReadingRecord* bad = nullptr;

    void take(const journal::ReadingRecord& reading) {
        if (reading.status != static_cast<std::uint8_t>(drivers::ReadingStatus::good)) {
            bad = &reading;
            return;
        }
        if (least == nullptr || reading.value < least->value) least = &reading;
        if (greatest == nullptr || reading.value > greatest->value) greatest = &reading;
    }
};

void add_stretch(json& list, const Stretch& stretch, const drivers::PressureUnit& unit) {
    std::vector<const journal::ReadingRecord*> kept;
    for (const auto* one : {stretch.least, stretch.greatest, stretch.bad})
        if (one != nullptr && std::ranges::find(kept, one) == kept.end()) kept.push_back(one);
    std::ranges::sort(kept, {}, [](const auto* one) { return one->number; });
    for (const auto* one : kept) {
        const auto status = static_cast<drivers::ReadingStatus>(one->status);
        const bool good = status == drivers::ReadingStatus::good;
        list.push_back({one->at_us, good ? json(unit.from_pa(one->value)) : json(nullptr), drivers::word(status)});
    }
}

} // namespace

journal::JournalResult<std::string> events_json(const std::string& journal_path, const EventQuery& query) {
    auto reader = journal::JournalReader::open(journal_path);
    if (!reader) return reader.error();
    if (!query.kind.empty() && !bench::names_a_fact(query.kind))
        return journal::JournalError{
            fmt::format("no fact is called \"{}\"; the names stand in daemon/bench/event.hpp", query.kind)};
    auto found = find_events(**reader, journal_path, query);
    if (!found) return found.error();
    std::optional<Micros> offset;
    if (!found->page.empty()) {
        const auto before = utc_offset_at(**reader, found->page.front().first.number);
        if (!before) return before.error();
        offset = *before;
    }
    json events = json::array();
    for (auto& [record, fact] : found->page) {
        const std::string kind = fact["fact"].is_string() ? fact["fact"].get<std::string>() : "";
        if ((kind == "ServiceStarted" || kind == "ClockAnchored") && fact.contains("utc_us") &&
            fact["utc_us"].is_number_integer())
            offset = fact["utc_us"].get<Micros>() - record.at_us;
        fact.erase("fact");
        if (kind == "BenchTaken") {
            fact.erase("text");
            fact.erase("profiles");
        }
        events.push_back({{"number", record.number},
                          {"at_us", record.at_us},
                          {"utc_us", offset ? json(record.at_us + *offset) : json(nullptr)},
                          {"kind", kind},
                          {"fact", std::move(fact)}});
    }
    return text_of({{"events", std::move(events)},
                    {"earlier", found->earlier ? json(*found->earlier) : json(nullptr)},
                    {"later", found->later ? json(*found->later) : json(nullptr)}});
}

std::optional<ReadingsQuery> readings_query(const Decider& decider, const std::string& channel, double last_s) {
    const auto& bench = *decider.state().bench;
    double readings_per_s = 0;
    std::optional<std::size_t> index;
    for (std::size_t i = 0; i < bench.instruments.size(); ++i) {
        const auto& one = bench.instruments[i];
        if (one.manual()) continue;
        readings_per_s += 1 / one.poll_s;
        if (one.name == channel) index = i;
    }
    if (!index) return std::nullopt;
    const auto& instrument = bench.instruments[*index];
    const Micros now = decider.now_us();
    // Every number belongs to a reading or an event. Polls come no faster than planned, and events are few beside them.
    const auto numbers = static_cast<std::uint64_t>(1.5 * readings_per_s * last_s) + 10'000;
    const std::uint64_t last = decider.last_number();
    return ReadingsQuery{static_cast<std::uint32_t>(*index),
                         instrument.name,
                         instrument.profile.unit,
                         now - static_cast<Micros>(last_s * 1e6),
                         now,
                         last > numbers ? last - numbers : 0};
}

journal::JournalResult<std::string> readings_json(const std::string& journal_path, const ReadingsQuery& query) {
    auto reader = journal::JournalReader::open(journal_path);
    if (!reader) return reader.error();
    const auto all = (*reader)->readings(query.channel, query.first, journal_end);
    if (!all) return all.error();
    // Backwards, until the instants fall out of the time asked for or rise again: those are of a former boot.
    auto first = all->size();
    Micros after_us = query.to_us;
    while (first > 0 && (*all)[first - 1].at_us >= query.from_us && (*all)[first - 1].at_us <= after_us) {
        --first;
        after_us = (*all)[first].at_us;
    }
    json list = json::array();
    const Micros length_us = std::max<Micros>(1, (query.to_us - query.from_us) / static_cast<Micros>(most_stretches));
    for (auto i = first; i < all->size();) {
        const Micros stretch_number = ((*all)[i].at_us - query.from_us) / length_us;
        Stretch stretch;
        for (; i < all->size() && ((*all)[i].at_us - query.from_us) / length_us == stretch_number; ++i)
            stretch.take((*all)[i]);
        add_stretch(list, stretch, query.unit);
    }
    return text_of({{"channel", query.name}, {"unit", query.unit.symbol}, {"readings", std::move(list)}});
}

journal::JournalResult<std::string> budget_json(const std::string& journal_path, const std::string& run,
                                                std::int64_t mark) {
    const auto found = evidence_of(journal_path, run, mark);
    if (!found) return found.error();
    json lines = json::array();
    for (const auto& line : found->reference.budget)
        lines.push_back({{"input", line.input},
                         {"estimate", line.estimate},
                         {"u", line.u},
                         {"contribution_pa", line.contribution_pa},
                         {"share", line.share}});
    json corrections = json::array();
    for (const auto& one : found->reference.corrections)
        corrections.push_back({{"name", one.name}, {"pa", one.pa}, {"ppm", one.ppm}});
    json reading = json::array();
    for (const auto& line : reading_lines(found->taken))
        reading.push_back({{"input", line.input}, {"contribution_pa", line.u_pa}, {"share", line.share}});
    return text_of({{"mark", mark},
                    {"run", found->taken.run},
                    {"channel", found->instrument},
                    {"unit", found->unit.symbol},
                    {"pascals_per_unit", found->unit.pascals},
                    {"reference_pa", found->taken.reference_pa},
                    {"nominal_pa", found->reference.nominal_pa},
                    {"u_reference_pa", found->taken.u_reference_pa},
                    {"u_pa", found->taken.u_pa},
                    {"corrections", std::move(corrections)},
                    {"lines", std::move(lines)},
                    {"reading", std::move(reading)},
                    {"notes", found->reference.notes}});
}

} // namespace stillmark::decider
