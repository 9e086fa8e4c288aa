#pragma once

#include "daemon/metrology/evaluation/evaluation.hpp"

#include <nlohmann/json.hpp>

namespace stillmark::decider {

/// An evaluation as clients get it; its numbers times `scale` (1: in the unit of the evaluation). What could not be
/// said is null, and `unsaid` says why.
nlohmann::json evaluation_json(const metrology::Evaluation& evaluation, double scale = 1);

} // namespace stillmark::decider
