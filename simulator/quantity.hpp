#pragma once

#include <string_view>

namespace stillmark::simulator {

/// What a text measures, as powers of kilogram, metre, second, kelvin. A point on the temperature scale is its own
/// kind, because degrees Celsius have an offset there.
struct Kind {
    int kg = 0, m = 0, s = 0, k = 0;
    bool celsius_point = false;
    bool operator==(const Kind&) const = default;
};
inline constexpr Kind number_kind{};
inline constexpr Kind pressure_kind{1, -1, -2, 0};
inline constexpr Kind celsius_kind{0, 0, 0, 1, true};
inline constexpr Kind kelvin_kind{0, 0, 0, 1};
inline constexpr Kind mass_kind{1, 0, 0, 0};
inline constexpr Kind density_kind{1, -3, 0, 0};
inline constexpr Kind length_kind{0, 1, 0, 0};
inline constexpr Kind area_kind{0, 2, 0, 0};
inline constexpr Kind volume_kind{0, 3, 0, 0};
inline constexpr Kind time_kind{0, 0, 1, 0};
inline constexpr Kind speed_kind{0, 1, -1, 0};
inline constexpr Kind acceleration_kind{0, 1, -2, 0};
inline constexpr Kind surface_tension_kind{1, 0, -2, 0};
inline constexpr Kind per_kelvin_kind{0, 0, 0, -1};
inline constexpr Kind per_pascal_kind{-1, 1, 2, 0};
inline constexpr Kind per_pascal_squared_kind{-2, 2, 4, 0};
// A mole counts as a number.
inline constexpr Kind molar_mass_kind = mass_kind;
inline constexpr Kind molar_volume_kind = volume_kind;
inline constexpr Kind molar_volume_per_kelvin_kind{0, 3, 0, -1};
inline constexpr Kind molar_volume_squared_kind{0, 6, 0, 0};

/// The SI value of a number with its unit, such as "140 bar", "0.9e-6 1/MPa" or "23 ppm". Angles count as numbers.
/// Throws Mistake where the unit is missing, unknown or measures something else.
double quantity_si(std::string_view text, const Kind& kind);

/// Pascals in one unit of pressure, by its symbol. Throws Mistake.
double pascals_in(std::string_view symbol);

} // namespace stillmark::simulator
