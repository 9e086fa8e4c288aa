#pragma once

#include "daemon/bench/state.hpp"
#include "daemon/journal/journal.hpp"

#include <functional>
#include <string>
#include <vector>

namespace stillmark::decider {

/// One mark, made again from the journalled events and readings.
struct ReplayedMark {
    bench::MarkTaken journalled;
    bench::Fact again; ///< what the same evidence makes now
    bool same = false; ///< to the last bit
    /// What differs: "mean_pa: journalled 1, again 2"; or why there is no mark now.
    std::vector<std::string> differences;
    /// The largest relative difference among the numbers; of interest on another build or machine.
    double largest_relative = 0;
};

struct Replay {
    std::vector<ReplayedMark> marks;
    std::vector<bench::ServiceStarted> services; ///< which builds and machines wrote the journal
    bench::State state;
    std::uint64_t readings = 0;
    std::uint64_t events = 0;
};

/// Folds the journal in its order and makes every mark afresh.
journal::JournalResult<Replay> replay(const std::string& journal_path);

} // namespace stillmark::decider
