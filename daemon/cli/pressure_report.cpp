#include "daemon/cli/pressure_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace stillmark::cli {

namespace {

nlohmann::json finite(double value) {
    return std::isfinite(value) ? nlohmann::json(value) : nlohmann::json(nullptr);
}

const char* word(metrology::PressureKind kind) {
    switch (kind) {
    case metrology::PressureKind::absolute:
        return "absolute";
    case metrology::PressureKind::sealed:
        return "sealed";
    case metrology::PressureKind::gauge:
        break;
    }
    return "gauge";
}

/// What fills the balance, by its name where the bench file gives one.
std::string fluid(const metrology::ReferenceInputs& in) {
    if (in.gas) return in.gas->name;
    return in.liquid.name.empty() ? "liquid" : in.liquid.name;
}

void print_heading(const PressureReport& report) {
    const auto& in = *report.inputs;
    std::string discs;
    for (const auto& disc : in.discs)
        discs += (discs.empty() ? "" : " ") + disc.name;
    fmt::print("{}\n{}, {} range, discs: {}\n", report.bench->name, report.bench->balance.name, report.range,
               discs.empty() ? "none" : discs);
    fmt::print("Balance: {}, {}. {}: {}.\n", word(in.mode), fluid(in), report.instrument->name, word(in.counted_from));
    fmt::print(
        "Air {:.2f} degC, {:.2f} hPa, {:.0f} %: {:.5f} kg/m3. Piston {:.2f} degC. g {:.6f} m/s2. Area {:.6f} mm2.\n\n",
        in.air.temperature_c.value, in.air.pressure_pa.value / 100, in.air.humidity.value * 100,
        report.result->air_density_kg_m3, in.piston_temperature_c.value, report.result->gravity_m_s2,
        report.result->area_m2 * 1e6);
}

void print_pressures(const PressureReport& report, int decimals) {
    const auto& result = *report.result;
    fmt::print("{:<34}{:>18} {:>14}\n", "", "Pa", "ppm");
    fmt::print("{:<34}{:>18.{}f}\n", "Nominal: masses, standard g, A_0", result.nominal_pa, decimals);
    for (const auto& one : result.corrections)
        fmt::print("  {:<32}{:>+18.{}f} {:>+14.2f}\n", one.name, one.pa, decimals, one.ppm);
    fmt::print("{:<34}{:>18.{}f}\n", "At the balance's level", result.at_balance_pa, decimals);
    fmt::print("{:<34}{:>18.{}f}   = {:.{}f} bar\n", fmt::format("At {}", report.instrument->name),
               result.at_instrument_pa, decimals, result.at_instrument_pa / 1e5, decimals + 4);
}

void print_uncertainty(const PressureReport& report, int decimals) {
    const auto& result = *report.result;
    const double to_ppm = 1e6 / std::abs(result.at_instrument_pa);
    fmt::print("{:<34}{:>18.{}f} {:>14.2f}   (k = 1)\n", "Standard uncertainty", result.u_pa, decimals,
               result.u_pa * to_ppm);
    fmt::print("{:<34}{:>18.{}f} {:>14.2f}   (95.45 %, k = {:.3f}, {} degrees of freedom)\n", "Expanded uncertainty",
               result.expanded_pa, decimals, result.expanded_pa * to_ppm, result.k,
               result.dof < 1e6 ? fmt::format("{:.0f}", result.dof) : "very many");
    if (report.floor_pa > 0)
        fmt::print("{:<34}{:>18.{}f} {:>14.2f}   (k = {:g}) {}\n", "The laboratory's capability", report.floor_pa,
                   decimals, report.floor_pa * to_ppm, PressureReport::capability_k,
                   report.floor_decides() ? "larger than U: this is reported" : "not larger than U");
    for (const auto& caution : report.cautions())
        fmt::print("Caution: {}\n", caution);
    for (const auto& note : result.notes)
        fmt::print("Note: {}\n", note);
}

void print_budget(const PressureReport& report, int decimals) {
    fmt::print("\n{:<34}{:>12} {:>12} {:>14} {:>14} {:>8}\n", "Budget, k = 1", "estimate", "u", "Pa per unit", "Pa",
               "share");
    for (const auto& line : report.result->budget)
        fmt::print("  {:<32}{:>12.6g} {:>12.4g} {:>+14.5g} {:>+14.{}f} {:>6.1f} %\n", line.input, line.estimate, line.u,
                   line.sensitivity, line.contribution_pa, decimals, 100 * line.share);
}

} // namespace

int decimals_for(double u_pa) {
    if (!(u_pa > 0) || !std::isfinite(u_pa)) return 2;
    return std::clamp(2 - static_cast<int>(std::floor(std::log10(u_pa))), 2, 9);
}

std::vector<std::string> PressureReport::cautions() const {
    std::vector<std::string> all;
    constexpr double tolerance = 1e-3; // the loads of the day make no point to the last pascal
    for (const auto& one : bench->balance.ranges) {
        const double pa = result->at_balance_pa;
        if (one.physics.name != range ||
            (pa >= one.lowest_pa * (1 - tolerance) && pa <= one.highest_pa * (1 + tolerance)))
            continue;
        all.push_back(fmt::format(
            "{:.6g} bar is {} the limits of the range \"{}\", {:g} to {:g} bar: what the bench file "
            "states of the range is not stated for it",
            pa / 1e5, pa > one.highest_pa ? "above" : "below", range, one.lowest_pa / 1e5, one.highest_pa / 1e5));
    }
    if (!bench->capability.empty() && !(floor_pa > 0))
        all.push_back(fmt::format("no capability is stated at {:.6g} bar", result->at_instrument_pa / 1e5));
    return all;
}

void print_report(const PressureReport& report) {
    const int decimals = decimals_for(report.result->u_pa);
    print_heading(report);
    print_pressures(report, decimals);
    print_uncertainty(report, decimals);
    print_budget(report, decimals);
}

nlohmann::json report_json(const PressureReport& report) {
    const auto& result = *report.result;
    nlohmann::json corrections = nlohmann::json::array();
    for (const auto& one : result.corrections)
        corrections.push_back({{"name", one.name}, {"pa", one.pa}, {"ppm", one.ppm}});
    nlohmann::json budget = nlohmann::json::array();
    for (const auto& line : result.budget)
        budget.push_back({{"input", line.input},
                          {"estimate", line.estimate},
                          {"u", line.u},
                          {"distribution", word(line.distribution)},
                          {"degrees_of_freedom", finite(line.dof)},
                          {"sensitivity", line.sensitivity},
                          {"contribution_pa", line.contribution_pa},
                          {"share", line.share}});
    return {{"range", report.range},
            {"instrument", report.instrument->name},
            {"mode", word(report.inputs->mode)},
            {"fluid", fluid(*report.inputs)},
            {"instrument_counts", word(report.inputs->counted_from)},
            {"pressure_at_balance_pa", result.at_balance_pa},
            {"pressure_at_instrument_pa", result.at_instrument_pa},
            {"air_density_kg_m3", result.air_density_kg_m3},
            {"gravity_m_s2", result.gravity_m_s2},
            {"area_m2", result.area_m2},
            {"standard_uncertainty_pa", result.u_pa},
            {"degrees_of_freedom", finite(result.dof)},
            {"coverage_factor", report.coverage_factor()},
            {"expanded_uncertainty_pa", report.expanded_pa()},
            {"capability_floor_pa", report.floor_pa},
            {"capability_decides", report.floor_decides()},
            {"cautions", report.cautions()},
            {"notes", result.notes},
            {"corrections", std::move(corrections)},
            {"budget", std::move(budget)}};
}

} // namespace stillmark::cli
