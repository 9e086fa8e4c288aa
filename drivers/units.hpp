#pragma once

#include <boost/system/result.hpp>

#include <optional>
#include <string>
#include <string_view>

namespace stillmark::drivers {

/// What a quantity measures; a bench file that gives a length where a mass belongs is refused by it.
enum class Dimension {
    pressure,             ///< Pa
    temperature,          ///< degC, as a point on the scale
    temperature_interval, ///< K
    mass,                 ///< kg
    density,              ///< kg/m3
    length,               ///< m
    area,                 ///< m2
    volume,               ///< m3
    time,                 ///< s
    speed,                ///< m/s
    acceleration,         ///< m/s2
    angle,                ///< rad
    surface_tension,      ///< N/m
    per_kelvin,           ///< 1/K
    per_pascal,           ///< 1/Pa
    per_pascal_squared,   ///< 1/Pa2
    fraction,             ///< 1 ("50 %", "20 ppm")
    current,              ///< A
    voltage,              ///< V
    voltage_ratio,        ///< V/V, of a bridge: its output to its supply
    molar_mass,           ///< kg/mol
    molar_volume,         ///< m3/mol, a second virial coefficient
    molar_volume_squared, ///< m6/mol2, a third one
    molar_volume_per_k,   ///< m3/(mol K)
};

/// Why a text is no such quantity: what was found and what would do, ready to stand behind a place.
struct QuantityError {
    std::string message;
};
template <class T>
using QuantityResult = boost::system::result<T, QuantityError>;

[[noreturn]] void throw_exception_from_error(const QuantityError& error, const boost::source_location& at);

/// The SI value of a quantity text such as "140 bar", "23.5 degC", "80.65 mm2", "0.94e-6 1/MPa".
/// A missing unit, an unknown unit, a unit of another dimension and a number that is not finite are errors.
QuantityResult<double> parse_quantity(std::string_view text, Dimension dimension);

/// The unit in which an instrument's number counts: pascals in one unit (exact where the unit's definition is), and the
/// pressure at the number zero, which is not 0 for an electrical output such as 4 to 20 mA.
struct PressureUnit {
    std::string symbol;
    double pascals = 1;
    double pascals_at_zero = 0;

    double to_pa(double number) const { return number * pascals + pascals_at_zero; }
    double from_pa(double pa) const { return (pa - pascals_at_zero) / pascals; }
};
/// The unit with this symbol, or nothing. NIST SP 811 (2008), B.8, for the symbols and definitions.
std::optional<PressureUnit> pressure_unit(std::string_view symbol);

/// What an electrical output counts in: the dimension of this symbol where it is a current, a voltage or a ratio of
/// voltages, and nothing else.
std::optional<Dimension> signal_dimension(std::string_view symbol);
/// One of such a symbol in SI: 0.001 of "mA" and of "mV/V". 0 for any other symbol.
double signal_in_si(std::string_view symbol);

} // namespace stillmark::drivers
