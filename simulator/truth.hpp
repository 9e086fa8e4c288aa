#pragma once

#include "simulator/json_place.hpp"

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::simulator {

/// The hidden true values of one bench, drawn from what its file states. Nobody but the log ever learns them.

struct TrueMass {
    std::string name;
    double mass_kg = 0; ///< true mass, not conventional
    double density_kg_m3 = 0;
};

struct TrueLiquid {
    double density_kg_m3 = 0; ///< at its reference temperature, no gauge pressure
    double reference_temperature_c = 20;
    double expansion_per_k = 0;
    double compressibility_per_pa = 0;
    double surface_tension_n_per_m = 0;
    double temperature_c = 20;
};

/// Of the balance and the line, in place of a liquid.
struct TrueGas {
    double molar_mass_kg_mol = 0;
    double compressibility_factor = 1; ///< where no virial coefficients are known
    double second_virial_m3_mol = 0;   ///< at the temperature below
    double third_virial_m6_mol2 = 0;
    double density_error = 0; ///< relative, beside what the series gives
    double temperature_c = 20;
};

struct TrueRange {
    std::string name;
    double area_m2 = 0; ///< with what it drifted since its certificate
    double reference_temperature_c = 20;
    double thermal_expansion_per_k = 0;
    double distortion_per_pa = 0;
    double distortion2_per_pa2 = 0;
    double circumference_m = 0;
    double tilt_rad = 0;
    double immersed_volume_m3 = 0;
    double level_m = 0; ///< of the reference level above the level mark, piston at mid-band
    double highest_pa = 0;
    double float_band_m = 0;
    double fall_rate_m_per_s = 0; ///< at `highest_pa`
    double spin_time_s = 0;
    std::vector<TrueMass> floating_parts;
    std::vector<std::string> valves; ///< the words by which a person knows this range's valves
};

/// How a balance changes its range.
enum class RangeChange { single, stopped, isolated };

struct TrueAir {
    double temperature_c = 20;
    double pressure_pa = 101325; ///< at the balance's level mark
    double humidity = 0.5;
};

struct Truth {
    double gravity_m_s2 = 0;
    TrueAir air;
    double air_density_kg_m3 = 0;
    double piston_temperature_c = 20;
    TrueLiquid liquid;
    std::optional<TrueGas> gas; ///< in place of the liquid
    /// Absolute pressure in the bell around the masses; none: they hang in the laboratory's air.
    std::optional<double> bell_pa;
    RangeChange range_change = RangeChange::single;
    std::vector<TrueRange> ranges; ///< the widest area first
    std::map<std::string, TrueMass> discs;

    const TrueRange& range(const std::string& name) const; ///< throws Mistake
};

/// Draws the truth of the bench that this JSON describes. Throws Mistake.
Truth draw_truth(const JsonPlace& bench, std::uint64_t seed);

/// Density of moist air, kg/m3: ideal gases with the compressibility and enhancement of room air held constant.
/// Own sum of partial pressures, p_sv by Magnus; agrees with CIPM-2007 within 1e-4 relative from 15 to 27 degC.
double moist_air_density_kg_m3(const TrueAir& air);

/// What air gains from a height above a place down to it, Pa: the hydrostatic equation to second order in the height,
/// which leaves less than 1e-4 Pa open over 10 m.
double air_column_pa(const TrueAir& above, double gravity_m_s2, double down_m);

/// "85 mm below balance" as a height above it, m. Throws Mistake.
double height_above_balance_m(const JsonPlace& place);

/// Normal gravity at a latitude and a height above the ellipsoid, m/s2: Somigliana's closed form with the constants of
/// GRS 80 (Moritz, J. Geodesy 74 (2000) 128) and the free-air gradient 3.086e-6 1/s2.
double gravity_by_place_m_s2(double latitude_rad, double height_m);

} // namespace stillmark::simulator
