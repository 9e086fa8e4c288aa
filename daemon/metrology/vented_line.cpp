#include "daemon/metrology/vented_line.hpp"

#include "daemon/metrology/budget.hpp"
#include "daemon/metrology/propagation/coverage_factor.hpp"

#include <utility>

namespace stillmark::metrology {

namespace {

double counted_pa(VentedValues<double> values, PressureKind from) {
    values.counted_from = from;
    return instrument_pressure_pa(values);
}

/// From nothing at all: what the line adds, then the air, then what is sealed in.
std::vector<Correction> corrections(const VentedValues<double>& values) {
    const double head_pa = counted_pa(values, PressureKind::gauge);
    std::vector<Correction> lines{{"head", head_pa, 0}};
    if (values.counted_from == PressureKind::gauge) return lines;
    const double absolute_pa = counted_pa(values, PressureKind::absolute);
    lines.push_back({"ambient pressure", absolute_pa - head_pa, 0});
    if (values.counted_from == PressureKind::sealed)
        lines.push_back({"sealed reference pressure", counted_pa(values, PressureKind::sealed) - absolute_pa, 0});
    return lines;
}

} // namespace

ReferencePressure vented_pressure(const VentedLine& line) {
    VentedValues<double> values = values_of<double>(line);
    settle_air(values);
    ReferencePressure out;
    out.at_instrument_pa = instrument_pressure_pa(values);
    out.air_density_kg_m3 = values.air.density_kg_m3;
    out.air_within_range = air_density(line.air).within_range;
    out.gravity_m_s2 = values.gravity_m_s2;
    out.corrections = corrections(values);
    Budget parts = budget(line);
    out.u_pa = parts.u_pa;
    out.dof = parts.dof;
    out.k = coverage_factor(0.95, out.dof);
    out.expanded_pa = out.k * out.u_pa;
    out.budget = std::move(parts.lines);
    if (!out.air_within_range) out.notes.emplace_back(air_out_of_range_note);
    return out;
}

double vented_pressure_pa(const VentedLine& line) {
    VentedValues<double> values = values_of<double>(line);
    settle_air(values);
    return instrument_pressure_pa(values);
}

} // namespace stillmark::metrology
