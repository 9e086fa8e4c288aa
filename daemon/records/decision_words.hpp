#pragma once

#include "daemon/metrology/evaluation/conformity.hpp"
#include "daemon/records/words.hpp"

#include <optional>
#include <string>

namespace stillmark::records {

/// The decision rule with its level of risk in the language of the document (ISO/IEC 17025:2017, 7.8.6.1).
std::string decision_words(const metrology::DecisionRule& rule, const Words& words, const std::string& unit);
/// What is said of conformity; also that nothing is.
std::string verdict_words(const std::optional<metrology::Verdict>& verdict, const Words& words);

} // namespace stillmark::records
