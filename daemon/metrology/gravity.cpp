#include "daemon/metrology/gravity.hpp"

#include <cmath>

namespace stillmark::metrology {

namespace {

// Geodetic Reference System 1980: the defining and derived constants as published.
constexpr double equatorial_radius_m = 6378137;
constexpr double flattening = 1 / 298.257222101;
constexpr double eccentricity_squared = 0.00669438002290;
constexpr double gravity_at_equator_m_s2 = 9.7803267715;
constexpr double somigliana_k = 0.001931851353;
constexpr double centrifugal_m = 0.00344978600308; // omega^2 a^2 b / GM

} // namespace

double normal_gravity_m_s2(double latitude_rad, double height_m) {
    const double sine = std::sin(latitude_rad);
    const double sine2 = sine * sine;
    const double on_ellipsoid =
        gravity_at_equator_m_s2 * (1 + somigliana_k * sine2) / std::sqrt(1 - eccentricity_squared * sine2);
    const double h = height_m / equatorial_radius_m;
    return on_ellipsoid * (1 - 2 * (1 + flattening + centrifugal_m - 2 * flattening * sine2) * h + 3 * h * h);
}

Uncertain gravity_from_position(double latitude_rad, double height_m) {
    const double g = normal_gravity_m_s2(latitude_rad, height_m);
    return {.value = g, .u = normal_gravity_relative_u * g};
}

} // namespace stillmark::metrology
