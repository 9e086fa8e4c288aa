#include "drivers/driver.hpp"
#include "drivers/reading_status.hpp"

#include <charconv>
#include <cmath>
#include <optional>

namespace stillmark::drivers {
namespace {

/// A reply that is longer is no reading, and would only cost time to match.
constexpr std::size_t longest_reply = 512;

std::optional<double> number_in(std::string_view text) {
    if (text.starts_with('+')) text.remove_prefix(1);
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error == std::errc::result_out_of_range) return std::nan("");
    if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
    return value;
}

} // namespace

Decoded decode(const TextReading& how, const PressureUnit& unit, const std::string& line) {
    const Decoded not_understood{0, ReadingStatus::not_understood};
    if (line.size() > longest_reply) return not_understood;
    const auto start = std::min(line.find_first_not_of(" \t\r\n"), line.size());
    for (const auto& bad : how.bad) {
        if (!bad.empty() && line.compare(start, bad.size(), bad) == 0) return {0, ReadingStatus::instrument_fault};
    }
    std::smatch found;
    try {
        if (!std::regex_match(line, found, how.pattern) || found.size() < 2) return not_understood;
    } catch (const std::regex_error&) {
        return not_understood;
    }
    const auto number = number_in(found.str(1));
    if (!number) return not_understood;
    double value_pa = unit.to_pa(*number);
    if (found.size() > 2 && found[2].length() > 0 && found.str(2) != unit.symbol) {
        const auto named = pressure_unit(found.str(2));
        if (!named || !pressure_unit(unit.symbol)) return not_understood;
        value_pa = named->to_pa(*number);
    }
    if (!(std::abs(value_pa) <= greatest_pressure_pa)) return {0, ReadingStatus::not_a_number};
    return {value_pa, ReadingStatus::good};
}

} // namespace stillmark::drivers
