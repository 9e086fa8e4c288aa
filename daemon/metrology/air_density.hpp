#pragma once

#include "daemon/metrology/balance.hpp"

#include <cmath>

namespace stillmark::metrology {

/// Relative standard uncertainty of the CIPM-2007 equation itself (Picard et al. 2008).
inline constexpr double cipm_2007_relative_u = 22e-6;

/// Density of moist air, kg/m3: CIPM-2007, long form, R = 8.314472 and 400 umol/mol of carbon dioxide
/// (A. Picard, R. S. Davis, M. Glaser, K. Fujii, Metrologia 45 (2008) 149). Temperature in degC, pressure in Pa,
/// relative humidity 0 to 1. The later value of R is not used: it would part from every published density by 1.1e-6.
template <class Scalar>
Scalar moist_air_density_kg_m3(const Scalar& temperature_c, const Scalar& pressure_pa, const Scalar& humidity) {
    using std::exp;
    constexpr double gas_constant = 8.314472;      // J/(mol K)
    constexpr double molar_mass_air = 28.96546e-3; // kg/mol
    constexpr double molar_mass_water = 18.01528e-3;

    const Scalar& t = temperature_c;
    const Scalar kelvin = t + 273.15;
    const Scalar saturation_pa =
        exp(1.2378847e-5 * kelvin * kelvin - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin);
    const Scalar enhancement = 1.00062 + 3.14e-8 * pressure_pa + 5.6e-7 * t * t;
    const Scalar vapour = humidity * enhancement * saturation_pa / pressure_pa; // mole fraction
    const Scalar p_over_t = pressure_pa / kelvin;
    const Scalar compressibility =
        1.0 -
        p_over_t * (1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t * t + (5.707e-6 - 2.051e-8 * t) * vapour +
                    (1.9898e-4 - 2.376e-6 * t) * vapour * vapour) +
        p_over_t * p_over_t * (1.83e-11 - 0.765e-8 * vapour * vapour);
    return p_over_t * (molar_mass_air / gas_constant) / compressibility *
           (1.0 - vapour * (1.0 - molar_mass_water / molar_mass_air));
}

/// Density of dry air as an ideal gas, kg/m3: for what is left in an evacuated bell, where it is a correction of parts
/// in a thousand million. Pressure in Pa, absolute.
template <class Scalar>
Scalar dry_air_density_kg_m3(const Scalar& pressure_pa, const Scalar& temperature_c) {
    return pressure_pa * (28.96546e-3 / 8.314472) / (temperature_c + 273.15);
}

/// The laboratory's air at the balance's level mark.
template <class Scalar>
struct AirAtMark {
    Scalar pressure_pa{};
    Scalar density_kg_m3{};
};

/// Brings what the barometer reads at its own level down to the level mark through the column of moist air between,
/// isothermal: p exp(rho g h/p), h the barometer's height above the mark, rho/p the same at both ends. `equation` is
/// the relative error of the density's equation.
template <class Scalar>
AirAtMark<Scalar> air_at_mark(const Scalar& temperature_c, const Scalar& read_pa, const Scalar& humidity,
                              const Scalar& equation, const Scalar& barometer_height_m, const Scalar& gravity_m_s2) {
    using std::exp;
    const Scalar density = moist_air_density_kg_m3(temperature_c, read_pa, humidity) * (1.0 + equation);
    const Scalar gain = exp(density / read_pa * gravity_m_s2 * barometer_height_m);
    return {read_pa * gain, density * gain};
}

/// `within_range` says whether the surroundings lie where the equation's uncertainty is stated: 600 to 1100 hPa, 15 to
/// 27 degC, humidity 0 to 1. Outside, the value is still the equation's.
struct AirDensity {
    double kg_m3;
    bool within_range;
};
AirDensity air_density(const Surroundings& air);

} // namespace stillmark::metrology
