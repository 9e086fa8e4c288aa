#include "daemon/metrology/dual_range.hpp"

#include "daemon/metrology/pressure_equation.hpp"

namespace stillmark::metrology {

double net_weight_n(std::span<const MassPiece> pieces, double air_density_kg_m3, double gravity_m_s2) {
    double weight_kg = 0;
    for (const MassPiece& piece : pieces) {
        const FloatingMass<double> mass{piece.mass_kg.value, piece.density_kg_m3.value, piece.conventional};
        weight_kg += mass_in_air_kg(mass, air_density_kg_m3);
    }
    return weight_kg * gravity_m_s2;
}

double least_load_n(const ConcentricPistons& pistons) {
    return pistons.wide_weight_n * pistons.area_high_m2 / pistons.ring_m2();
}

bool floats_as_one(const ConcentricPistons& pistons, double load_n) {
    return load_n > least_load_n(pistons);
}

double contact_force_n(const ConcentricPistons& pistons, double load_n) {
    return (load_n * pistons.ring_m2() - pistons.wide_weight_n * pistons.area_high_m2) / pistons.area_low_m2;
}

DeadZone dead_zone(const ConcentricPistons& pistons, double load_n) {
    return {(load_n + pistons.wide_weight_n) / pistons.area_low_m2, load_n / pistons.area_high_m2};
}

double stop_pressure_pa(const ConcentricPistons& pistons) {
    return pistons.wide_weight_n / pistons.ring_m2();
}

double stop_reaction_n(const ConcentricPistons& pistons, double pressure_pa) {
    return pressure_pa * pistons.ring_m2() - pistons.wide_weight_n;
}

double changeover_ratio(const ConcentricPistons& pistons, double load_n) {
    const DeadZone zone = dead_zone(pistons, load_n);
    return zone.high_pa / zone.low_pa;
}

} // namespace stillmark::metrology
