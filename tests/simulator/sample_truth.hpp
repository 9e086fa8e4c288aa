#pragma once

#include "simulator/truth.hpp"

namespace stillmark::simulator {

/// A dual-range balance with round numbers and nothing that disturbs: no air, no surface tension, no tilt.
inline Truth plain_truth() {
    Truth truth;
    truth.gravity_m_s2 = 9.80665;
    truth.air_density_kg_m3 = 0;
    truth.piston_temperature_c = 20;
    truth.liquid.density_kg_m3 = 865;
    truth.range_change = RangeChange::stopped;
    const TrueMass wide{"wide piston", 0.8, 7800};
    const TrueMass narrow{"narrow piston", 1.2, 7800};
    TrueRange low;
    low.name = "low";
    low.area_m2 = 1e-4;
    low.highest_pa = 1.1e7;
    low.float_band_m = 8e-3;
    low.fall_rate_m_per_s = 1e-5;
    low.spin_time_s = 240;
    low.floating_parts = {wide, narrow};
    TrueRange high = low;
    high.name = "high";
    high.area_m2 = 1e-5;
    high.highest_pa = 9.2e7;
    high.floating_parts = {narrow};
    truth.ranges = {low, high};
    for (const auto& [id, kg] : {std::pair{"A", 10.0}, std::pair{"B", 5.0}, std::pair{"C", 98.0}})
        truth.discs[id] = {id, kg, 7920};
    return truth;
}

} // namespace stillmark::simulator
