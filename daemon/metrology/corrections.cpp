#include "daemon/metrology/corrections.hpp"

#include "daemon/metrology/gravity.hpp"

#include <cstddef>

namespace stillmark::metrology {

namespace {

using Values = ReferenceValues<double>;

struct Effect {
    const char* name;
    void (*switch_on)(Values& values, const Values& full);
    bool (*there_is)(const Values& full) = [](const Values&) { return true; };
};

const Effect effects[] = {
    {"local gravity", [](Values& v, const Values& full) { v.range.gravity_m_s2 = full.range.gravity_m_s2; }},
    {"conventional mass",
     [](Values& v, const Values& full) {
         for (std::size_t i = 0; i < v.range.masses.size(); ++i) {
             v.range.masses[i].conventional = full.range.masses[i].conventional;
         }
     }},
    {"air buoyancy", [](Values& v, const Values& full) { v.range.air_density_kg_m3 = full.range.air_density_kg_m3; }},
    {"surface tension",
     [](Values& v, const Values& full) { v.range.surface_tension_n_per_m = full.range.surface_tension_n_per_m; }},
    {"piston temperature",
     [](Values& v, const Values& full) { v.range.piston_temperature_c = full.range.piston_temperature_c; }},
    {"drift of the area", [](Values& v, const Values& full) { v.range.area_drift = full.range.area_drift; }},
    {"elastic distortion",
     [](Values& v, const Values& full) {
         v.range.distortion_per_pa = full.range.distortion_per_pa;
         v.range.distortion2_per_pa2 = full.range.distortion2_per_pa2;
     }},
    {"tilt", [](Values& v, const Values& full) { v.range.tilt_loss = full.range.tilt_loss; }},
    {"immersed volume",
     [](Values& v, const Values& full) { v.range.immersed_volume_m3 = full.range.immersed_volume_m3; }},
    {"residual pressure",
     [](Values& v, const Values& full) { v.range.residual_pressure_pa = full.range.residual_pressure_pa; },
     [](const Values& full) { return full.mode == PressureKind::absolute; }},
    {"level of the range", [](Values& v, const Values& full) { v.reference_level_m = full.reference_level_m; }},
    {"float height", [](Values& v, const Values& full) { v.float_height_m = full.float_height_m; }},
    {"head", [](Values& v, const Values& full) { v.head = full.head; }},
    {"ambient pressure",
     [](Values& v, const Values& full) {
         v.counted_from = full.counted_from == PressureKind::gauge ? PressureKind::gauge : PressureKind::absolute;
     },
     [](const Values& full) {
         return (full.mode == PressureKind::gauge) != (full.counted_from == PressureKind::gauge);
     }},
    {"sealed reference pressure", [](Values& v, const Values& full) { v.counted_from = full.counted_from; },
     [](const Values& full) { return full.counted_from == PressureKind::sealed; }},
};

Values nominal(Values values) {
    values.range.gravity_m_s2 = standard_gravity_m_s2;
    for (FloatingMass<double>& piece : values.range.masses) {
        piece.conventional = false;
    }
    values.range.air_density_kg_m3 = 0;
    values.range.surface_tension_n_per_m = 0;
    values.range.piston_temperature_c = values.range.reference_temperature_c;
    values.range.area_drift = 0;
    values.range.distortion_per_pa = 0;
    values.range.distortion2_per_pa2 = 0;
    values.range.tilt_loss = 0;
    values.range.immersed_volume_m3 = 0;
    values.reference_level_m = 0;
    values.float_height_m = 0;
    values.head.clear();
    values.range.residual_pressure_pa = 0;
    values.counted_from = values.mode; // as the balance counts
    return values;
}

double pressure_pa(const Values& values) {
    return pressure_at_instrument_pa(values, pressure_at_balance_pa(values.range));
}

} // namespace

Corrections corrections(const ReferenceValues<double>& values) {
    Values stepped = nominal(values);
    double before = pressure_pa(stepped);
    Corrections out{before, {}};
    for (const Effect& effect : effects) {
        if (!effect.there_is(values)) continue;
        effect.switch_on(stepped, values);
        const double after = pressure_pa(stepped);
        const double pa = after - before;
        out.lines.push_back({effect.name, pa, before == 0 ? 0 : pa / before * 1e6});
        before = after;
    }
    return out;
}

} // namespace stillmark::metrology
