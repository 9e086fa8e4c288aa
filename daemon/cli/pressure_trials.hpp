#pragma once

#include "daemon/metrology/propagation/reference_trials.hpp"

#include <nlohmann/json.hpp>

#include <cstdint>

namespace stillmark::cli {

/// The reference pressure of `stillmark pressure` by Monte Carlo, on all cores, and the budget judged by it.
metrology::ReferenceTrials try_pressure(const metrology::ReferenceInputs& inputs, std::uint64_t seed);

/// For people: a few lines.
void print_trials(const metrology::ReferenceTrials& result, std::uint64_t seed);

/// The same as JSON; what is not known is null.
nlohmann::json trials_json(const metrology::ReferenceTrials& result, std::uint64_t seed);

} // namespace stillmark::cli
