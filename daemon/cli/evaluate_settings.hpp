#pragma once

#include "daemon/metrology/evaluation/evaluation.hpp"

#include <optional>
#include <string>

namespace stillmark::cli {

/// The settings of `stillmark evaluate`, in the unit of the table.
struct EvaluateSettings {
    metrology::EvaluationSettings use;
    std::string unit;   ///< empty: nobody says it
    std::string method; ///< as the file names it
    std::string method_confirmed;
    /// Nominal characteristic of an electrical output: pressure = low + (reading - low_signal) / (high_signal -
    /// low_signal) * span; readings are in `signal`.
    struct Output {
        std::string signal;
        double low_signal = 0, high_signal = 0;
    };
    std::optional<Output> output;
};

/// Reads settings strictly. `table_unit` is what the table's heading says, or empty. The first mistake comes back in
/// `mistake`, with its place.
EvaluateSettings read_evaluate_settings(const std::string& name, const std::string& text, const std::string& table_unit,
                                        std::string& mistake);

} // namespace stillmark::cli
