#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace stillmark::metrology {

/// One lift of one disc.
struct DiscMove {
    bool on = false; ///< put on; else taken off
    std::size_t disc = 0;

    bool operator==(const DiscMove&) const = default;
};

/// The lifts that change one stack into another, in order. Both list discs bottom first. A disc comes off only after
/// those above it, so everything above the first place where the stacks differ comes off, top first, and then goes on:
/// no fewer lifts do it.
std::vector<DiscMove> disc_moves(std::span<const std::size_t> from, std::span<const std::size_t> to);

} // namespace stillmark::metrology
