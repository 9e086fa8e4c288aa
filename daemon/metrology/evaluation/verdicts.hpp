#pragma once

#include "daemon/metrology/evaluation/evaluation.hpp"
#include "daemon/metrology/evaluation/passes.hpp"

namespace stillmark::metrology {

/// Judges an evaluation whose deviations and uncertainties are known: each direction at each point, the rules of the
/// standards of dial gauges, and all of it together. What was not read, or without an uncertainty, passes nothing; what
/// is beyond the limit fails whatever else is missing.
void find_verdicts(Evaluation& evaluation, const PassTable& table, const EvaluationSettings& settings,
                   UnsaidList& unsaid);

} // namespace stillmark::metrology
