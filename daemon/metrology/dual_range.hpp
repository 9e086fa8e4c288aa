#pragma once

#include "daemon/metrology/balance.hpp"

#include <span>

namespace stillmark::metrology {

/// Statics of two concentric pistons, the narrow one inside the wide one. Derived from the balance of forces; no
/// published figures exist for them. Forces in N, net of the air's buoyancy; areas in m2 at the pressure in question or
/// nominal, as long as both are of one kind. 0 < area_high_m2 < area_low_m2.
struct ConcentricPistons {
    double wide_weight_n = 0; ///< W1: the wide piston and what it alone carries
    double area_low_m2 = 0;   ///< the certificate's TOTAL area of the low range, both pistons
    double area_high_m2 = 0;  ///< of the narrow piston

    /// The ring that the wide piston adds.
    double ring_m2() const { return area_low_m2 - area_high_m2; }
};

/// Weight net of the air's buoyancy, N.
double net_weight_n(std::span<const MassPiece> pieces, double air_density_kg_m3, double gravity_m_s2);

/// What the narrow piston must carry (itself included, W) before it presses on the wide one and both move as one: below
/// it the narrow piston lifts alone, and the low range has no pressure to give. W1 A_high / (A_low - A_high).
double least_load_n(const ConcentricPistons& pistons);

/// Whether a load W is more than the least load.
bool floats_as_one(const ConcentricPistons& pistons, double load_n);

/// With what force the narrow piston rests on the wide one in the low range: W - p_low A_high.
double contact_force_n(const ConcentricPistons& pistons, double load_n);

/// The two pressures that one load makes. At either of them one of the ranges floats; between them neither does, the
/// stop takes the difference, and a reading there has no reference.
struct DeadZone {
    double low_pa;  ///< (W + W1) / A_low: the wide piston arrives at its stop
    double high_pa; ///< W / A_high: the narrow piston lifts off by itself

    bool contains(double pressure_pa) const { return pressure_pa > low_pa && pressure_pa < high_pa; }
};
DeadZone dead_zone(const ConcentricPistons& pistons, double load_n);

/// Pressure at which the wide piston begins to press on its stop by itself, W1 / (A_low - A_high).
double stop_pressure_pa(const ConcentricPistons& pistons);

/// Force of the wide piston on its stop with the narrow piston afloat at this pressure; negative where it does not
/// reach the stop.
double stop_reaction_n(const ConcentricPistons& pistons, double pressure_pa);

/// p_high / p_low of one load. Only with a weightless wide piston is it the ratio of the areas.
double changeover_ratio(const ConcentricPistons& pistons, double load_n);

} // namespace stillmark::metrology
