#include "daemon/cli/dial_entry.hpp"

#include "drivers/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string_view>

namespace stillmark::cli {

namespace {

constexpr std::size_t longest_typed = 24;

/// Why a reading cannot have been estimated on such a dial, or nothing. All in the dial's unit.
std::string off_the_division(double value, const std::string& shown, const std::string& unit, double division,
                             std::int64_t parts) {
    constexpr double rounding = 1e-6;
    const double step = division / static_cast<double>(parts);
    const double steps = value / step;
    if (!(step > 0) || std::abs(steps - std::round(steps)) <= rounding * std::max(1.0, std::abs(steps))) return {};
    return fmt::format("{} lies between two steps of the dial (division {:g} {}, read to 1/{}): give {:g} or {:g} {}",
                       shown, division, unit, parts, std::floor(steps) * step, std::ceil(steps) * step, unit);
}

/// The digits at the front of the text, taken off it.
std::string take_digits(std::string_view& text) {
    const std::size_t count = std::min(text.find_first_not_of("0123456789"), text.size());
    std::string digits(text.substr(0, count));
    text.remove_prefix(count);
    return digits;
}

std::string_view trimmed(std::string_view text) {
    const std::size_t first = text.find_first_not_of(' ');
    if (first == std::string_view::npos) return {};
    return text.substr(first, text.find_last_not_of(' ') - first + 1);
}

/// What was typed, taken apart: sign and whole digits, point or comma with decimals, and what follows.
struct Parts {
    std::string whole, decimals, unit;
    bool comma = false;
};
std::optional<Parts> take_apart(std::string_view typed) {
    Parts parts;
    std::string_view rest = trimmed(typed);
    if (!rest.empty() && (rest.front() == '-' || rest.front() == '+')) {
        if (rest.front() == '-') parts.whole = "-";
        rest.remove_prefix(1);
    }
    const std::string digits = take_digits(rest);
    if (digits.empty()) return std::nullopt;
    parts.whole += digits;
    if (!rest.empty() && (rest.front() == '.' || rest.front() == ',')) {
        parts.comma = rest.front() == ',';
        rest.remove_prefix(1);
        parts.decimals = take_digits(rest);
        if (parts.decimals.empty()) return std::nullopt;
    }
    parts.unit = trimmed(rest);
    return parts;
}

} // namespace

TypedReading read_typed(const std::string& typed, const std::string& channel, const std::string& unit,
                        std::optional<double> division, std::int64_t parts) {
    const auto found = take_apart(typed);
    if (!found) return {"", fmt::format("\"{}\" is no reading; type a number such as 40.2", typed)};
    if (found->comma && found->decimals.size() == 3)
        return {"", fmt::format("\"{}\" can be read in two ways; write decimals with a point", typed)};
    if (!found->unit.empty() && found->unit != unit)
        return {"", fmt::format("{} reads in {}, not in {}; type what the dial shows", channel, unit, found->unit)};
    const std::string text =
        fmt::format("{}{}{} {}", found->whole, found->decimals.empty() ? "" : ".", found->decimals, unit);
    const auto pa = drivers::parse_quantity(text, drivers::Dimension::pressure);
    if (!pa) return {"", pa.error().message};
    if (const auto scale = drivers::pressure_unit(unit); scale && division) {
        const std::string off = off_the_division(*pa / scale->pascals, text, unit, *division, parts);
        if (!off.empty()) return {"", off};
    }
    return {text, ""};
}

DialEntry::DialEntry(const Channel& channel, Micros started_us)
    : channel_(channel.name), unit_(channel.unit), division_(channel.division), parts_(channel.parts),
      started_us_(started_us) {}

void DialEntry::type(char character) {
    if (!complete() && typed().size() < longest_typed) typed().push_back(character);
}

void DialEntry::erase() {
    if (complete()) return;
    if (!typed().empty())
        typed().pop_back();
    else
        field_ = Field::untapped;
}

std::optional<std::string> DialEntry::take() {
    if (complete()) return std::nullopt;
    if (field_ == Field::tapped && tapped_.empty()) {
        tapped_result_ = untapped_result_;
        field_ = Field::complete;
        return std::nullopt;
    }
    const TypedReading reading = read_typed(typed(), channel_, unit_, division_, parts_);
    if (!reading.refusal.empty()) return reading.refusal;
    (field_ == Field::untapped ? untapped_result_ : tapped_result_) = reading.text;
    field_ = field_ == Field::untapped ? Field::tapped : Field::complete;
    return std::nullopt;
}

std::string DialEntry::shown(Field field) const {
    const std::string& typed_text = field == Field::untapped ? untapped_ : tapped_;
    const bool has_unit = std::any_of(typed_text.begin(), typed_text.end(),
                                      [](char c) { return std::isalpha(static_cast<unsigned char>(c)) != 0; });
    const char* cursor = field_ == field ? "_" : "";
    if (field == Field::tapped && typed_text.empty() && field_ != Field::untapped)
        return fmt::format("{} {} (Enter: unchanged)", cursor, unit_);
    return fmt::format("{}{}{}", typed_text, cursor, has_unit ? "" : " " + unit_);
}

std::string DialEntry::line() const {
    if (complete())
        return fmt::format("{}   before tapping: {}   after tapping: {}   sent", channel_, untapped_result_,
                           tapped_result_);
    std::string text = fmt::format("{}   before tapping: {}", channel_, shown(Field::untapped));
    if (field_ == Field::tapped) text += fmt::format("   after tapping: {}", shown(Field::tapped));
    return text;
}

} // namespace stillmark::cli
