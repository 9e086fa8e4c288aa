#pragma once

#include "daemon/metrology/evaluation/lack_of_fit.hpp"
#include "daemon/metrology/evaluation/least_squares.hpp"

#include <cstddef>
#include <optional>
#include <vector>

namespace stillmark::metrology {

/// Readings at references, with what is known of their errors.
struct FitReadings {
    std::vector<double> reference;
    std::vector<double> reading;
    std::vector<double> u_own; ///< of each reading, independent of the others; empty: not known, all count alike
    /// Standard, one error common to all references: they come from one standard, and its error does not average out
    /// over readings. Empty: not known.
    std::vector<double> u_reference;
    double u_offset = 0;                 ///< standard, of an error that every reading has alike
    std::vector<double> u_meter = {};    ///< the same of what reads the instrument's output; empty: nothing does
    std::vector<std::size_t> point = {}; ///< of each reading, by any number; empty: not known
};

/// A polynomial through readings. The covariance of its coefficients is that of the readings' own errors and of the
/// common ones together.
struct ReadingFit {
    LeastSquares curve;
    bool weighted = false; ///< by `u_own`
    /// 95 % quantile of chi-squared for the degrees of freedom of a weighted fit. Where the observed one is larger, the
    /// stated uncertainties do not explain how far the readings lie from the curve (ISO/TS 28037:2010, 6.3), and their
    /// part of the standard uncertainties was enlarged by `enlarged`, sqrt(chi-squared / dof).
    std::optional<double> chi_squared_limit;
    double enlarged = 1;
    std::optional<LackOfFit> lack_of_fit; ///< where points were read repeatedly
};

/// Fits the reading as a polynomial of the reference. The weights are the readings' own errors alone: an error that all
/// share says nothing of which reading to trust, and is carried through the fit afterwards (JCGM 100:2008, 5.2.2 with
/// r = 1).
ReadingFit fit_readings(const FitReadings& readings, std::size_t degree);

} // namespace stillmark::metrology
