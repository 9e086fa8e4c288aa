#pragma once

#include "daemon/metrology/air_density.hpp"
#include "daemon/metrology/pressure_equation.hpp"
#include "daemon/metrology/reference_pressure.hpp"
#include "daemon/metrology/tilt.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

namespace stillmark::metrology {

/// The estimates of ReferenceInputs, every one a scalar that can carry a derivative or be a draw.
template <class Scalar>
struct ReferenceValues {
    RangeInputs<Scalar> range; ///< its air density is worked out from the surroundings below
    Scalar air_temperature_c{};
    Scalar air_pressure_pa{};
    Scalar humidity{};
    Scalar air_equation{}; ///< relative error of CIPM-2007, estimate 0
    Scalar reference_level_m{};
    Scalar float_height_m{};
    Scalar certificate_error_pa{}; ///< what the short form of a certificate leaves open, estimate 0
    Scalar certificate_error{};    ///< the same, as a part of the pressure
    std::vector<HeadInputs<Scalar>> head;
    std::optional<GasInputs<Scalar>> gas; ///< in the balance, in place of the liquid
    Scalar ambient_density_kg_m3{};       ///< of the laboratory's air, worked out from the surroundings
    PressureKind mode = PressureKind::gauge;
    PressureKind counted_from = PressureKind::gauge;
    Scalar sealed_reference_pa{};
};

template <class Scalar>
LiquidInputs<Scalar> values_of(const Liquid& liquid) {
    return {Scalar(liquid.density_kg_m3.value), liquid.reference_temperature_c, liquid.expansion_per_k,
            liquid.compressibility_per_pa};
}

/// Floating parts first, then the load: the order of RangeInputs::masses.
template <class Scalar>
ReferenceValues<Scalar> values_of(const ReferenceInputs& inputs) {
    ReferenceValues<Scalar> out;
    RangeInputs<Scalar>& range = out.range;
    range.masses.reserve(inputs.range.floating_parts.size() + inputs.discs.size());
    for (const auto* pieces : {&inputs.range.floating_parts, &inputs.discs}) {
        for (const MassPiece& piece : *pieces) {
            range.masses.push_back(
                {Scalar(piece.mass_kg.value), Scalar(piece.density_kg_m3.value), piece.conventional});
        }
    }
    range.gravity_m_s2 = Scalar(inputs.site.gravity_m_s2.value);
    range.tilt_loss = Scalar(tilt_loss(inputs.range.tilt_rad).value);
    range.surface_tension_n_per_m = Scalar(inputs.liquid.surface_tension_n_per_m.value);
    range.circumference_m = Scalar(inputs.range.circumference_m.value);
    range.immersed_volume_m3 = Scalar(inputs.range.immersed_volume_m3.value);
    range.liquid = values_of<Scalar>(inputs.liquid);
    range.area_m2 = Scalar(inputs.range.area_m2.value);
    range.area_drift = Scalar(inputs.range.area_drift.value);
    range.thermal_expansion_per_k = Scalar(inputs.range.thermal_expansion_per_k.value);
    range.reference_temperature_c = inputs.range.reference_temperature_c;
    range.piston_temperature_c = Scalar(inputs.piston_temperature_c.value);
    range.distortion_per_pa = Scalar(inputs.range.distortion_per_pa.value);
    range.distortion2_per_pa2 = inputs.range.distortion2_per_pa2;
    out.air_temperature_c = Scalar(inputs.air.temperature_c.value);
    out.air_pressure_pa = Scalar(inputs.air.pressure_pa.value);
    out.humidity = Scalar(inputs.air.humidity.value);
    out.reference_level_m = Scalar(inputs.range.reference_level_m.value);
    out.float_height_m = Scalar(inputs.range.float_height_m.value);
    if (inputs.gas) {
        out.gas = values_of<Scalar>(*inputs.gas);
        range.surface_tension_n_per_m = Scalar(0.0); // a gas has none
    }
    out.mode = inputs.mode;
    if (out.mode == PressureKind::absolute) range.residual_pressure_pa = Scalar(inputs.residual_pressure_pa.value);
    out.counted_from = inputs.counted_from;
    out.sealed_reference_pa = Scalar(inputs.sealed_reference_pa.value);
    out.head.reserve(inputs.head.size());
    for (const HeadSegment& segment : inputs.head) {
        out.head.push_back({values_of<Scalar>(segment.liquid), Scalar(segment.height_m.value), {}});
        if (segment.gas) out.head.back().gas = values_of<Scalar>(*segment.gas);
    }
    return out;
}

/// Puts the densities of the air into the values: around the instrument, and around the masses.
template <class Scalar>
void settle_air(ReferenceValues<Scalar>& values) {
    values.ambient_density_kg_m3 =
        moist_air_density_kg_m3(values.air_temperature_c, values.air_pressure_pa, values.humidity) *
        (1.0 + values.air_equation);
    values.range.air_density_kg_m3 =
        values.mode == PressureKind::absolute
            ? dry_air_density_kg_m3(values.range.residual_pressure_pa, values.range.piston_temperature_c)
            : values.ambient_density_kg_m3;
}

/// The pressure on its way down the line from the piston to the instrument, and the air beside it.
template <class Scalar>
struct Descent {
    Scalar pressure_pa{};   ///< gauge or absolute as the balance is
    Scalar ambient_pa{};    ///< of the air at the same height
    bool needs_air = false; ///< whether the ambient pressure has a say: not where a liquid's gauge pressure is counted

    /// `liquid_at_pa` is the pressure that compresses a liquid.
    void through(const HeadInputs<Scalar>& stretch, const ReferenceValues<Scalar>& values, const Scalar& liquid_at_pa) {
        const RangeInputs<Scalar>& range = values.range;
        const bool is_gauge = values.mode != PressureKind::absolute;
        Scalar air_gains_pa{};
        if (needs_air) air_gains_pa = air_column_pa(stretch.height_m, values);
        if (stretch.gas) {
            const Scalar absolute_pa = is_gauge ? pressure_pa + ambient_pa : pressure_pa;
            const Scalar gains_pa = gas_column_pa(*stretch.gas, absolute_pa, range.piston_temperature_c,
                                                  range.gravity_m_s2, stretch.height_m);
            pressure_pa += is_gauge ? gains_pa - air_gains_pa : gains_pa;
        } else {
            pressure_pa += head_pa(stretch, range, liquid_at_pa);
            // An absolute pressure gains the whole column: no air stands against it.
            if (!is_gauge) pressure_pa += range.air_density_kg_m3 * range.gravity_m_s2 * stretch.height_m;
        }
        ambient_pa += air_gains_pa;
    }

    /// Moist air of the laboratory, isothermal: M g h/(Z R T) is its density over its pressure, times g h.
    Scalar air_column_pa(const Scalar& height_m, const ReferenceValues<Scalar>& values) const {
        using std::exp;
        const Scalar exponent =
            values.ambient_density_kg_m3 / values.air_pressure_pa * values.range.gravity_m_s2 * height_m;
        return ambient_pa * (exp(exponent) - 1.0);
    }
};

/// From the range's reference level to the instrument, as the instrument counts: the piston's own height above the
/// balance's level mark stands in the balance's fluid, the segments in theirs. The barometer hangs at the level mark.
template <class Scalar>
Scalar pressure_at_instrument_pa(const ReferenceValues<Scalar>& values, const Scalar& at_balance_pa) {
    const HeadInputs<Scalar> to_level_mark{values.range.liquid, values.reference_level_m + values.float_height_m,
                                           values.gas};
    Descent<Scalar> way;
    way.pressure_pa = at_balance_pa * (1.0 + values.certificate_error) + values.certificate_error_pa;
    way.ambient_pa =
        values.air_pressure_pa - values.ambient_density_kg_m3 * values.range.gravity_m_s2 * to_level_mark.height_m;
    way.needs_air = values.counted_from != values.mode ||
                    std::any_of(values.head.begin(), values.head.end(),
                                [](const auto& stretch) { return stretch.gas.has_value(); }) ||
                    values.gas;
    way.through(to_level_mark, values, at_balance_pa);
    for (const HeadInputs<Scalar>& segment : values.head) {
        way.through(segment, values, at_balance_pa);
    }
    const bool is_gauge = values.mode != PressureKind::absolute;
    if (values.counted_from == PressureKind::gauge)
        return is_gauge ? way.pressure_pa : way.pressure_pa - way.ambient_pa;
    const Scalar absolute_pa = is_gauge ? way.pressure_pa + way.ambient_pa : way.pressure_pa;
    return values.counted_from == PressureKind::sealed ? absolute_pa - values.sealed_reference_pa : absolute_pa;
}

} // namespace stillmark::metrology
