#pragma once

#include "daemon/metrology/loads/load_plan.hpp"

#include <cstdint>
#include <vector>

namespace stillmark::metrology {

using Micrograms = std::int64_t;
/// A set of discs, one bit each in the order of stacking: bit 0 is the disc that lies lowest.
using Stack = std::uint64_t;

/// Discs that count as equal, neighbours in the order of stacking. A stack holds the first so many of them.
struct AlikeDiscs {
    std::size_t first = 0; ///< place in the order of stacking
    std::size_t count = 0;
    std::vector<bool> serves;
};

/// The discs in the order in which they are stacked.
struct StackOrder {
    std::vector<std::size_t> disc;     ///< by place: which disc of the set
    std::vector<Micrograms> effective; ///< by place
    std::vector<Micrograms> lifted;    ///< by place
    std::vector<AlikeDiscs> alike;     ///< lowest first
    bool whole = true;                 ///< all discs of the set have a place
};

Micrograms micrograms(double kg);

/// Big below small; equal ones in the order of the set, as a bench lists every load.
StackOrder stack_order(std::span<const LoadDisc> discs, double alike, std::size_t ranges);

} // namespace stillmark::metrology
