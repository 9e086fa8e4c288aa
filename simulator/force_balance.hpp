#pragma once

#include "simulator/truth.hpp"

#include <string>
#include <vector>

namespace stillmark::simulator {

/// The pressure that a load makes where it floats, from the true values: above the laboratory's air, at the piston's
/// own reference level, where a bell is evacuated too. Static equilibrium of everything that floats, along the piston's
/// axis:
///   upthrust p A(p, t) = (sum (m_i - rho_a V_i) g) cos(tilt) + sigma c - V (rho_f - rho_a) g
/// with p counted from what is around the masses, rho_a its density (of a bell what was left in it), V_i the volumes of
/// the bodies and V the volume that is immersed in excess of area times depth.
double pressure_under_piston_pa(const Truth& truth, const TrueRange& range, const std::vector<std::string>& discs);

/// The gauge pressure `down_m` below a level where it is `gauge_pa`, through what fills the balance: the hydrostatic
/// equation of a liquid whose density grows linearly with pressure, or of a gas by its virial series in the density,
/// less the column of air outside.
double pressure_below_pa(const Truth& truth, double gauge_pa, double down_m);

/// Density of a gas at an absolute pressure, kg/m3: p = c R T (Z + B c + C c^2), solved for the amount c by iteration.
double gas_density_kg_m3(const TrueGas& gas, double absolute_pa);

/// What an instrument's indication is counted from.
struct Counting {
    bool from_air = true; ///< gauge
    double sealed_pa = 0; ///< absolute; of a sealed one
};

/// What an instrument `down_m` below the level mark is exposed to, as it counts, where its gauge pressure is
/// `gauge_pa`.
double counted_pressure_pa(const Truth& truth, const Counting& counting, double gauge_pa, double down_m);

} // namespace stillmark::simulator
