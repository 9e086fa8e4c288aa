#include "simulator/quantity.hpp"

#include "simulator/mistake.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <cstdlib>
#include <string>

namespace stillmark::simulator {

namespace {

struct Base {
    std::string_view symbol;
    double si;
    Kind kind;
    bool prefixes; ///< may carry n, u, m, c, h, k, M, G
};

constexpr double pi = 3.14159265358979323846;

/// Definitions of the units of pressure: NIST SP 811 (2008), B.8; psi = lbf/in2 with g_n = 9.80665 m/s2.
constexpr std::array bases{
    Base{"Pa", 1, pressure_kind, true},
    Base{"bar", 1e5, pressure_kind, true},
    Base{"psi", 0.45359237 * 9.80665 / (0.0254 * 0.0254), pressure_kind, true},
    Base{"atm", 101325, pressure_kind, false},
    Base{"kgf/cm2", 98066.5, pressure_kind, false},
    Base{"degC", 1, celsius_kind, false},
    Base{"K", 1, kelvin_kind, true},
    Base{"g", 1e-3, mass_kind, true},
    Base{"m", 1, length_kind, true},
    Base{"l", 1e-3, volume_kind, true},
    Base{"s", 1, time_kind, true},
    Base{"min", 60, time_kind, false},
    Base{"h", 3600, time_kind, false},
    Base{"N", 1, {1, 1, -2, 0}, true},
    Base{"rad", 1, number_kind, true},
    Base{"mol", 1, number_kind, true},
    Base{"deg", pi / 180, number_kind, false},
    Base{"%", 1e-2, number_kind, false},
    Base{"ppm", 1e-6, number_kind, false},
    Base{"1", 1, number_kind, false},
};

struct Unit {
    double si = 1;
    Kind kind;
};

bool prefix_factor(char letter, double& factor) {
    switch (letter) {
    case 'n':
        factor = 1e-9;
        return true;
    case 'u':
        factor = 1e-6;
        return true;
    case 'm':
        factor = 1e-3;
        return true;
    case 'c':
        factor = 1e-2;
        return true;
    case 'h':
        factor = 1e2;
        return true;
    case 'k':
        factor = 1e3;
        return true;
    case 'M':
        factor = 1e6;
        return true;
    case 'G':
        factor = 1e9;
        return true;
    default:
        return false;
    }
}

/// One factor of a unit: prefix, symbol, power ("mm2"). False where nothing fits.
bool read_factor(std::string_view word, Unit& to) {
    int power = 1;
    std::string_view symbol = word;
    if (word.size() > 1 && word.back() >= '2' && word.back() <= '6') {
        power = word.back() - '0';
        symbol.remove_suffix(1);
    }
    for (const bool with_prefix : {false, true}) {
        for (const auto& base : bases) {
            double factor = 1;
            std::string_view rest = symbol;
            if (with_prefix) {
                if (!base.prefixes || rest.size() < 2 || !prefix_factor(rest.front(), factor)) continue;
                rest.remove_prefix(1);
            }
            if (rest != base.symbol) continue;
            to.si = std::pow(factor * base.si, power);
            to.kind = {base.kind.kg * power, base.kind.m * power, base.kind.s * power, base.kind.k * power,
                       base.kind.celsius_point};
            return true;
        }
    }
    return false;
}

bool read_unit(std::string_view text, Unit& to) {
    if (text == "kgf/cm2") {
        to = {98066.5, pressure_kind};
        return true;
    }
    to = {};
    int sign = 1;
    while (!text.empty()) {
        const auto slash = text.find('/');
        Unit factor;
        if (!read_factor(text.substr(0, slash), factor)) return false;
        to.si *= std::pow(factor.si, sign);
        to.kind.kg += sign * factor.kind.kg;
        to.kind.m += sign * factor.kind.m;
        to.kind.s += sign * factor.kind.s;
        to.kind.k += sign * factor.kind.k;
        to.kind.celsius_point |= factor.kind.celsius_point;
        if (slash == std::string_view::npos) break;
        text.remove_prefix(slash + 1);
        sign = -1;
    }
    return true;
}

} // namespace

double quantity_si(std::string_view text, const Kind& kind) {
    const std::string copy(text);
    char* end = nullptr;
    const double number = std::strtod(copy.c_str(), &end);
    if (end == copy.c_str() || !std::isfinite(number)) throw Mistake(fmt::format("\"{}\" has no number", text));
    std::string_view unit_text(end);
    while (!unit_text.empty() && unit_text.front() == ' ')
        unit_text.remove_prefix(1);
    while (!unit_text.empty() && unit_text.back() == ' ')
        unit_text.remove_suffix(1);
    if (unit_text.empty()) throw Mistake(fmt::format("\"{}\" has no unit", text));
    Unit unit;
    if (!read_unit(unit_text, unit))
        throw Mistake(fmt::format("\"{}\": the unit \"{}\" is not known", text, unit_text));
    if (!(unit.kind == kind))
        throw Mistake(fmt::format("\"{}\": the unit \"{}\" measures something else", text, unit_text));
    return number * unit.si;
}

double pascals_in(std::string_view symbol) {
    return quantity_si(fmt::format("1 {}", symbol), pressure_kind);
}

} // namespace stillmark::simulator
