#pragma once

#include <span>

namespace stillmark::metrology {

/// One independent part of a combined standard uncertainty.
struct Share {
    double u;
    double dof;
};

/// Effective degrees of freedom by Welch-Satterthwaite (JCGM 100:2008, G.4.1, equation G.2b). Infinite where every
/// share is known with infinite degrees of freedom, or is zero.
double effective_dof(std::span<const Share> shares);

} // namespace stillmark::metrology
