#pragma once

#include "daemon/journal/journal.hpp"

#include <cstdint>
#include <vector>

namespace stillmark::journal {

/// What waits to be committed, in order of number within each kind.
struct Batch {
    std::vector<EventRecord> events;
    std::vector<ReadingRecord> readings;
    std::uint64_t last = 0; ///< the highest number in it

    std::size_t size() const { return events.size() + readings.size(); }
    void clear() {
        events.clear();
        readings.clear();
    }
};

} // namespace stillmark::journal
