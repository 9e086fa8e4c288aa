#pragma once

#include "daemon/bench/file_place.hpp"
#include "daemon/metrology/evaluation/conformity.hpp"

namespace stillmark::bench {

/// A decision rule:
///   {"rule": "simple acceptance"}
///   {"rule": "guard band", "guard_factor": 1, "statements": "binary" | "non-binary"}
///   {"rule": "guard band", "by_ratio": "RSS" | "1 - 1/TUR" | "1.25 - 1/TUR" | "managed risk"}
///   {"rule": "specific risk", "risk": "5 %"}
///   {"rule": "global risk", "risk": "2 %", "process": {"mean": "0 bar", "sd": "0.1 bar"}}
///   {"rule": "test uncertainty ratio", "at_least": 4}
/// The process is read in pascals.
metrology::DecisionRule read_decision_rule(const Place& place);

} // namespace stillmark::bench
