#pragma once

#include "daemon/metrology/evaluation/evaluation.hpp"
#include "daemon/metrology/evaluation/passes.hpp"

#include <optional>

namespace stillmark::metrology {

/// Puts the transfer line, the polynomials and the linearity into an evaluation whose points stand; what they cannot
/// say goes to `unsaid`.
void find_fits(const PassTable& table, const EvaluationSettings& settings, std::optional<double> resolution,
               Evaluation& to, UnsaidList& unsaid);

} // namespace stillmark::metrology
