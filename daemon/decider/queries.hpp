#pragma once

#include "daemon/decider/decider.hpp"
#include "daemon/journal/journal.hpp"
#include "drivers/units.hpp"

#include <cstdint>
#include <optional>
#include <string>

// What is asked of the journal beside the one thread that decides: each call opens a reader of its own, so it may run
// on any thread, also while the service writes. Answers are the text of the JSON that is described.

namespace stillmark::decider {

/// Which events are asked for: those from a number on, those below a number, or (neither) the latest.
struct EventQuery {
    std::optional<std::uint64_t> from;
    std::optional<std::uint64_t> below;
    std::size_t limit = 100; ///< 1 to most_events
    std::string kind;        ///< the name of a fact; empty: all
};
inline constexpr std::size_t most_events = 500;

/// {"events": [{"number", "at_us", "utc_us", "kind", "fact"}], "earlier": number|null, "later": number|null}, in order
/// of number; `earlier` is the next page's `below`, `later` its `from`. Texts of bench files are left out. Of a kind
/// that is rare as many events are looked through as fit in a moment, and the page then is short.
journal::JournalResult<std::string> events_json(const std::string& journal_path, const EventQuery& query);

/// Which readings are asked for; made on the deciding thread.
struct ReadingsQuery {
    std::uint32_t channel = 0;
    std::string name;
    drivers::PressureUnit unit;
    Micros from_us = 0;
    Micros to_us = 0;
    std::uint64_t first = 0; ///< no reading since `from_us` has a lower number
};
/// Nothing where no instrument has that name, or a person reads it.
std::optional<ReadingsQuery> readings_query(const Decider& decider, const std::string& channel, double last_s);

/// {"channel", "unit", "readings": [[at_us, value | null, status], ...]}, thinned to at most 2000: of each stretch of
/// time the least, the greatest and the latest bad one, so that no peak is lost.
journal::JournalResult<std::string> readings_json(const std::string& journal_path, const ReadingsQuery& query);

/// The budget of one mark, made again from the journal: {"mark", "run", "channel", "unit", "u_reference_pa", "lines":
/// [{"input", "estimate", "u", "contribution_pa", "share"}], "reading": [...], "notes"}. An error where there is no
/// such mark.
journal::JournalResult<std::string> budget_json(const std::string& journal_path, const std::string& run,
                                                std::int64_t mark);

} // namespace stillmark::decider
