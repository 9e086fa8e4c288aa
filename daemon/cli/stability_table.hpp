#pragma once

#include "daemon/metrology/evaluation/allan_deviation.hpp"

#include <nlohmann/json.hpp>

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::cli {

/// Equally spaced values out of a table of comma-separated values with the columns `value` and, where the table has
/// them, `time`; both may carry a unit in their heading, of time s (also where none stands), ms, min or h.
struct StabilityTable {
    std::vector<double> values;
    std::string unit;                 ///< of the values; empty: the heading does not say
    std::optional<double> interval_s; ///< between two values; nothing: neither the table nor the option says
    std::string mistake;              ///< not empty: the table cannot be used
};

/// `interval` is what the option says, such as "0.5 s", or empty. A gap, a step of time that is off the median one by
/// more than a twentieth of it, or a value that cannot be read is a mistake with its line: deviations of what is left
/// would be of other averaging times.
StabilityTable read_stability_table(const std::string& name, const std::string& text, const std::string& interval);

/// Averaging times in seconds where the interval is known, and in sampling intervals.
nlohmann::json stability_json(const StabilityTable& table, const std::vector<metrology::StabilityAt>& found);
std::vector<std::string> stability_lines(const StabilityTable& table, const std::vector<metrology::StabilityAt>& found,
                                         std::size_t columns);

} // namespace stillmark::cli
