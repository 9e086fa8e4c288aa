#pragma once

#include "daemon/metrology/reference_pressure.hpp"

#include <vector>

namespace stillmark::metrology {

struct VentedLine;

struct Budget {
    std::vector<BudgetLine> lines; ///< largest contribution first
    double u_pa;
    double dof;
};

/// First-order budget of the pressure at the instrument. One line for every input with an uncertainty; inputs that are
/// one physical quantity, or come from one certificate, move together and make one line with the least of their degrees
/// of freedom.
Budget budget(const ReferenceInputs& inputs);
/// The same for a line that is open to air.
Budget budget(const VentedLine& line);

} // namespace stillmark::metrology
