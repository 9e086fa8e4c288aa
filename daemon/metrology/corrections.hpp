#pragma once

#include "daemon/metrology/reference_values.hpp"

#include <vector>

namespace stillmark::metrology {

struct Corrections {
    double nominal_pa;
    std::vector<Correction> lines;
};

/// What each effect adds, switched on one after the other from the nominal pressure (stated masses at standard gravity
/// on A_0), so that nominal and lines sum to the pressure at the instrument. `values` has its air settled.
Corrections corrections(const ReferenceValues<double>& values);

} // namespace stillmark::metrology
