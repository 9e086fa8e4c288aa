#pragma once

#include <cstdint>

namespace stillmark::bench {

/// What the readings of one nominal pressure in both ranges say of the balance.
enum class OverlapFinding : std::uint8_t {
    agree,
    differ,
    too_coarse, ///< the instrument's resolution hides what the ranges differ by: nothing is said either way
};
/// "agree", "differ", "too_coarse".
const char* word(OverlapFinding finding);

} // namespace stillmark::bench
