#include "daemon/metrology/evaluation/lack_of_fit.hpp"

#include <boost/math/distributions/fisher_f.hpp>

#include <cmath>
#include <map>

namespace stillmark::metrology {

namespace {

/// Residuals of one point, as they are summed up. They are counted from the first of them, so that equal ones leave
/// nothing.
struct PointSums {
    double first = 0;
    double weights = 0;
    double beyond = 0; ///< weighted sum of residual - first

    double mean() const { return first + beyond / weights; }
};

} // namespace

std::optional<LackOfFit> lack_of_fit(const LeastSquares& fit, std::span<const std::size_t> point,
                                     std::span<const double> u) {
    const auto& residuals = fit.residuals;
    if (!fit.solved || point.size() != residuals.size() || (!u.empty() && u.size() != residuals.size()))
        return std::nullopt;
    const auto weight = [&](std::size_t i) { return u.empty() ? 1 : 1 / (u[i] * u[i]); };
    std::map<std::size_t, PointSums> points;
    for (std::size_t i = 0; i < residuals.size(); ++i) {
        PointSums& sums = points.try_emplace(point[i], PointSums{residuals[i], 0, 0}).first->second;
        sums.weights += weight(i);
        sums.beyond += weight(i) * (residuals[i] - sums.first);
    }
    if (points.size() == residuals.size() || points.size() <= fit.coefficients.size()) return std::nullopt;
    LackOfFit out;
    out.pure_error_dof = static_cast<double>(residuals.size() - points.size());
    out.lack_dof = static_cast<double>(points.size() - fit.coefficients.size());
    for (std::size_t i = 0; i < residuals.size(); ++i) {
        const PointSums& sums = points.at(point[i]);
        const double off = residuals[i] - sums.first - sums.beyond / sums.weights;
        out.pure_error += weight(i) * off * off;
    }
    for (const auto& [name, sums] : points)
        out.lack += sums.weights * sums.mean() * sums.mean();
    const double f = out.lack / out.lack_dof / (out.pure_error / out.pure_error_dof);
    if (!(out.pure_error > 0) || !std::isfinite(f)) return out;
    out.f = f;
    out.p = boost::math::cdf(boost::math::complement(boost::math::fisher_f(out.lack_dof, out.pure_error_dof), f));
    return out;
}

} // namespace stillmark::metrology
