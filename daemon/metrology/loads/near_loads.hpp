#pragma once

#include "daemon/metrology/loads/stack_order.hpp"

#include <optional>
#include <vector>

namespace stillmark::metrology {

struct NearLoad {
    Stack stack = 0;
    Micrograms effective = 0;
};

/// All loads of one range, as sums of two halves of the set: the big discs and the small ones, each half sorted.
class LoadsOfRange {
  public:
    /// Without a half of more than `most_in_half` sums; where the set does not allow that, equal or big discs are left
    /// out of use and `whole()` is false.
    LoadsOfRange(const StackOrder& order, std::size_t range, std::size_t most_in_half = std::size_t{1} << 20);

    bool whole() const { return whole_; }

    /// The load nearest to `wanted` within bounds; of two equally near ones the lighter.
    std::optional<NearLoad> nearest(Micrograms wanted, Micrograms least, Micrograms most) const;

    struct Found {
        std::vector<NearLoad> loads; ///< fewest discs first
        bool all = true;
    };
    /// Every load from `least` to `most`; where there are more than `at_most`, `kept` of them with few discs.
    Found between(Micrograms least, Micrograms most, std::size_t at_most, std::size_t kept) const;

  private:
    std::vector<NearLoad> big_;
    std::vector<NearLoad> small_;
    std::vector<NearLoad> big_by_count_;
    bool whole_ = true;
};

} // namespace stillmark::metrology
