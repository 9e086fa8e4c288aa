#include "daemon/cli/wording.hpp"

#include "daemon/metrology/rounding.hpp"
#include "drivers/units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace stillmark::cli {

namespace {

/// Position of the leading digit: 0 for 1 to 9, -3 for 0.001.
int leading_digit(double value) {
    return static_cast<int>(std::floor(std::log10(std::abs(value))));
}

std::string rounded(double value, int decimals, bool with_sign) {
    const std::string text = metrology::rounded(value, -decimals);
    const bool zero = text.find_first_of("123456789") == std::string::npos;
    const bool plus = with_sign && !zero && text.front() != '-';
    return plus ? fmt::format("+{}", text) : text;
}

} // namespace

std::string span_words(Micros span_us) {
    constexpr Micros second = 1'000'000;
    constexpr Micros minute = 60 * second;
    constexpr Micros hour = 60 * minute;
    const Micros span = std::max<Micros>(span_us, 0);
    constexpr Micros tenth = second / 10;
    if (span < 10 * second) return fmt::format("{}.{} s", span / second, span % second / tenth);
    if (span < minute) return fmt::format("{} s", span / second);
    if (span < hour) return fmt::format("{} min {} s", span / minute, span % minute / second);
    return fmt::format("{} h {} min", span / hour, span % hour / minute);
}

std::string Shown::number(std::optional<double> pa) const {
    return pa && std::isfinite(*pa) ? rounded(*pa / pascals, decimals, false) : "-";
}

std::string Shown::signed_number(std::optional<double> pa) const {
    return pa && std::isfinite(*pa) ? rounded(*pa / pascals, decimals, true) : "-";
}

Shown show_with(const std::string& unit, std::optional<double> expanded_pa, double example_pa) {
    constexpr int without_uncertainty = 7;
    constexpr int most_decimals = 9;
    Shown shown;
    const auto known = drivers::pressure_unit(unit);
    shown.unit = known ? known->symbol : "Pa";
    shown.pascals = known ? known->pascals : 1.0;
    const double u = expanded_pa.value_or(0) / shown.pascals;
    const double example = example_pa / shown.pascals;
    if (std::isfinite(u) && u > 0) {
        shown.decimals = -metrology::place_of(u);
    } else if (std::isfinite(example) && example != 0) {
        shown.decimals = std::max(0, without_uncertainty - 1 - leading_digit(example));
    }
    shown.decimals = std::min(shown.decimals, most_decimals);
    return shown;
}

std::string remark_words(const Mark& mark) {
    std::string words = mark.status == "sighted" ? "" : mark.status;
    if (!mark.why.empty()) words += words.empty() ? mark.why : ": " + mark.why;
    for (const std::string& flag : mark.flags)
        words += words.empty() ? flag : "; " + flag;
    return words;
}

std::string disc_words(const std::vector<std::string>& discs) {
    return discs.empty() ? "no discs" : fmt::format("{}", fmt::join(discs, ", "));
}

} // namespace stillmark::cli
