#include "daemon/metrology/evaluation/inverse_reading.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <vector>

namespace stillmark::metrology {

namespace {

/// Coefficients of the derivative.
std::vector<double> derivative(const std::vector<double>& of) {
    std::vector<double> out;
    for (std::size_t i = 1; i < of.size(); ++i)
        out.push_back(static_cast<double>(i) * of[i]);
    return out;
}

/// Where the curve keeps no slope of one sign in the range: the slope of a cubic is least or greatest at the ends or
/// where its own slope is zero.
std::optional<NoInverse> turn_of(const std::vector<double>& curve, const std::vector<double>& slope, double low,
                                 double high) {
    // What rounding leaves of the slope of equal readings is none.
    constexpr double digits = 1e-12;
    const double level =
        digits * std::max(std::abs(polynomial(curve, low)), std::abs(polynomial(curve, high))) / (high - low);
    std::vector<double> at{polynomial(slope, low), polynomial(slope, high)};
    if (slope.size() == 3 && slope[2] != 0)
        if (const double vertex = -slope[1] / (2 * slope[2]); vertex > low && vertex < high)
            at.push_back(polynomial(slope, vertex));
    const auto [least, most] = std::minmax_element(at.begin(), at.end());
    if ((*least < -level) && (*most > level)) return NoInverse::not_monotone;
    if (!(*least > level) && !(*most < -level)) return NoInverse::no_slope;
    return std::nullopt;
}

/// Where a rising or falling curve has this value, halved down to the last digit of the larger end of the range.
double root(const std::vector<double>& curve, double value, double low, double high) {
    const bool rising = polynomial(curve, high) > polynomial(curve, low);
    const double fine = std::numeric_limits<double>::epsilon() * std::max(std::abs(low), std::abs(high));
    constexpr int most_halvings = 60; // of a range as wide as its larger end
    for (int i = 0; i < most_halvings && high - low > fine; ++i) {
        const double middle = std::midpoint(low, high);
        (rising == (polynomial(curve, middle) < value) ? low : high) = middle;
    }
    return std::abs(polynomial(curve, low) - value) <= std::abs(polynomial(curve, high) - value) ? low : high;
}

/// Variance of the curve at x by the covariance of its coefficients.
double variance_at(const LeastSquares& curve, double x) {
    long double sum = 0, row_power = 1;
    for (std::size_t i = 0; i < curve.coefficients.size(); ++i) {
        long double power = row_power;
        for (std::size_t j = 0; j < curve.coefficients.size(); ++j) {
            sum += power * curve.covariance_of(i, j);
            power *= x;
        }
        row_power *= x;
    }
    return std::max(static_cast<double>(sum), 0.0);
}

} // namespace

const char* word(NoInverse why) {
    switch (why) {
    case NoInverse::no_slope:
        return "no slope";
    case NoInverse::not_monotone:
        return "not monotone";
    case NoInverse::outside:
        return "outside the range";
    }
    return "";
}

InverseReading reference_of(const LeastSquares& curve, double reading, double u_reading, double low, double high) {
    InverseReading out;
    const auto slope = derivative(curve.coefficients);
    out.why = slope.empty() ? NoInverse::no_slope : turn_of(curve.coefficients, slope, low, high);
    if (out.why) return out;
    const auto [least, most] = std::minmax({polynomial(curve.coefficients, low), polynomial(curve.coefficients, high)});
    if (!(reading >= least && reading <= most)) {
        out.why = NoInverse::outside;
        return out;
    }
    out.reference = root(curve.coefficients, reading, low, high);
    out.u = std::sqrt(variance_at(curve, out.reference) + u_reading * u_reading) /
            std::abs(polynomial(slope, out.reference));
    return out;
}

} // namespace stillmark::metrology
