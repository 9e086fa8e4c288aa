#include "daemon/metrology/effective_dof.hpp"

#include <limits>

namespace stillmark::metrology {

double effective_dof(std::span<const Share> shares) {
    double variance = 0;
    for (const Share& share : shares) {
        variance += share.u * share.u;
    }
    if (!(variance > 0)) return std::numeric_limits<double>::infinity();
    double inverse = 0; // in parts of the variance: fourth powers of pascals would lose digits at the ends of the scale
    for (const Share& share : shares) {
        const double part = share.u * share.u / variance;
        inverse += part * part / share.dof;
    }
    return inverse > 0 ? 1 / inverse : std::numeric_limits<double>::infinity();
}

} // namespace stillmark::metrology
