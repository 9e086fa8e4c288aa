#pragma once

#include "daemon/bench/state.hpp"

#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::bench {

/// The marks of one channel of a run, and which of them stands for each visit: the one rule by which evaluation,
/// overlap, screens and documents choose. Of the marks at a visit that count, the latest that was bracketed (or vented)
/// stands; without one the latest that a reviewer accepted. The others that count are superseded.
class RunMarks {
  public:
    RunMarks(const State& state, const Run& run, std::size_t channel);

    /// In the order in which they were taken.
    const std::vector<const Mark*>& all() const { return marks_; }
    /// The mark that stands for a visit, or nothing.
    const Mark* standing(std::size_t visit) const;
    /// The number of the mark that stands in place of one that counts, or nothing.
    std::optional<std::int64_t> superseded_by(const Mark& mark) const;

  private:
    std::vector<const Mark*> marks_;
    std::map<std::size_t, const Mark*> standing_; ///< by visit
};

} // namespace stillmark::bench
