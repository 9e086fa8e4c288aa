#pragma once

#include "daemon/metrology/propagation/monte_carlo.hpp"

#include <cstddef>
#include <span>
#include <vector>

namespace stillmark::metrology {

/// The ends of a distribution of trials, each in ascending order: all that coverage intervals need.
struct Tails {
    std::vector<double> low;
    std::vector<double> high;
};

/// How many values a tail needs for intervals of this coverage: those outside it, and one more.
std::size_t tail_size(std::size_t values, double coverage);

/// The lowest and the highest `size` of the values, which must be finite; `size` at most their number. `scratch` is
/// overwritten.
Tails tails_of(std::span<const double> values, std::size_t size, std::vector<double>& scratch);

/// Coverage intervals of the trials whose tails these are (JCGM 101:2008, 7.7.1 and 7.7.2; q = pM, its whole part and a
/// half added where pM is none).
Interval shortest_interval(const Tails& tails);
Interval symmetric_interval(const Tails& tails);

} // namespace stillmark::metrology
