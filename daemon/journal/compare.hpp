#pragma once

#include "daemon/journal/journal.hpp"

#include <cstdint>
#include <string>

namespace stillmark::journal {

/// What two journals hold, row by row.
struct Comparison {
    enum class Outcome : std::uint8_t { identical, other_is_beginning, this_is_beginning, different };
    Outcome outcome = Outcome::identical;
    std::uint64_t alike = 0; ///< events and blocks that stand in both, up to the first difference
    std::string words;       ///< the first difference, or where the shorter one ends
};

/// Compares what is stored, wherever it lies in its file. Says nothing of whether either is as it was written.
JournalResult<Comparison> compare(const std::string& path, const std::string& other_path);

} // namespace stillmark::journal
