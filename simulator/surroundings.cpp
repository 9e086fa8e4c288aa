#include "simulator/truth.hpp"

#include <fmt/format.h>

#include <cmath>
#include <utility>

namespace stillmark::simulator {

double moist_air_density_kg_m3(const TrueAir& air) {
    constexpr double gas_constant = 8.314462618;
    constexpr double dry_air_kg_per_mol = 0.02896546;
    constexpr double water_kg_per_mol = 0.01801528;
    constexpr double compressibility = 0.99960;
    constexpr double enhancement = 1.0040;
    // Magnus with the coefficients of Sonntag (1990), over water; from memory, held to 2e-3 by the test against AIR-1.
    const double saturation_pa = 611.2 * std::exp(17.62 * air.temperature_c / (243.12 + air.temperature_c));
    const double vapour_pa = air.humidity * enhancement * saturation_pa;
    const double kelvin = air.temperature_c + 273.15;
    return ((air.pressure_pa - vapour_pa) * dry_air_kg_per_mol + vapour_pa * water_kg_per_mol) /
           (compressibility * gas_constant * kelvin);
}

double air_column_pa(const TrueAir& above, double gravity_m_s2, double down_m) {
    const double first_pa = moist_air_density_kg_m3(above) * gravity_m_s2 * down_m;
    return first_pa * (1 + first_pa / (2 * above.pressure_pa));
}

double height_above_balance_m(const JsonPlace& place) {
    const auto words = place.text();
    for (const auto& [ending, sign] :
         {std::pair{std::string(" below balance"), -1.0}, std::pair{std::string(" above balance"), 1.0}})
        if (words.ends_with(ending))
            return sign * quantity_si(words.substr(0, words.size() - ending.size()), length_kind);
    place.refuse(fmt::format("\"{}\" does not say above or below balance", words));
}

double gravity_by_place_m_s2(double latitude_rad, double height_m) {
    constexpr double equator = 9.7803267715;
    constexpr double pole = 9.8321863685;
    constexpr double axis_ratio = 1 - 1 / 298.257222101;
    const double sine2 = std::sin(latitude_rad) * std::sin(latitude_rad);
    const double on_ellipsoid =
        (equator * (1 - sine2) + axis_ratio * pole * sine2) / std::sqrt((1 - sine2) + axis_ratio * axis_ratio * sine2);
    return on_ellipsoid - 3.086e-6 * height_m;
}

} // namespace stillmark::simulator
