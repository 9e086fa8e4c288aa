#pragma once

#include "daemon/bench/bench_file.hpp"
#include "daemon/metrology/reference_pressure.hpp"

#include <nlohmann/json.hpp>

#include <string>
#include <vector>

namespace stillmark::cli {

/// One reference pressure as `stillmark pressure` tells it.
struct PressureReport {
    const bench::BenchFile* bench;
    std::string range;
    const bench::Instrument* instrument;
    const metrology::ReferenceInputs* inputs;
    const metrology::ReferencePressure* result;
    double floor_pa; ///< least expanded uncertainty (k = 2) by the laboratory's capability; 0: none stated here

    static constexpr double capability_k = 2;
    bool floor_decides() const { return floor_pa > result->expanded_pa; }
    double expanded_pa() const { return floor_decides() ? floor_pa : result->expanded_pa; }
    double coverage_factor() const { return floor_decides() ? capability_k : result->k; }

    /// What the result alone does not say: a pressure beyond the limits of the range, no capability stated for it.
    std::vector<std::string> cautions() const;
};

/// Decimals of a pascal that show a standard uncertainty with three digits, from two to nine.
int decimals_for(double u_pa);

/// For people: every correction, the uncertainty, the budget.
void print_report(const PressureReport& report);

nlohmann::json report_json(const PressureReport& report);

} // namespace stillmark::cli
