#pragma once

#include "daemon/metrology/evaluation/evaluation.hpp"

#include <optional>
#include <string>
#include <vector>

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
    /// A reading whose reference is asked for; as a pressure where there is an output.
    struct AskedReading {
        double reading = 0;
        std::optional<double> u; ///< standard; nothing: the residual standard deviation of the fit
    };
    std::vector<AskedReading> inverse;
    /// An acceptance limit whose risks are asked for.
    struct AskedRisk {
        metrology::Process process;
        metrology::PermissibleError acceptance;
    };
    std::optional<AskedRisk> risk;

    /// Pressure for one unit of the output, signed.
    double pressure_per_signal() const;
    /// The pressure that a reading shows: itself, or of an output through its nominal characteristic.
    double shown_pressure(double reading) const;
};

/// Reads settings strictly. `table_unit` is what the table's heading says, or empty. The first mistake comes back in
/// `mistake`, with its place.
EvaluateSettings read_evaluate_settings(const std::string& name, const std::string& text, const std::string& table_unit,
                                        std::string& mistake);

} // namespace stillmark::cli
