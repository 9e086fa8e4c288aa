#pragma once

#include "daemon/metrology/line.hpp"
#include "daemon/metrology/reference_pressure.hpp"
#include "daemon/metrology/reference_values.hpp"

#include <vector>

namespace stillmark::metrology {

/// Everything that decides what an instrument is exposed to while its line is open to air at the balance's level mark.
/// No part of the balance belongs to it: the piston carries nothing of this pressure.
struct VentedLine {
    Site site; ///< acts on what fills the line
    Surroundings air;
    Uncertain line_temperature_c;                    ///< of what fills the line
    std::vector<HeadSegment> head;                   ///< from the open end down to the instrument; empty: same level
    PressureKind counted_from = PressureKind::gauge; ///< how the instrument counts
    Uncertain sealed_reference_pa;                   ///< absolute; of a sealed instrument
};

/// The estimates of a VentedLine, every one a scalar that can carry a derivative or be a draw.
template <class Scalar>
struct VentedValues {
    Scalar gravity_m_s2{};
    Scalar air_temperature_c{};
    Scalar air_pressure_pa{};
    Scalar humidity{};
    Scalar air_equation{};       ///< relative error of CIPM-2007, estimate 0
    Scalar barometer_height_m{}; ///< above the balance's level mark
    Scalar line_temperature_c{};
    std::vector<HeadInputs<Scalar>> head;
    PressureKind counted_from = PressureKind::gauge;
    Scalar sealed_reference_pa{};
    AirAtMark<Scalar> air; ///< worked out from the surroundings
};

template <class Scalar>
VentedValues<Scalar> values_of(const VentedLine& line) {
    VentedValues<Scalar> out;
    out.gravity_m_s2 = Scalar(line.site.gravity_m_s2.value);
    out.air_temperature_c = Scalar(line.air.temperature_c.value);
    out.air_pressure_pa = Scalar(line.air.pressure_pa.value);
    out.humidity = Scalar(line.air.humidity.value);
    out.barometer_height_m = Scalar(line.air.barometer_height_m.value);
    out.line_temperature_c = Scalar(line.line_temperature_c.value);
    out.head = head_values_of<Scalar>(line.head);
    out.counted_from = line.counted_from;
    out.sealed_reference_pa = Scalar(line.sealed_reference_pa.value);
    return out;
}

template <class Scalar>
void settle_air(VentedValues<Scalar>& values) {
    values.air = air_at_mark(values.air_temperature_c, values.air_pressure_pa, values.humidity, values.air_equation,
                             values.barometer_height_m, values.gravity_m_s2);
}

/// The air at the open end, and down the line from there.
template <class Scalar>
Scalar instrument_pressure_pa(const VentedValues<Scalar>& values) {
    const LineConditions<Scalar> around{values.gravity_m_s2, values.line_temperature_c, values.air, true};
    Descent<Scalar> way;
    way.ambient_pa = values.air.pressure_pa;
    way.needs_air = values.counted_from != PressureKind::gauge || holds_gas(values.head);
    for (const HeadInputs<Scalar>& segment : values.head) {
        way.through(segment, around, Scalar{});
    }
    return way.as_counted_pa(values.counted_from, true, values.sealed_reference_pa);
}

/// The reference of a zero: 0 for a gauge instrument, the ambient pressure at its own level for an absolute one, that
/// less the sealed reference for a sealed one; each with the head of what fills the line. First-order uncertainty as
/// of reference_pressure(). `at_balance_pa` is 0, the gauge pressure at the open end; there is no area.
ReferencePressure vented_pressure(const VentedLine& line);

/// The value alone. Bit for bit the `at_instrument_pa` of vented_pressure().
double vented_pressure_pa(const VentedLine& line);

} // namespace stillmark::metrology
