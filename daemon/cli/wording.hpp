#pragma once

#include "daemon/cli/frame.hpp"

#include <optional>
#include <string>
#include <vector>

namespace stillmark::cli {

/// "2.1 s", "48 s", "3 min 48 s", "1 h 12 min"; a negative span is "0.0 s".
std::string span_words(Micros span_us);

/// A pressure in a unit, with a fixed number of decimals.
struct Shown {
    std::string unit;   ///< the instrument's unit, or "Pa" where it is not one that we know
    double pascals = 1; ///< in one unit
    int decimals = 0;

    std::string number(std::optional<double> pa) const;        ///< "40.0123"; "-" where there is none
    std::string signed_number(std::optional<double> pa) const; ///< "+0.0123"; a zero has no sign
};

/// How to show what goes with this uncertainty: the expanded uncertainty (over 0) keeps two significant digits and
/// everything else its decimals. JCGM 100:2008, 7.2.6. With none, seven digits of `example_pa` are kept.
Shown show_with(const std::string& unit, std::optional<double> expanded_pa, double example_pa);

/// The name of a status, flags and reason as one remark; empty for a sighted mark without flags.
std::string remark_words(const Mark& mark);

/// "A1, A2, B1", or "no discs".
std::string disc_words(const std::vector<std::string>& discs);

} // namespace stillmark::cli
