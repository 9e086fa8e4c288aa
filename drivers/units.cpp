#include "drivers/units.hpp"

#include <boost/throw_exception.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <numbers>
#include <span>
#include <stdexcept>

namespace stillmark::drivers {

namespace {

/// SI value = number * times / over + offset. Decimal submultiples divide, because 1e6 is exact in binary and 1e-6 is
/// not.
struct Unit {
    std::string_view symbol;
    double times = 1;
    double over = 1;
    double offset = 0;
};

constexpr double g_n = 9.80665;      // m/s2, exact
constexpr double inch = 0.0254;      // m, exact
constexpr double foot = 12 * inch;   // m
constexpr double pound = 0.45359237; // kg, exact
constexpr double pi = std::numbers::pi;

// Manometric units are density * g_n * length. "Conventional" columns: 13595.1 and 1000 kg/m3, exact by convention. The
// tagged ones carry their temperature in the symbol; their densities, kg/m3, are those that give the factors printed in
// NIST SP 811 (2008), B.8 (which has no 68 degF: there Tanaka et al. 2001 at 20 degC).
constexpr double mercury = 13595.1 * g_n;
constexpr double mercury_32_degf = 13595.0785 * g_n;
constexpr double mercury_60_degf = 13556.8 * g_n;
constexpr double water = 1000 * g_n;
constexpr double water_4_degc = 999.972 * g_n;
constexpr double water_60_degf = 999.001 * g_n;
constexpr double water_68_degf = 998.20675 * g_n;

constexpr Unit pressure_units[] = {
    {"Pa"},
    {"hPa", 1e2},
    {"kPa", 1e3},
    {"MPa", 1e6},
    {"GPa", 1e9},
    {"bar", 1e5},
    {"mbar", 1e2},
    {"psi", pound* g_n / (inch * inch)},
    {"ksi", 1000 * pound* g_n / (inch * inch)},
    {"psf", pound* g_n / (foot * foot)},
    {"kgf/cm2", 98066.5},
    {"kgf/mm2", 9806650},
    {"N/mm2", 1e6},
    {"atm", 101325},
    {"torr", 101325, 760},
    {"Torr", 101325, 760},
    {"mmHg", mercury, 1e3},
    {"cmHg", mercury, 1e2},
    {"inHg", mercury* inch},
    {"ftHg", mercury* foot},
    {"mmH2O", water, 1e3},
    {"cmH2O", water, 1e2},
    {"mH2O", water},
    {"inH2O", water* inch},
    {"ftH2O", water* foot},
    {"inHg@32degF", mercury_32_degf* inch},
    {"inHg@60degF", mercury_60_degf* inch},
    {"cmH2O@4degC", water_4_degc, 1e2},
    {"inH2O@39.2degF", water_4_degc* inch},
    {"ftH2O@39.2degF", water_4_degc* foot},
    {"inH2O@60degF", water_60_degf* inch},
    {"inH2O@68degF", water_68_degf* inch},
};
constexpr Unit temperature_units[] = {{"degC"}, {"K", 1, 1, -273.15}, {"degF", 5, 9, -32 * 5.0 / 9.0}};
constexpr Unit interval_units[] = {{"K"}, {"mK", 1, 1e3}};
constexpr Unit mass_units[] = {{"kg"}, {"g", 1, 1e3}, {"mg", 1, 1e6}, {"ug", 1, 1e9}, {"t", 1e3}, {"lb", pound}};
constexpr Unit density_units[] = {{"kg/m3"}, {"g/cm3", 1e3}, {"g/ml", 1e3}, {"kg/l", 1e3}};
constexpr Unit length_units[] = {{"m"},          {"cm", 1, 1e2}, {"mm", 1, 1e3}, {"um", 1, 1e6},
                                 {"nm", 1, 1e9}, {"km", 1e3},    {"in", inch},   {"ft", foot}};
constexpr Unit area_units[] = {{"m2"}, {"cm2", 1, 1e4}, {"mm2", 1, 1e6}, {"in2", inch* inch}};
constexpr Unit volume_units[] = {{"m3"}, {"cm3", 1, 1e6}, {"mm3", 1, 1e9}, {"l", 1, 1e3}, {"ml", 1, 1e6}};
constexpr Unit time_units[] = {{"s"}, {"ms", 1, 1e3}, {"us", 1, 1e6}, {"min", 60}, {"h", 3600}, {"d", 86400}};
constexpr Unit speed_units[] = {{"m/s"}, {"mm/s", 1, 1e3}, {"mm/min", 1, 6e4}};
constexpr Unit acceleration_units[] = {{"m/s2"}, {"Gal", 1, 1e2}, {"mGal", 1, 1e5}, {"uGal", 1, 1e8}};
constexpr Unit angle_units[] = {{"rad"},          {"mrad", 1, 1e3},      {"urad", 1, 1e6},
                                {"deg", pi, 180}, {"arcmin", pi, 10800}, {"arcsec", pi, 648000}};
constexpr Unit tension_units[] = {{"N/m"}, {"mN/m", 1, 1e3}};
constexpr Unit per_kelvin_units[] = {{"1/K"}, {"ppm/K", 1, 1e6}};
constexpr Unit per_pascal_units[] = {{"1/Pa"},          {"1/kPa", 1, 1e3},    {"1/MPa", 1, 1e6},   {"1/GPa", 1, 1e9},
                                     {"1/bar", 1, 1e5}, {"ppm/MPa", 1, 1e12}, {"ppm/bar", 1, 1e11}};
constexpr Unit per_pascal_squared_units[] = {{"1/Pa2"}, {"1/MPa2", 1, 1e12}, {"1/bar2", 1, 1e10}};
constexpr Unit fraction_units[] = {{"1"}, {"%", 1, 1e2}, {"ppm", 1, 1e6}};
constexpr Unit current_units[] = {{"A"}, {"mA", 1, 1e3}, {"uA", 1, 1e6}};
constexpr Unit voltage_units[] = {{"V"}, {"mV", 1, 1e3}};
constexpr Unit voltage_ratio_units[] = {{"V/V"}, {"mV/V", 1, 1e3}};
constexpr Unit molar_mass_units[] = {{"kg/mol"}, {"g/mol", 1, 1e3}, {"kg/kmol", 1, 1e3}};
constexpr Unit molar_volume_units[] = {{"m3/mol"}, {"cm3/mol", 1, 1e6}};
constexpr Unit molar_volume_squared_units[] = {{"m6/mol2"}, {"cm6/mol2", 1, 1e12}};
constexpr Unit molar_volume_per_kelvin_units[] = {{"m3/mol/K"}, {"cm3/mol/K", 1, 1e6}};

struct Kind {
    Dimension dimension;
    std::string_view name; ///< with its article
    std::span<const Unit> units;
    std::string_view usual;   ///< the units to propose
    std::string_view example; ///< the unit in the proposal for a bare number
};

constexpr Kind kinds[] = {
    {Dimension::pressure, "a pressure", pressure_units, "Pa, hPa, kPa, MPa, bar, mbar or psi", "bar"},
    {Dimension::temperature, "a temperature", temperature_units, "degC, K or degF", "degC"},
    {Dimension::temperature_interval, "a temperature interval", interval_units, "K or mK", "K"},
    {Dimension::mass, "a mass", mass_units, "kg, g or mg", "kg"},
    {Dimension::density, "a density", density_units, "kg/m3 or g/cm3", "kg/m3"},
    {Dimension::length, "a length", length_units, "m, cm, mm, um, in or ft", "mm"},
    {Dimension::area, "an area", area_units, "m2, cm2, mm2 or in2", "mm2"},
    {Dimension::volume, "a volume", volume_units, "m3, cm3, mm3, l or ml", "cm3"},
    {Dimension::time, "a time", time_units, "s, ms, us, min, h or d", "s"},
    {Dimension::speed, "a speed", speed_units, "m/s, mm/s or mm/min", "mm/min"},
    {Dimension::acceleration, "an acceleration", acceleration_units, "m/s2, Gal or mGal", "m/s2"},
    {Dimension::angle, "an angle", angle_units, "rad, mrad, deg, arcmin or arcsec", "mrad"},
    {Dimension::surface_tension, "a surface tension", tension_units, "N/m or mN/m", "mN/m"},
    {Dimension::per_kelvin, "a change per kelvin", per_kelvin_units, "1/K or ppm/K", "1/K"},
    {Dimension::per_pascal, "a change per pressure", per_pascal_units, "1/Pa, 1/MPa, 1/bar or ppm/MPa", "1/MPa"},
    {Dimension::per_pascal_squared, "a change per pressure squared", per_pascal_squared_units, "1/Pa2 or 1/MPa2",
     "1/MPa2"},
    {Dimension::fraction, "a fraction", fraction_units, "1, % or ppm", "%"},
    {Dimension::current, "a current", current_units, "mA or A", "mA"},
    {Dimension::voltage, "a voltage", voltage_units, "V or mV", "V"},
    {Dimension::voltage_ratio, "a ratio of voltages", voltage_ratio_units, "mV/V or V/V", "mV/V"},
    {Dimension::molar_mass, "a molar mass", molar_mass_units, "g/mol or kg/mol", "g/mol"},
    {Dimension::molar_volume, "a second virial coefficient", molar_volume_units, "cm3/mol or m3/mol", "cm3/mol"},
    {Dimension::molar_volume_squared, "a third virial coefficient", molar_volume_squared_units, "cm6/mol2 or m6/mol2",
     "cm6/mol2"},
    {Dimension::molar_volume_per_k, "a change of a virial coefficient per kelvin", molar_volume_per_kelvin_units,
     "cm3/mol/K or m3/mol/K", "cm3/mol/K"},
};

const Kind& kind_of(Dimension dimension) {
    return *std::find_if(std::begin(kinds), std::end(kinds),
                         [=](const Kind& kind) { return kind.dimension == dimension; });
}

const Unit* find_unit(std::span<const Unit> units, std::string_view symbol) {
    const auto found =
        std::find_if(units.begin(), units.end(), [=](const Unit& unit) { return unit.symbol == symbol; });
    return found == units.end() ? nullptr : &*found;
}

bool equal_but_for_case(std::string_view a, std::string_view b) {
    return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                      [](unsigned char x, unsigned char y) { return std::tolower(x) == std::tolower(y); });
}

bool is_space(char c) {
    return c == ' ' || c == '\t';
}

std::string_view trimmed(std::string_view text) {
    while (!text.empty() && is_space(text.front()))
        text.remove_prefix(1);
    while (!text.empty() && is_space(text.back()))
        text.remove_suffix(1);
    return text;
}

/// A symbol as keyboards type it, in the letters of the tables: degree sign, micro sign, raised 2 and 3.
std::string in_plain_letters(std::string_view symbol) {
    constexpr std::pair<std::string_view, std::string_view> letters[] = {
        {"\u00b0", "deg"}, {"\u00b5", "u"}, {"\u03bc", "u"}, {"\u00b2", "2"}, {"\u00b3", "3"}};
    std::string out(symbol);
    for (const auto& [typed, plain] : letters) {
        for (std::size_t at = out.find(typed); at != std::string::npos; at = out.find(typed)) {
            out.replace(at, typed.size(), plain);
        }
    }
    return out;
}

QuantityError no_number(std::string_view text, const Kind& kind) {
    return {fmt::format("\"{}\" is not {}; write a number and a unit, for example \"1.5 {}\"", text, kind.name,
                        kind.example)};
}

QuantityError wrong_unit(std::string_view text, std::string_view symbol, const Kind& wanted) {
    for (const Kind& kind : kinds) {
        if (find_unit(kind.units, symbol) != nullptr) {
            return {fmt::format("\"{}\" is {} where {} belongs; use {}", text, kind.name, wanted.name, wanted.usual)};
        }
    }
    for (const Unit& unit : wanted.units) {
        if (equal_but_for_case(unit.symbol, symbol)) {
            return {fmt::format("\"{}\": \"{}\" is not a unit; use \"{}\"", text, symbol, unit.symbol)};
        }
    }
    if (symbol.front() == ',') {
        return {fmt::format("\"{}\": a comma does not divide a number; write the decimal point", text)};
    }
    return {fmt::format("\"{}\": \"{}\" is not a unit of {}; use {}", text, symbol, wanted.name, wanted.usual)};
}

} // namespace

void throw_exception_from_error(const QuantityError& error, const boost::source_location& at) {
    boost::throw_exception(std::invalid_argument(error.message), at);
}

QuantityResult<double> parse_quantity(std::string_view text, Dimension dimension) {
    const Kind& kind = kind_of(dimension);
    std::string_view rest = trimmed(text);
    const bool signed_plus = rest.size() > 1 && rest[0] == '+' && rest[1] != '-'; // from_chars takes no plus
    if (signed_plus) rest.remove_prefix(1);
    double number = 0;
    const auto [end, fault] = std::from_chars(rest.data(), rest.data() + rest.size(), number);
    if (fault == std::errc::result_out_of_range) {
        return QuantityError{fmt::format("\"{}\": the number is beyond what can be computed with", text)};
    }
    if (fault != std::errc{} || !std::isfinite(number)) return no_number(text, kind);
    rest.remove_prefix(static_cast<std::size_t>(end - rest.data()));
    const std::string symbol = in_plain_letters(trimmed(rest));
    if (symbol.empty()) {
        return QuantityError{
            fmt::format("\"{}\" has no unit; write for example \"{} {}\"", text, trimmed(text), kind.example)};
    }
    const Unit* unit = find_unit(kind.units, symbol);
    if (unit == nullptr) return wrong_unit(text, symbol, kind);
    const double value = number * unit->times / unit->over + unit->offset;
    if (!std::isfinite(value)) {
        return QuantityError{fmt::format("\"{}\": the number is beyond what can be computed with", text)};
    }
    return value;
}

std::optional<PressureUnit> pressure_unit(std::string_view symbol) {
    const Unit* unit = find_unit(pressure_units, symbol);
    if (unit == nullptr) return std::nullopt;
    return PressureUnit{std::string(unit->symbol), unit->times / unit->over};
}

namespace {

constexpr Dimension signals[] = {Dimension::current, Dimension::voltage, Dimension::voltage_ratio};

} // namespace

std::optional<Dimension> signal_dimension(std::string_view symbol) {
    for (const Dimension dimension : signals)
        if (find_unit(kind_of(dimension).units, symbol) != nullptr) return dimension;
    return std::nullopt;
}

double signal_in_si(std::string_view symbol) {
    for (const Dimension dimension : signals)
        if (const Unit* unit = find_unit(kind_of(dimension).units, symbol)) return unit->times / unit->over;
    return 0;
}

} // namespace stillmark::drivers
