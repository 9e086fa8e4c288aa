#pragma once

#include "daemon/metrology/air_density.hpp"
#include "daemon/metrology/line.hpp"
#include "daemon/metrology/pressure_equation.hpp"
#include "daemon/metrology/reference_pressure.hpp"
#include "daemon/metrology/tilt.hpp"

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
    Scalar air_equation{};       ///< relative error of CIPM-2007, estimate 0
    Scalar barometer_height_m{}; ///< above the balance's level mark
    Scalar reference_level_m{};
    Scalar float_height_m{};
    Scalar certificate_error_pa{}; ///< what the short form of a certificate leaves open, estimate 0
    Scalar certificate_error{};    ///< the same, as a part of the pressure
    std::vector<HeadInputs<Scalar>> head;
    std::optional<GasInputs<Scalar>> gas; ///< in the balance, in place of the liquid
    Scalar ambient_pressure_pa{};   ///< of the laboratory's air at the level mark, worked out from the surroundings
    Scalar ambient_density_kg_m3{}; ///< of the same
    PressureKind mode = PressureKind::gauge;
    PressureKind counted_from = PressureKind::gauge;
    Scalar sealed_reference_pa{};
};

template <class Scalar>
LiquidInputs<Scalar> values_of(const Liquid& liquid) {
    return {Scalar(liquid.density_kg_m3.value), liquid.reference_temperature_c, liquid.expansion_per_k,
            liquid.compressibility_per_pa};
}

template <class Scalar>
std::vector<HeadInputs<Scalar>> head_values_of(const std::vector<HeadSegment>& head) {
    std::vector<HeadInputs<Scalar>> out;
    out.reserve(head.size());
    for (const HeadSegment& segment : head) {
        out.push_back({values_of<Scalar>(segment.liquid), Scalar(segment.height_m.value), {}});
        if (segment.gas) out.back().gas = values_of<Scalar>(*segment.gas);
    }
    return out;
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
    out.barometer_height_m = Scalar(inputs.air.barometer_height_m.value);
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
    out.head = head_values_of<Scalar>(inputs.head);
    return out;
}

/// Puts the densities of the air into the values: around the instrument, and around the masses.
template <class Scalar>
void settle_air(ReferenceValues<Scalar>& values) {
    const AirAtMark<Scalar> air =
        air_at_mark(values.air_temperature_c, values.air_pressure_pa, values.humidity, values.air_equation,
                    values.barometer_height_m, values.range.gravity_m_s2);
    values.ambient_pressure_pa = air.pressure_pa;
    values.ambient_density_kg_m3 = air.density_kg_m3;
    values.range.air_density_kg_m3 =
        values.mode == PressureKind::absolute
            ? dry_air_density_kg_m3(values.range.residual_pressure_pa, values.range.piston_temperature_c)
            : values.ambient_density_kg_m3;
}

/// From the range's reference level to the instrument, as the instrument counts: the piston's own height above the
/// balance's level mark stands in the balance's fluid, the segments in theirs.
template <class Scalar>
Scalar pressure_at_instrument_pa(const ReferenceValues<Scalar>& values, const Scalar& at_balance_pa) {
    const HeadInputs<Scalar> to_level_mark{values.range.liquid, values.reference_level_m + values.float_height_m,
                                           values.gas};
    const bool is_gauge = values.mode != PressureKind::absolute;
    const LineConditions<Scalar> around{values.range.gravity_m_s2,
                                        values.range.piston_temperature_c,
                                        {values.ambient_pressure_pa, values.ambient_density_kg_m3},
                                        is_gauge};
    Descent<Scalar> way;
    way.pressure_pa = at_balance_pa * (1.0 + values.certificate_error) + values.certificate_error_pa;
    way.ambient_pa =
        values.ambient_pressure_pa - values.ambient_density_kg_m3 * values.range.gravity_m_s2 * to_level_mark.height_m;
    way.needs_air = values.counted_from != values.mode || holds_gas(values.head) || values.gas;
    way.through(to_level_mark, around, at_balance_pa);
    for (const HeadInputs<Scalar>& segment : values.head) {
        way.through(segment, around, at_balance_pa);
    }
    return way.as_counted_pa(values.counted_from, is_gauge, values.sealed_reference_pa);
}

/// The pressure of the load at the instrument, of values whose air is settled.
template <class Scalar>
Scalar instrument_pressure_pa(const ReferenceValues<Scalar>& values) {
    return pressure_at_instrument_pa(values, pressure_at_balance_pa(values.range));
}

} // namespace stillmark::metrology
