#include "daemon/bench/pressure_of_mass.hpp"

#include <cmath>
#include <limits>
#include <utility>

namespace stillmark::bench {

PressureOfMass::PressureOfMass(const BenchFile& bench, std::size_t range, const metrology::Surroundings& air,
                               const metrology::Uncertain& piston_temperature_c)
    : inputs_(reference_inputs(bench, range, {}, air, piston_temperature_c, nullptr)) {}

double PressureOfMass::of(std::vector<metrology::MassPiece> discs) {
    inputs_.discs = std::move(discs);
    return metrology::reference_pressure_pa(inputs_);
}

double PressureOfMass::pressure_pa(double effective_kg) {
    metrology::MassPiece piece;
    piece.mass_kg.value = effective_kg;
    piece.density_kg_m3.value = 1e15; // no buoyancy is left to take off
    return of({piece});
}

double PressureOfMass::effective_kg(const metrology::MassPiece& piece) {
    return mass_kg(of({piece}));
}

double PressureOfMass::mass_kg(double wanted_pa) {
    // All but a straight line: the secant settles in a few steps.
    double before_kg = 0, before_pa = pressure_pa(before_kg);
    double at_kg = 1;
    constexpr int most_steps = 40;
    for (int step = 0; step < most_steps; ++step) {
        const double at_pa = pressure_pa(at_kg);
        const double slope = (at_pa - before_pa) / (at_kg - before_kg);
        const double next_kg = at_kg + (wanted_pa - at_pa) / slope;
        if (!std::isfinite(next_kg)) break;
        before_kg = at_kg;
        before_pa = at_pa;
        at_kg = next_kg;
        if (std::abs(at_kg - before_kg) <= 1e-13 * (1 + std::abs(at_kg))) return at_kg;
    }
    return std::numeric_limits<double>::quiet_NaN();
}

} // namespace stillmark::bench
