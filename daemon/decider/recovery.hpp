#pragma once

#include "daemon/bench/state.hpp"
#include "daemon/journal/journal.hpp"

#include <cstdint>
#include <string>
#include <vector>

namespace stillmark::decider {

/// The state that a journal leads to.
struct Recovered {
    bench::State state;
    std::uint64_t last_number = 0;
};

/// Folds a journal's events; a journal that does not exist yet is an empty one.
journal::JournalResult<Recovered> recover(const std::string& journal_path);

/// The good readings of a channel after number `from` up to number `last`, in order, Pa; empty where the journal cannot
/// be read.
std::vector<double> good_readings(const std::string& journal_path, std::uint32_t channel, std::uint64_t from,
                                  std::uint64_t last);

} // namespace stillmark::decider
