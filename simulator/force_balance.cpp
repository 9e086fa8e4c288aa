#include "simulator/force_balance.hpp"

#include <cmath>

namespace stillmark::simulator {

namespace {

double apparent_mass_kg(const TrueMass& body, double air_density) {
    const double volume_m3 = body.mass_kg / body.density_kg_m3;
    return body.mass_kg - air_density * volume_m3;
}

double liquid_density(const TrueLiquid& liquid, double gauge_pa) {
    const double warm = 1 - liquid.expansion_per_k * (liquid.temperature_c - liquid.reference_temperature_c);
    return liquid.density_kg_m3 * warm * (1 + liquid.compressibility_per_pa * gauge_pa);
}

} // namespace

double pressure_under_piston_pa(const Truth& truth, const TrueRange& range, const std::vector<std::string>& discs) {
    double carried_kg = 0;
    for (const auto& part : range.floating_parts)
        carried_kg += apparent_mass_kg(part, truth.air_density_kg_m3);
    for (const auto& id : discs)
        carried_kg += apparent_mass_kg(truth.discs.at(id), truth.air_density_kg_m3);
    const double down_n = carried_kg * truth.gravity_m_s2 * std::cos(range.tilt_rad) +
                          truth.liquid.surface_tension_n_per_m * range.circumference_m;
    const double warm_area_m2 = range.area_m2 * (1 + range.thermal_expansion_per_k *
                                                         (truth.piston_temperature_c - range.reference_temperature_c));
    double p = down_n / warm_area_m2;
    // The area widens by about 1e-4 of itself, so each pass gains four digits.
    for (int pass = 0; pass < 8; ++pass) {
        const double lift_n =
            range.immersed_volume_m3 * (liquid_density(truth.liquid, p) - truth.air_density_kg_m3) * truth.gravity_m_s2;
        p = (down_n - lift_n) / (warm_area_m2 * (1 + range.distortion_per_pa * p + range.distortion2_per_pa2 * p * p));
    }
    return p;
}

double pressure_below_pa(const Truth& truth, double gauge_pa, double down_m) {
    const double beta = truth.liquid.compressibility_per_pa;
    const double weight = liquid_density(truth.liquid, 0) * truth.gravity_m_s2 * down_m;
    // dp/dz = rho_0 (1 + beta p) g, solved: 1 + beta p grows exponentially with depth.
    const double liquid_pa = beta > 0 ? (1 + beta * gauge_pa) * std::expm1(beta * weight) / beta : weight;
    return gauge_pa + liquid_pa - truth.air_density_kg_m3 * truth.gravity_m_s2 * down_m;
}

} // namespace stillmark::simulator
