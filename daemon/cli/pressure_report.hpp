#pragma once

#include "daemon/bench/bench_file.hpp"
#include "daemon/metrology/reference_pressure.hpp"

#include <nlohmann/json.hpp>

#include <string>

namespace stillmark::cli {

/// One reference pressure as `stillmark pressure` tells it.
struct PressureReport {
    const bench::BenchFile* bench;
    std::string range;
    const bench::Instrument* instrument;
    const metrology::ReferenceInputs* inputs;
    const metrology::ReferencePressure* result;
    double floor_pa; ///< least expanded uncertainty by the laboratory's capability; 0: none stated

    double expanded_pa() const;
    bool floor_decides() const { return floor_pa > result->expanded_pa; }
};

/// Decimals of a pascal that show a standard uncertainty with three digits, from two to nine.
int decimals_for(double u_pa);

/// For people: every correction, the uncertainty, the budget.
void print_report(const PressureReport& report);

nlohmann::json report_json(const PressureReport& report);

} // namespace stillmark::cli
