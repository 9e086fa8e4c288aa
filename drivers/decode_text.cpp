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
    // from_chars takes no plus, and a minus behind it.
    if (text.starts_with("+-")) return std::nullopt;
    if (text.starts_with('+')) text.remove_prefix(1);
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error == std::errc::result_out_of_range) return std::nan("");
    if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
    return value;
}

/// Whether a stretch of a line holds a number that stands for itself between blanks, commas or semicolons.
bool holds_number(std::string_view text) {
    constexpr std::string_view between = " \t,;\r\n";
    while (!text.empty()) {
        const auto start = std::min(text.find_first_not_of(between), text.size());
        text.remove_prefix(start);
        const auto end = std::min(text.find_first_of(between), text.size());
        if (end > 0 && number_in(text.substr(0, end))) return true;
        text.remove_prefix(end);
    }
    return false;
}

/// Whether a pattern asks for digits beside its groups: then a second number is what the profile expects.
bool expects_digits_beside_groups(const std::string& pattern) {
    int depth = 0;
    std::string beside;
    for (std::size_t i = 0; i < pattern.size(); ++i) {
        const bool escaped = i > 0 && pattern[i - 1] == '\\';
        if (pattern[i] == '(' && !escaped) ++depth;
        if (depth == 0) beside += pattern[i];
        if (pattern[i] == ')' && !escaped) --depth;
    }
    return beside.find_first_of("0123456789") != std::string::npos || beside.find("\\d") != std::string::npos;
}

/// What the pattern lets pass beside the number and its unit holds another number: which one is the reading?
bool holds_two_numbers(const TextReading& how, const std::smatch& found) {
    if (expects_digits_beside_groups(how.pattern_text)) return false;
    const std::string line = found.str(0);
    const auto begin = static_cast<std::size_t>(found.position(1));
    const auto end = begin + static_cast<std::size_t>(found.length(1));
    return holds_number(std::string_view(line).substr(0, begin)) || holds_number(std::string_view(line).substr(end));
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
    if (!number || holds_two_numbers(how, found)) return not_understood;
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
