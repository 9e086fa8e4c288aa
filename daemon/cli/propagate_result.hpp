#pragma once

#include "daemon/cli/propagate_file.hpp"

#include <nlohmann/json.hpp>

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::cli {

/// One output: both ways of propagation, and what one says of the other.
struct OutputResult {
    metrology::FirstOrder first_order;
    double k = 0;        ///< coverage factor
    double expanded = 0; ///< U = k u
    std::optional<metrology::SecondOrder> second_order;
    std::optional<metrology::MonteCarloOutput> trials;
    std::optional<metrology::Validation> validation; ///< nothing where there is no ground to judge
    std::vector<std::string> notes;
};

struct PropagateResult {
    std::vector<OutputResult> outputs;
    std::vector<double> correlation; ///< of the outputs, first order
    metrology::MonteCarloResult trials;
    std::uint64_t seed = 0;
    bool complete = true; ///< false where something that was asked for could not be said; the notes say what
};

PropagateResult propagate_task(const PropagateTask& task, std::uint64_t seed, const metrology::BlockRunner& runner);

/// The keys stand in stillmark(1). What is infinite or unknown is null.
nlohmann::json as_json(const PropagateTask& task, const PropagateResult& result);

/// Of an interval: "interval95", "interval95.45".
std::string interval_key(double coverage);

} // namespace stillmark::cli
