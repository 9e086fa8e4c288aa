#pragma once

#include "daemon/metrology/uncertain.hpp"

namespace stillmark::metrology {

/// Standard acceleration of gravity, exact (3rd CGPM, 1901).
inline constexpr double standard_gravity_m_s2 = 9.80665;

/// What local anomalies may add to normal gravity, relative standard uncertainty: common practice, and the scale of the
/// differences between measured values and the formula.
inline constexpr double normal_gravity_relative_u = 5e-5;

/// Normal gravity of GRS 80 (H. Moritz, Geodetic Reference System 1980, J. Geodesy 74 (2000) 128): Somigliana's closed
/// form on the ellipsoid, height to second order. Latitude in radians, -pi/2 to pi/2; height in metres above the
/// ellipsoid (above sea level differs by under 110 m, 3.5e-5 of g). Against the exact field: within 1e-12 of g on the
/// ellipsoid, 2e-8 up to 1000 m, 3e-7 up to 9000 m.
double normal_gravity_m_s2(double latitude_rad, double height_m);

/// Local gravity where none was measured: normal gravity with its default uncertainty.
Uncertain gravity_from_position(double latitude_rad, double height_m);

} // namespace stillmark::metrology
