#include "daemon/metrology/evaluation/transfer_line.hpp"

#include <cmath>
#include <limits>
#include <vector>

namespace stillmark::metrology {

TransferLine line_of(const LeastSquares& fit) {
    TransferLine line;
    if (!fit.solved) return line;
    line.fitted = true;
    line.intercept = fit.coefficients[0];
    line.slope = fit.coefficients[1];
    line.u_intercept = fit.u(0);
    line.u_slope = fit.u(1);
    line.covariance = fit.covariance_of(0, 1);
    line.residual_sd = fit.residual_sd;
    line.chi_squared = fit.chi_squared;
    line.dof = fit.dof;
    return line;
}

TransferLine fit_line(std::span<const double> x, std::span<const double> y) {
    return line_of(fit_polynomial(x, y, 1));
}

TransferLine fit_line(std::span<const double> x, std::span<const double> y, std::span<const double> u_y) {
    return line_of(fit_polynomial(x, y, 1, u_y));
}

TransferLine fit_line(std::span<const double> x, std::span<const double> y, std::span<const double> u_x,
                      std::span<const double> u_y) {
    TransferLine line = fit_line(x, y, u_y);
    if (!line.fitted || u_x.size() != x.size()) return {};
    // Gauss-Newton on a, b and the true x of every point. For a given line the best true x lies where the weighted
    // distances balance; what is left is a line through moved points with the effective weights.
    std::vector<double> effective(x.size()), moved_x(x.size()), moved_y(x.size());
    constexpr int most_steps = 200;
    bool at_rest = false;
    for (int step = 0; step < most_steps && !at_rest; ++step) {
        for (std::size_t i = 0; i < x.size(); ++i) {
            const double residual = y[i] - line.intercept - line.slope * x[i];
            const double t = 1 / (u_y[i] * u_y[i] + line.slope * line.slope * u_x[i] * u_x[i]);
            effective[i] = std::sqrt(1 / t);
            moved_x[i] = x[i] + residual * line.slope * u_x[i] * u_x[i] * t;
            moved_y[i] = residual;
        }
        // The residuals about the present line, as they depend on small changes of intercept and slope.
        const TransferLine change = fit_line(moved_x, moved_y, effective);
        if (!change.fitted) return {};
        line.intercept += change.intercept;
        line.slope += change.slope;
        line.u_intercept = change.u_intercept;
        line.u_slope = change.u_slope;
        line.covariance = change.covariance;
        at_rest = std::abs(change.slope) <= 1e-14 * std::abs(line.slope) + 1e-3 * std::numeric_limits<double>::min() &&
                  std::abs(change.intercept) <= 1e-12 * change.u_intercept;
        at_rest = at_rest || (std::abs(change.slope) <= 1e-10 * change.u_slope &&
                              std::abs(change.intercept) <= 1e-10 * change.u_intercept);
    }
    if (!at_rest) return {};
    line.chi_squared = 0;
    double square = 0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double residual = y[i] - line.intercept - line.slope * x[i];
        line.chi_squared += residual * residual / (u_y[i] * u_y[i] + line.slope * line.slope * u_x[i] * u_x[i]);
        square += residual * residual;
    }
    line.residual_sd = line.dof > 0 ? std::sqrt(square / line.dof) : 0;
    return line;
}

LineValue forward(const TransferLine& line, double x, double u_x) {
    const double of_line =
        line.u_intercept * line.u_intercept + 2 * x * line.covariance + x * x * line.u_slope * line.u_slope;
    const double of_x = line.slope * u_x;
    return {line.intercept + line.slope * x, std::sqrt(of_line + of_x * of_x)};
}

LineValue inverse(const TransferLine& line, double y, double u_y) {
    if (!(line.slope != 0)) return {std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::quiet_NaN()};
    const double x = (y - line.intercept) / line.slope;
    const double of_line =
        line.u_intercept * line.u_intercept + 2 * x * line.covariance + x * x * line.u_slope * line.u_slope;
    return {x, std::sqrt(of_line + u_y * u_y) / std::abs(line.slope)};
}

} // namespace stillmark::metrology
