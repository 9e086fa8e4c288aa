#pragma once

#include "daemon/metrology/air_density.hpp"
#include "daemon/metrology/pressure_equation.hpp"
#include "daemon/metrology/reference_pressure.hpp"
#include "daemon/metrology/tilt.hpp"

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
    out.head.reserve(inputs.head.size());
    for (const HeadSegment& segment : inputs.head) {
        out.head.push_back({values_of<Scalar>(segment.liquid), Scalar(segment.height_m.value)});
    }
    return out;
}

/// Puts the density of the surrounding air into the range's inputs.
template <class Scalar>
void settle_air(ReferenceValues<Scalar>& values) {
    values.range.air_density_kg_m3 =
        moist_air_density_kg_m3(values.air_temperature_c, values.air_pressure_pa, values.humidity) *
        (1.0 + values.air_equation);
}

/// From the range's reference level to the instrument: the piston's own height above the balance's level mark stands in
/// the balance's liquid, the segments in theirs.
template <class Scalar>
Scalar pressure_at_instrument_pa(const ReferenceValues<Scalar>& values, const Scalar& at_balance_pa) {
    const HeadInputs<Scalar> to_level_mark{values.range.liquid, values.reference_level_m + values.float_height_m};
    const Scalar certified_pa = at_balance_pa * (1.0 + values.certificate_error) + values.certificate_error_pa;
    Scalar p = certified_pa + head_pa(to_level_mark, values.range, at_balance_pa);
    for (const HeadInputs<Scalar>& segment : values.head) {
        p += head_pa(segment, values.range, at_balance_pa);
    }
    return p;
}

} // namespace stillmark::metrology
