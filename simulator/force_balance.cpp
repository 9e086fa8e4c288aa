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

constexpr double gas_constant = 8.314462618;

double fluid_density(const Truth& truth, double pressure_pa) {
    return truth.gas ? gas_density_kg_m3(*truth.gas, pressure_pa + truth.bell_pa.value_or(truth.air.pressure_pa))
                     : liquid_density(truth.liquid, pressure_pa);
}

/// Of what is around the masses: the laboratory's air, or what a pump left in the bell, taken for dry air.
double density_around_masses(const Truth& truth) {
    constexpr double dry_air_kg_per_mol = 0.028965;
    if (!truth.bell_pa) return truth.air_density_kg_m3;
    return *truth.bell_pa * dry_air_kg_per_mol / (gas_constant * (truth.piston_temperature_c + 273.15));
}

/// The hydrostatic equation of a gas in four steps of the midpoint rule: a column of a metre gains 1e-4 of itself.
double gas_column_pa(const TrueGas& gas, double absolute_pa, double gravity_m_s2, double down_m) {
    constexpr int steps = 4;
    const double step_m = down_m / steps;
    double p = absolute_pa;
    for (int i = 0; i < steps; ++i) {
        const double middle = p + gas_density_kg_m3(gas, p) * gravity_m_s2 * step_m / 2;
        p += gas_density_kg_m3(gas, middle) * gravity_m_s2 * step_m;
    }
    return p - absolute_pa;
}

} // namespace

double gas_density_kg_m3(const TrueGas& gas, double absolute_pa) {
    const double ideal = absolute_pa / (gas_constant * (gas.temperature_c + 273.15));
    double amount = ideal / gas.compressibility_factor;
    for (int pass = 0; pass < 8; ++pass)
        amount = ideal / (gas.compressibility_factor + gas.second_virial_m3_mol * amount +
                          gas.third_virial_m6_mol2 * amount * amount);
    return amount * gas.molar_mass_kg_mol * (1 + gas.density_error);
}

double counted_pressure_pa(const Truth& truth, const Counting& counting, double gauge_pa, double down_m) {
    if (counting.from_air) return gauge_pa;
    return gauge_pa + truth.air.pressure_pa + air_column_pa(truth.air, truth.gravity_m_s2, down_m) - counting.sealed_pa;
}

double pressure_under_piston_pa(const Truth& truth, const TrueRange& range, const std::vector<std::string>& discs) {
    const double around = density_around_masses(truth);
    double carried_kg = 0;
    for (const auto& part : range.floating_parts)
        carried_kg += apparent_mass_kg(part, around);
    for (const auto& id : discs)
        carried_kg += apparent_mass_kg(truth.discs.at(id), around);
    const double tension = truth.gas ? 0 : truth.liquid.surface_tension_n_per_m;
    const double down_n = carried_kg * truth.gravity_m_s2 * std::cos(range.tilt_rad) + tension * range.circumference_m;
    const double warm_area_m2 = range.area_m2 * (1 + range.thermal_expansion_per_k *
                                                         (truth.piston_temperature_c - range.reference_temperature_c));
    double p = down_n / warm_area_m2;
    // The area widens by about 1e-4 of itself, so each pass gains four digits.
    for (int pass = 0; pass < 8; ++pass) {
        const double lift_n = range.immersed_volume_m3 * (fluid_density(truth, p) - around) * truth.gravity_m_s2;
        p = (down_n - lift_n) / (warm_area_m2 * (1 + range.distortion_per_pa * p + range.distortion2_per_pa2 * p * p));
    }
    if (!truth.bell_pa) return p;
    return p + *truth.bell_pa - truth.air.pressure_pa + truth.air_density_kg_m3 * truth.gravity_m_s2 * range.level_m;
}

double pressure_below_pa(const Truth& truth, double gauge_pa, double down_m) {
    const double air_pa = truth.air_density_kg_m3 * truth.gravity_m_s2 * down_m;
    if (truth.gas)
        return gauge_pa + gas_column_pa(*truth.gas, gauge_pa + truth.air.pressure_pa, truth.gravity_m_s2, down_m) -
               air_pa;
    const double beta = truth.liquid.compressibility_per_pa;
    const double weight = liquid_density(truth.liquid, 0) * truth.gravity_m_s2 * down_m;
    // dp/dz = rho_0 (1 + beta p) g, solved: 1 + beta p grows exponentially with depth.
    const double liquid_pa = beta > 0 ? (1 + beta * gauge_pa) * std::expm1(beta * weight) / beta : weight;
    return gauge_pa + liquid_pa - air_pa;
}

} // namespace stillmark::simulator
