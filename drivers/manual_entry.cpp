#include "drivers/driver.hpp"

#include <fmt/format.h>

#include <charconv>
#include <cmath>

namespace stillmark::drivers {
namespace {

struct NumberAndUnit {
    double number = 0;
    std::string unit;
};

std::string_view trimmed(std::string_view text) {
    const auto first = text.find_first_not_of(" \t");
    if (first == std::string_view::npos) return {};
    return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

std::optional<NumberAndUnit> number_and_unit(std::string_view text) {
    NumberAndUnit found;
    if (text.starts_with('+')) text.remove_prefix(1);
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), found.number);
    if (error != std::errc{} || !std::isfinite(found.number)) return std::nullopt;
    found.unit = trimmed({end, static_cast<std::size_t>(text.data() + text.size() - end)});
    return found;
}

std::string in_unit(double number, const std::string& unit) {
    // A negative zero is nothing that a pointer shows.
    return fmt::format("{:.10g} {}", number + 0.0, unit);
}

/// One reading of the pointer, in pascals. `which` is "untapped" or "tapped".
QuantityResult<double> pointer_pa(const Profile& profile, const ManualReading& how, const std::string& text,
                                  const char* which) {
    const auto refused = [which](const std::string& why) {
        return QuantityError{fmt::format("{} reading: {}", which, why)};
    };
    const std::string& unit = profile.unit.symbol;
    const double step = how.division_si / how.parts / profile.unit.pascals;
    const std::string_view entered = trimmed(text);
    const std::string example = in_unit(5 * step, unit);
    if (entered.empty())
        return refused(fmt::format("nothing was entered; enter it with its unit, such as \"{}\"", example));
    const auto found = number_and_unit(entered);
    if (!found) {
        return refused(fmt::format("\"{}\" does not begin with a number; enter it like \"{}\"", entered, example));
    }
    if (found->unit.empty()) {
        return refused(fmt::format("\"{}\" has no unit; enter \"{}\" if that is what the dial shows", entered,
                                   in_unit(found->number, unit)));
    }
    if (found->unit != unit) {
        return refused(
            fmt::format("\"{}\" is not in {}, the dial's own unit; enter what the pointer shows, like \"{}\"", entered,
                        unit, example));
    }
    const double steps = found->number / step;
    // Digits as typed carry a rounding of the last place of a double, no more.
    if (std::abs(steps - std::round(steps)) > 1e-6) {
        const std::string grid = how.parts == 1 ? fmt::format("whole divisions of {}", in_unit(step, unit))
                                                : fmt::format("1/{} of a division of {}, in steps of {}", how.parts,
                                                              in_unit(step * how.parts, unit), in_unit(step, unit));
        return refused(fmt::format("\"{}\" lies between what is estimated, {}; the nearest are \"{}\" and \"{}\"",
                                   entered, grid, in_unit(std::floor(steps) * step, unit),
                                   in_unit(std::ceil(steps) * step, unit)));
    }
    return found->number * profile.unit.pascals + 0.0;
}

} // namespace

QuantityResult<ManualEntry> read_manual_entry(const Profile& profile, const std::string& untapped,
                                              const std::string& tapped) {
    const auto* how = std::get_if<ManualReading>(&profile.how);
    if (how == nullptr) {
        return QuantityError{fmt::format("{} is read over its wire; nothing is entered for it", profile.model)};
    }
    const auto before = pointer_pa(profile, *how, untapped, "untapped");
    if (before.has_error()) return before.error();
    const auto after = pointer_pa(profile, *how, tapped, "tapped");
    if (after.has_error()) return after.error();
    return ManualEntry{*before, *after};
}

} // namespace stillmark::drivers
