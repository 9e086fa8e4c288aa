#pragma once

#include "daemon/metrology/evaluation/least_squares.hpp"

#include <span>

namespace stillmark::metrology {

/// A straight line y = intercept + slope x with its covariance.
struct TransferLine {
    bool fitted = false; ///< false: fewer than two different x, or a number that is none
    double slope = 0;
    double intercept = 0;
    double u_slope = 0;
    double u_intercept = 0;
    double covariance = 0; ///< of intercept and slope
    double residual_sd = 0;
    double chi_squared = 0;
    double dof = 0; ///< points - 2
};

/// A polynomial of the first degree as a line.
TransferLine line_of(const LeastSquares& fit);

/// Ordinary least squares; uncertainties from the scatter of the residuals with n - 2 degrees of freedom
/// (JCGM 100:2008, H.3).
TransferLine fit_line(std::span<const double> x, std::span<const double> y);

/// Weighted least squares with stated standard uncertainties of y (ISO/TS 28037:2010, clause 6).
TransferLine fit_line(std::span<const double> x, std::span<const double> y, std::span<const double> u_y);

/// Uncertainties in x and in y, uncorrelated (ISO/TS 28037:2010, clause 7): minimises the sum of
/// (y - a - b x)^2 / (u_y^2 + b^2 u_x^2) together with the true x of each point. Not fitted where 200 steps do not
/// bring the slope to rest.
TransferLine fit_line(std::span<const double> x, std::span<const double> y, std::span<const double> u_x,
                      std::span<const double> u_y);

struct LineValue {
    double value = 0;
    double u = 0;
};

/// y for an x, with what the line and the x contribute (ISO/TS 28037:2010, clause 11).
LineValue forward(const TransferLine& line, double x, double u_x);
/// x for a y, likewise. A line without slope gives no x: not a number.
LineValue inverse(const TransferLine& line, double y, double u_y);

} // namespace stillmark::metrology
