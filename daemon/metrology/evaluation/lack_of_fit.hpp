#pragma once

#include "daemon/metrology/evaluation/least_squares.hpp"

#include <cstddef>
#include <optional>
#include <span>

namespace stillmark::metrology {

/// Whether readings that were repeated at points lie farther from a curve than they scatter at one point (NIST/SEMATECH
/// e-Handbook of Statistical Methods, 4.4.4.6). Sums of squares are weighted as the fit is.
struct LackOfFit {
    double pure_error = 0; ///< of the readings about the mean of their point
    double pure_error_dof = 0;
    double lack = 0; ///< of the means of the points about the curve
    double lack_dof = 0;
    std::optional<double> f; ///< ratio of the mean squares; nothing where all repeated readings agree exactly
    std::optional<double> p; ///< probability of an F at least as large where the curve has the right shape
};

/// `point` names the point of each reading of the fit, by any number; `u` is the weighting of the fit, empty where
/// there is none. Where references of one point differ a little, readings are compared by how far each lies from the
/// curve. Nothing where no point was read repeatedly, or where there are no more points than coefficients.
std::optional<LackOfFit> lack_of_fit(const LeastSquares& fit, std::span<const std::size_t> point,
                                     std::span<const double> u = {});

} // namespace stillmark::metrology
