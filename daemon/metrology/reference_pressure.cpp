#include "daemon/metrology/reference_pressure.hpp"

#include "daemon/metrology/budget.hpp"
#include "daemon/metrology/corrections.hpp"
#include "daemon/metrology/propagation/coverage_factor.hpp"

#include <utility>

namespace stillmark::metrology {

namespace {

std::vector<std::string> notes_on(const ReferenceInputs& inputs, const ReferencePressure& result) {
    std::vector<std::string> notes;
    if (inputs.range.distortion_is_estimate)
        notes.emplace_back(
            "The distortion coefficient is an estimate from material constants, not from a certificate.");
    if (!result.air_within_range) notes.emplace_back(air_out_of_range_note);
    return notes;
}

} // namespace

ReferencePressure reference_pressure(const ReferenceInputs& inputs) {
    ReferenceValues<double> values = values_of<double>(inputs);
    settle_air(values);
    ReferencePressure out;
    out.at_balance_pa = pressure_at_balance_pa(values.range);
    out.at_instrument_pa = pressure_at_instrument_pa(values, out.at_balance_pa);
    out.air_density_kg_m3 = values.ambient_density_kg_m3;
    out.air_within_range = air_density(inputs.air).within_range;
    out.gravity_m_s2 = values.range.gravity_m_s2;
    out.area_m2 = area_at_m2(values.range, out.at_balance_pa);
    Corrections steps = corrections(values);
    out.nominal_pa = steps.nominal_pa;
    out.corrections = std::move(steps.lines);
    Budget parts = budget(inputs);
    out.u_pa = parts.u_pa;
    out.dof = parts.dof;
    out.k = usual_coverage_factor(out.dof);
    out.expanded_pa = out.k * out.u_pa;
    out.budget = std::move(parts.lines);
    out.notes = notes_on(inputs, out);
    return out;
}

double reference_pressure_pa(const ReferenceInputs& inputs) {
    ReferenceValues<double> values = values_of<double>(inputs);
    settle_air(values);
    return pressure_at_instrument_pa(values, pressure_at_balance_pa(values.range));
}

} // namespace stillmark::metrology
