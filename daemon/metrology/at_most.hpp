#pragma once

#include <algorithm>
#include <cmath>

namespace stillmark::metrology {

/// Whether a is at most b, where either may have been rounded on its way here: the two count as equal within a relative
/// 1e-9, which is far above the rounding of a double and far below any uncertainty of a pressure.
inline bool at_most(double a, double b) {
    constexpr double rounding = 1e-9;
    return a <= b || a - b <= rounding * std::max(std::abs(a), std::abs(b));
}

} // namespace stillmark::metrology
