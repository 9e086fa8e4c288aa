#pragma once

#include "daemon/bench/planned_loads.hpp"

#include <nlohmann/json_fwd.hpp>

#include <string>
#include <vector>

namespace stillmark::cli {

/// One coming to a pressure, as `stillmark plan` lists it.
struct PlannedVisit {
    std::string target; ///< as it was asked for: "40 bar"
    double target_pa = 0;
    std::size_t range = 0;
    bench::Direction direction = bench::Direction::rising;
};

struct PlanToTell {
    std::vector<PlannedVisit> visits;
    bench::LoadsPlan plan; ///< one load a visit
    bench::LoadChoice choice = bench::LoadChoice::today;
    metrology::Surroundings air;
    metrology::Uncertain piston_temperature_c;
};

/// The plan as a table of points with their moves, ready to be followed at the bench.
std::string plan_words(const bench::BenchFile& bench, const PlanToTell& told);
nlohmann::json plan_json(const bench::BenchFile& bench, const PlanToTell& told);

} // namespace stillmark::cli
