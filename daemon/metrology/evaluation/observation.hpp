#pragma once

#include "daemon/metrology/sentence.hpp"

#include <limits>
#include <optional>
#include <string>

namespace stillmark::metrology {

/// One reading of the instrument against the reference, as it stands in a result. All values of one evaluation are in
/// one unit, of the caller's choice; so are its results.
struct Observation {
    int series = 1; ///< M1, M2 ... in the order in which they were run; up and down may share a number
    bool rising = true;
    double reference = 0;
    double reading = 0; ///< of a dial after tapping
    std::optional<double> untapped;
    std::string target;                ///< the point's name; empty: the reference says which point it is
    Sentence shown_as = {};            ///< the name in sentences; empty: the target as it stands
    std::optional<double> u_reference; ///< standard uncertainty at this reading
    double dof_reference = std::numeric_limits<double>::infinity();
    std::optional<double> u_mean; ///< standard uncertainty of the mean that `reading` is, without resolution
    double dof_mean = std::numeric_limits<double>::infinity();
    bool vented = false;  ///< the zero, with the line open to air
    std::string left_out; ///< why it does not count (void, missing, not a number); empty: it counts
};

} // namespace stillmark::metrology
