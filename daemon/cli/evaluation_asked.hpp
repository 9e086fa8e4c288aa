#pragma once

#include "daemon/cli/checked_json.hpp"
#include "daemon/cli/evaluate_settings.hpp"
#include "daemon/metrology/evaluation/acceptance_risks.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace stillmark::cli {

/// Takes the readings of the option --inverse, "12.34,15.02:0.01", into the settings. Returns what is wrong with them,
/// or an empty text.
std::string ask_inverse(const std::string& option, EvaluateSettings& settings);

/// For each reading that is asked for: its reference by the line and by each polynomial, in the unit of the evaluation.
Json inverse_json(const metrology::Evaluation& evaluation, const EvaluateSettings& settings);

/// For each point and direction with an uncertainty and a permissible error: the risks of the acceptance limit. Null
/// where none are asked for.
Json risks_json(const metrology::Evaluation& evaluation, const EvaluateSettings& settings);

/// The probabilities alone.
Json acceptance_risks_json(const metrology::AcceptanceRisks& risks);

/// Both as lines for a person, from the evaluation's JSON with the keys "inverse" and "risks".
std::vector<std::string> asked_lines(const Json& evaluation, const std::string& unit, std::size_t columns,
                                     std::string& objection);

} // namespace stillmark::cli
