#pragma once

#include "daemon/journal/database.hpp"

#include <cstdint>
#include <functional>

namespace stillmark::journal {

/// The event in the present row of a statement that gives number, at_us, body.
EventRecord event_in(const Statement& row);

/// No block that begins before this number can hold `number`.
std::uint64_t earliest_block_with(std::uint64_t number);

JournalError stands_twice(const Database& database, std::uint64_t number);

/// Visits events and readings from number `from` on in one order; holds the blocks of one stretch of block_span
/// numbers.
JournalResult<void> walk_merged(Database& database, const std::function<bool(const EventRecord&)>& event,
                                const std::function<bool(const ReadingRecord&)>& reading, std::uint64_t from);

} // namespace stillmark::journal
