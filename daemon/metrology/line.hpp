#pragma once

#include "daemon/metrology/air_density.hpp"
#include "daemon/metrology/balance.hpp"
#include "daemon/metrology/pressure_equation.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace stillmark::metrology {

/// What a line between the balance's level mark and an instrument hangs in, for any scalar.
template <class Scalar>
struct LineConditions {
    Scalar gravity_m_s2{};
    Scalar temperature_c{}; ///< of what fills the line
    AirAtMark<Scalar> air;  ///< of the laboratory
    bool is_gauge = true;   ///< pressures in the line are above the air at their own height; absolute otherwise
};

template <class Scalar>
bool holds_gas(const std::vector<HeadInputs<Scalar>>& head) {
    return std::any_of(head.begin(), head.end(), [](const auto& stretch) { return stretch.gas.has_value(); });
}

/// The pressure on its way down the line to the instrument, and the air beside it.
template <class Scalar>
struct Descent {
    Scalar pressure_pa{};   ///< gauge or absolute as the line's pressures are
    Scalar ambient_pa{};    ///< of the air at the same height
    bool needs_air = false; ///< whether the ambient pressure has a say: not where a liquid's gauge pressure is counted

    /// `liquid_at_pa` is the pressure that compresses a liquid.
    void through(const HeadInputs<Scalar>& stretch, const LineConditions<Scalar>& around, const Scalar& liquid_at_pa) {
        Scalar air_gains_pa{};
        if (needs_air) air_gains_pa = air_column_pa(stretch.height_m, around);
        if (stretch.gas) {
            const Scalar absolute_pa = around.is_gauge ? pressure_pa + ambient_pa : pressure_pa;
            const Scalar gains_pa =
                gas_column_pa(*stretch.gas, absolute_pa, around.temperature_c, around.gravity_m_s2, stretch.height_m);
            pressure_pa += around.is_gauge ? gains_pa - air_gains_pa : gains_pa;
        } else {
            // An absolute pressure gains the whole column: no air stands against it.
            const Scalar air_density = around.is_gauge ? around.air.density_kg_m3 : Scalar{};
            pressure_pa += head_pa(stretch, around.temperature_c, air_density, around.gravity_m_s2, liquid_at_pa);
        }
        ambient_pa += air_gains_pa;
    }

    /// The pressure here as an instrument counts it.
    Scalar as_counted_pa(PressureKind counted_from, bool is_gauge, const Scalar& sealed_reference_pa) const {
        if (counted_from == PressureKind::gauge) return is_gauge ? pressure_pa : pressure_pa - ambient_pa;
        const Scalar absolute_pa = is_gauge ? pressure_pa + ambient_pa : pressure_pa;
        return counted_from == PressureKind::sealed ? absolute_pa - sealed_reference_pa : absolute_pa;
    }

  private:
    /// Moist air of the laboratory, isothermal: M g h/(Z R T) is its density over its pressure, times g h.
    Scalar air_column_pa(const Scalar& height_m, const LineConditions<Scalar>& around) const {
        using std::exp;
        const Scalar exponent = around.air.density_kg_m3 / around.air.pressure_pa * around.gravity_m_s2 * height_m;
        return ambient_pa * (exp(exponent) - 1.0);
    }
};

} // namespace stillmark::metrology
