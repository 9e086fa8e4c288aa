#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace stillmark::metrology {

/// A linear least-squares problem: rows of a design matrix, values, and standard uncertainties of the values.
struct LeastSquaresProblem {
    std::size_t columns = 0;
    std::vector<double> design; ///< row by row
    std::vector<double> values;
    std::vector<double> u;   ///< of each value; empty: equal and unknown
    bool about_mean = false; ///< the design holds a constant: what it explains counts from the mean of the values
};

struct LeastSquares {
    bool solved = false; ///< false: fewer rows than columns, a column that others make up, or a number that is none
    std::vector<double> coefficients;
    /// Row by row. With `u` as they propagate; without, scaled by the residual variance.
    std::vector<double> covariance;
    std::vector<double> residuals;
    double chi_squared = 0; ///< of weighted residuals; without `u` their sum of squares
    double residual_sd = 0; ///< sqrt(sum of squared residuals / dof), in the unit of the values; 0 without dof
    double dof = 0;         ///< rows - columns
    /// Sum of squares, weighted as the fit, that the design explains: about the mean where it holds a constant.
    double explained = 0;
    double r_squared = 0; ///< part of the whole sum of squares that is explained; not a number where that is zero
    double f = 0; ///< what is explained a column over what is left a degree of freedom; not finite where none is

    double u(std::size_t i) const;
    double covariance_of(std::size_t i, std::size_t j) const { return covariance[i * coefficients.size() + j]; }
};

/// Solves by Householder reflections on columns scaled to equal length, in extended precision where the machine has it:
/// normal equations would lose half of the digits (NIST StRD gives the measure).
LeastSquares solve(const LeastSquaresProblem& problem);

/// Coefficients of 1, x, x^2 ... up to `degree` by least squares.
LeastSquares fit_polynomial(std::span<const double> x, std::span<const double> y, std::size_t degree,
                            std::span<const double> u_y = {});

/// Value of such a polynomial (Horner).
double polynomial(std::span<const double> coefficients, double x);

} // namespace stillmark::metrology
