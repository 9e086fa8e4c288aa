#pragma once

#include <span>

namespace stillmark::metrology {

/// How far a characteristic departs from a straight line, by the three definitions of IEC 61298-2 (from memory;
/// ISA-37.3 names them too): the largest distance in y, without sign, in the unit of y. Not a number for fewer than two
/// different x.
struct Linearity {
    double terminal = 0;    ///< line through the first and the last point
    double zero_based = 0;  ///< line through the first point, its slope such that the largest distance is least
    double independent = 0; ///< line such that the largest distance is least
    double zero_based_slope = 0;
    double independent_slope = 0;
    double independent_intercept = 0;
};

/// x strictly rising.
Linearity linearity(std::span<const double> x, std::span<const double> y);

} // namespace stillmark::metrology
