#pragma once

#include <cstdint>
#include <limits>
#include <string>

namespace stillmark::metrology {

/// The shape of what is known about an input (JCGM 101:2008, table 1).
enum class Distribution : std::uint8_t { normal, rectangular, triangular, arcsine };

/// "normal", "rectangular", ...: the word of bench files and results.
const char* word(Distribution distribution);

/// An input with its standard uncertainty. All in SI; `dof` is infinite where nothing else is known.
struct Uncertain {
    double value = 0;
    double u = 0;
    double dof = std::numeric_limits<double>::infinity();
    Distribution distribution = Distribution::normal;

    bool operator==(const Uncertain&) const = default;
};

/// u of limits +-half_width: half_width/sqrt(3), /sqrt(6), /sqrt(2) (JCGM 100:2008, 4.3.7 and 4.3.9);
/// of a normal distribution the limits hold 99.73 %: half_width/3 (4.3.6).
double standard_uncertainty(double half_width, Distribution distribution);

} // namespace stillmark::metrology
