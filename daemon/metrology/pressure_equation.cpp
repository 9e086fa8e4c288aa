#include "daemon/metrology/pressure_equation.hpp"

#include <cmath>
#include <limits>

namespace stillmark::metrology {

double solve_pa(const ForceBalance<double>& forces) {
    const double undistorted = forces.force_n / forces.area_m2;
    const bool closed_form = forces.distortion2_per_pa2 == 0 && forces.lift_n == 0 && forces.air_lift_n == 0;
    if (closed_form) {
        // The root that stays finite as lambda goes to zero, free of cancellation.
        return 2 * undistorted / (1 + std::sqrt(1 + 4 * forces.distortion_per_pa * undistorted));
    }
    // Quadratic from so close a start: three steps for any real piston.
    constexpr int most_steps = 50;
    double p = undistorted;
    for (int step = 0; step < most_steps; ++step) {
        const double change = forces.imbalance_n(p) / forces.slope_n_per_pa(p);
        p -= change;
        if (std::abs(change) <= 1e-13 * std::abs(p)) return p;
    }
    return std::numeric_limits<double>::quiet_NaN();
}

} // namespace stillmark::metrology
