#include "daemon/metrology/mark_uncertainty.hpp"

#include "daemon/metrology/effective_dof.hpp"

#include <array>
#include <cmath>
#include <limits>

namespace stillmark::metrology {

double resolution_uncertainty_pa(double resolution_pa) {
    return resolution_pa / std::sqrt(12.0);
}

MarkUncertainty combine(double u_reference_pa, double dof_reference, double u_mean_pa, double dof_mean,
                        double resolution_pa) {
    const double u_resolution_pa = resolution_uncertainty_pa(resolution_pa);
    const std::array<Share, 3> shares{{{u_reference_pa, dof_reference},
                                       {u_mean_pa, dof_mean},
                                       {u_resolution_pa, std::numeric_limits<double>::infinity()}}};
    return {std::hypot(u_reference_pa, u_mean_pa, u_resolution_pa), effective_dof(shares), u_resolution_pa};
}

} // namespace stillmark::metrology
