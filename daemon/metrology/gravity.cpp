#include "daemon/metrology/gravity.hpp"

#include <cmath>

namespace stillmark::metrology {

namespace {

// Geodetic Reference System 1980. The two values of gravity follow from its defining constants and round to those
// published (9.7803267715 and 9.8321863685); the published ten decimals would cost the formula its last digits.
constexpr double equatorial_radius_m = 6378137;
constexpr double flattening = 1 / 298.257222101;
constexpr double gravity_at_equator_m_s2 = 9.7803267715349;
constexpr double gravity_at_pole_m_s2 = 9.8321863685196;
constexpr double centrifugal_m = 0.00344978600308; // omega^2 a^2 b / GM

constexpr double eccentricity_squared = flattening * (2 - flattening);
constexpr double somigliana_k = (1 - flattening) * gravity_at_pole_m_s2 / gravity_at_equator_m_s2 - 1;

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
