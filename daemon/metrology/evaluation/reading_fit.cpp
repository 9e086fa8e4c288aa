#include "daemon/metrology/evaluation/reading_fit.hpp"

#include <boost/math/distributions/chi_squared.hpp>

#include <cmath>

namespace stillmark::metrology {

namespace {

double slope_at(const std::vector<double>& coefficients, double x) {
    double slope = 0;
    for (std::size_t i = coefficients.size(); i-- > 1;)
        slope = slope * x + static_cast<double>(i) * coefficients[i];
    return slope;
}

/// An error that shifts each reading by `shift` when it is as large as its standard uncertainty. Coefficients depend
/// linearly on the readings, so that those of the shifts are what it does to them.
void add_common(LeastSquares& curve, const FitReadings& readings, const std::vector<double>& shift) {
    const std::size_t n = curve.coefficients.size();
    const LeastSquares moved = fit_polynomial(readings.reference, shift, n - 1, readings.u_own);
    if (!moved.solved) return;
    for (std::size_t i = 0; i < n; ++i)
        for (std::size_t j = 0; j < n; ++j)
            curve.covariance[i * n + j] += moved.coefficients[i] * moved.coefficients[j];
}

/// Takes the readings' own part as large as they are seen to scatter, where they were said to scatter less.
void test_chi_squared(ReadingFit& fit) {
    if (!fit.weighted || !(fit.curve.dof > 0)) return;
    constexpr double part = 0.95;
    fit.chi_squared_limit = boost::math::quantile(boost::math::chi_squared(fit.curve.dof), part);
    if (fit.curve.chi_squared <= *fit.chi_squared_limit) return;
    const double factor = fit.curve.chi_squared / fit.curve.dof;
    fit.enlarged = std::sqrt(factor);
    for (double& one : fit.curve.covariance)
        one *= factor;
}

} // namespace

ReadingFit fit_readings(const FitReadings& readings, std::size_t degree) {
    ReadingFit fit;
    fit.curve = fit_polynomial(readings.reference, readings.reading, degree, readings.u_own);
    if (!fit.curve.solved) return fit;
    fit.weighted = !readings.u_own.empty();
    fit.lack_of_fit = lack_of_fit(fit.curve, readings.point, readings.u_own);
    test_chi_squared(fit);
    std::vector<double> shift;
    if (readings.u_reference.size() == readings.reference.size()) {
        for (std::size_t i = 0; i < readings.reference.size(); ++i)
            shift.push_back(slope_at(fit.curve.coefficients, readings.reference[i]) * readings.u_reference[i]);
        add_common(fit.curve, readings, shift);
    }
    if (readings.u_meter.size() == readings.reference.size()) add_common(fit.curve, readings, readings.u_meter);
    if (readings.u_offset > 0) {
        shift.assign(readings.reference.size(), readings.u_offset);
        add_common(fit.curve, readings, shift);
    }
    return fit;
}

} // namespace stillmark::metrology
