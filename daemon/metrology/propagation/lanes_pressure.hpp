#pragma once

#include "daemon/metrology/pressure_equation.hpp"
#include "daemon/metrology/propagation/lanes.hpp"

#include <cmath>
#include <limits>

namespace stillmark::metrology {

// The pressure equation's solution for eight trials at once: found by the templates of pressure_equation.hpp in place
// of those for one double. Each lane takes the steps of solve_pa(const ForceBalance<double>&), to the last bit.

inline const ForceBalance<Lanes>& plain(const ForceBalance<Lanes>& forces) {
    return forces;
}

inline Lanes settled(const Lanes& pressure_pa, const ForceBalance<Lanes>&) {
    return pressure_pa;
}

inline Lanes solve_pa(const ForceBalance<Lanes>& forces) {
    const Lanes undistorted = forces.force_n / forces.area_m2;
    bool closed_form = forces.distortion2_per_pa2 == 0;
    for (std::size_t i = 0; i < Lanes::width; ++i)
        closed_form = closed_form && forces.lift_n[i] == 0 && forces.air_lift_n[i] == 0;
    if (closed_form) return 2.0 * undistorted / (1.0 + sqrt(1.0 + 4.0 * forces.distortion_per_pa * undistorted));
    constexpr int most_steps = 50;
    Lanes p = undistorted;
    std::array<bool, Lanes::width> done{};
    for (int step = 0; step < most_steps; ++step) {
        const Lanes change = forces.imbalance_n(p) / forces.slope_n_per_pa(p);
        bool all_done = true;
        for (std::size_t i = 0; i < Lanes::width; ++i) {
            if (done[i]) continue;
            p[i] -= change[i];
            done[i] = std::abs(change[i]) <= 1e-13 * std::abs(p[i]);
            all_done = all_done && done[i];
        }
        if (all_done) return p;
    }
    for (std::size_t i = 0; i < Lanes::width; ++i)
        if (!done[i]) p[i] = std::numeric_limits<double>::quiet_NaN();
    return p;
}

} // namespace stillmark::metrology
