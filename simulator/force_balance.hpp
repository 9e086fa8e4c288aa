#pragma once

#include "simulator/truth.hpp"

#include <string>
#include <vector>

namespace stillmark::simulator {

/// The pressure that a load makes where it floats, from the true values: gauge, at the piston's own reference level.
/// Static equilibrium of everything that floats, along the piston's axis:
///   upthrust p A(p, t) = (sum (m_i - rho_a V_i) g) cos(tilt) + sigma c - V (rho_f - rho_a) g
/// with V_i the volumes of the bodies and V the volume that is immersed in excess of area times depth.
double pressure_under_piston_pa(const Truth& truth, const TrueRange& range, const std::vector<std::string>& discs);

/// The gauge pressure `down_m` below a level where it is `gauge_pa`, through the balance's liquid: the hydrostatic
/// equation of a liquid whose density grows linearly with pressure, less the column of air outside.
double pressure_below_pa(const Truth& truth, double gauge_pa, double down_m);

} // namespace stillmark::simulator
