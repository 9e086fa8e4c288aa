#include "daemon/metrology/propagation/coverage_factor.hpp"

#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

namespace stillmark::metrology {

double t_quantile(double probability, double dof) {
    if (!(probability > 0 && probability < 1 && dof > 0)) return std::numeric_limits<double>::quiet_NaN();
    if (std::isinf(dof)) return boost::math::quantile(boost::math::normal(), probability);
    return boost::math::quantile(boost::math::students_t(dof), probability);
}

double coverage_factor(double coverage, double dof) {
    // Of the upper tail's own probability: 1 - coverage is exact where (1 + coverage)/2 would round.
    return coverage > 0 && coverage < 1 ? -t_quantile((1 - coverage) / 2, dof)
                                        : std::numeric_limits<double>::quiet_NaN();
}

double usual_coverage_factor(double dof) {
    return std::isinf(dof) ? 2 : coverage_factor(usual_coverage, std::max(dof, 1.0));
}

} // namespace stillmark::metrology
