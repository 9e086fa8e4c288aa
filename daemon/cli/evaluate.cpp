#include "daemon/cli/commands.hpp"
#include "daemon/cli/evaluate_settings.hpp"
#include "daemon/cli/evaluation_asked.hpp"
#include "daemon/cli/evaluation_report.hpp"
#include "daemon/cli/exit_code.hpp"
#include "daemon/cli/observation_table.hpp"
#include "daemon/cli/stability_table.hpp"
#include "daemon/decider/evaluation_json.hpp"
#include "daemon/metrology/evaluation/allan_deviation.hpp"
#include "drivers/units.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <filesystem>
#include <fstream>
#include <memory>
#include <optional>
#include <sstream>

namespace stillmark::cli {

namespace {

struct EvaluateRequest {
    std::string table;
    std::string settings;
    std::string inverse;
    bool stability = false;
    std::string interval;
    bool as_json = false;
};

constexpr std::size_t report_columns = 100;

std::optional<std::string> whole_file(const std::string& path) {
    std::error_code error;
    if (std::filesystem::is_directory(path, error)) return std::nullopt;
    std::ifstream in(path, std::ios::binary);
    std::ostringstream text;
    if (in) text << in.rdbuf();
    return in ? std::optional(text.str()) : std::nullopt;
}

std::string name_of(const std::string& path) {
    return std::filesystem::path(path).filename().string();
}

/// What the output should be at each point, and how far it is off.
void add_output(nlohmann::json& to, const metrology::Evaluation& evaluation, const EvaluateSettings& settings) {
    if (!settings.output) return;
    const double per_signal = settings.pressure_per_signal();
    for (std::size_t i = 0; i < evaluation.points.size(); ++i) {
        const auto& point = evaluation.points[i];
        auto& one = to["points"][i];
        one["ideal_output"] = settings.output->low_signal + (point.reference - *settings.use.span_low) / per_signal;
        one["output_deviation"] =
            point.mean ? nlohmann::json(point.mean->deviation / per_signal) : nlohmann::json(nullptr);
    }
    to["output_unit"] = settings.output->signal;
    to["output_span_error"] =
        evaluation.span_error ? nlohmann::json(*evaluation.span_error / per_signal) : nlohmann::json(nullptr);
}

/// Readings of an electrical output become pressures through its nominal characteristic.
void through_output(std::vector<metrology::Observation>& rows, const EvaluateSettings& settings) {
    if (!settings.output) return;
    for (auto& row : rows) {
        row.reading = settings.shown_pressure(row.reading);
        if (row.untapped) row.untapped = settings.shown_pressure(*row.untapped);
        if (row.u_mean) row.u_mean = *row.u_mean * std::abs(settings.pressure_per_signal());
    }
}

/// Why the units of the table cannot be used together, or empty.
std::string unit_mismatch(const ObservationTable& table, const EvaluateSettings& settings, const std::string& name) {
    const std::string& wanted = settings.output ? settings.output->signal : settings.unit;
    if (!table.reading_unit.empty() && !wanted.empty() && table.reading_unit != wanted)
        return fmt::format("{}: line 1: \"reading\" is in {} where {} belongs; convert one of the two", name,
                           table.reading_unit, wanted);
    if (!table.reading_unit.empty() && table.reference_unit.empty() && wanted.empty())
        return fmt::format("{}: line 1: \"reading\" is in {} and \"reference\" does not say; give both units", name,
                           table.reading_unit);
    return {};
}

void print_json(const nlohmann::json& json) {
    fmt::print("{}\n", json.dump(2, ' ', false, nlohmann::json::error_handler_t::replace));
}

/// The options that belong to the other of the two uses, or empty.
std::string misplaced(const EvaluateRequest& request) {
    if (!request.stability)
        return request.interval.empty() ? "" : "--interval belongs to --stability; give both, or take it away";
    if (!request.settings.empty() || !request.inverse.empty())
        return "--stability evaluates one column of values; take --settings and --inverse away";
    return {};
}

void stability(const EvaluateRequest& request, const std::string& text, int& exit_code) {
    const StabilityTable table = read_stability_table(name_of(request.table), text, request.interval);
    if (!table.mistake.empty()) {
        fmt::print(stderr, "stillmark: {}\n", table.mistake);
        exit_code = code(Exit::wrong_use);
        return;
    }
    const auto found = metrology::allan_deviations(table.values);
    if (request.as_json) return print_json(stability_json(table, found));
    for (const auto& line : stability_lines(table, found, report_columns))
        fmt::print("{}\n", line);
}

void evaluate(const EvaluateRequest& request, int& exit_code) {
    const auto refuse = [&exit_code](const std::string& words) {
        fmt::print(stderr, "stillmark: {}\n", words);
        exit_code = code(Exit::wrong_use);
    };
    if (const auto words = misplaced(request); !words.empty()) return refuse(words);
    const auto text = whole_file(request.table);
    if (!text) return refuse(fmt::format("{}: cannot be read; check the path and the permissions", request.table));
    if (request.stability) return stability(request, *text, exit_code);
    auto table = read_observations(name_of(request.table), *text);
    if (!table.mistake.empty()) return refuse(table.mistake);

    std::optional<std::string> settings_text = "{}";
    if (!request.settings.empty()) settings_text = whole_file(request.settings);
    if (!settings_text)
        return refuse(fmt::format("{}: cannot be read; check the path and the permissions", request.settings));
    std::string mistake;
    auto settings = read_evaluate_settings(name_of(request.settings), *settings_text, table.reference_unit, mistake);
    if (!mistake.empty()) return refuse(mistake);
    if (mistake = unit_mismatch(table, settings, name_of(request.table)); !mistake.empty()) return refuse(mistake);
    if (mistake = ask_inverse(request.inverse, settings); !mistake.empty()) return refuse(mistake);
    through_output(table.rows, settings);
    settings.use.zeros_are_marked = table.zeros_are_marked;

    const auto evaluation = metrology::evaluate(table.rows, settings.use);
    for (const auto& objection : table.objections)
        fmt::print(stderr, "stillmark: {}\n", objection);
    auto json = decider::evaluation_json(evaluation);
    json["unit"] = settings.unit.empty() ? nlohmann::json(nullptr) : nlohmann::json(settings.unit);
    json["sequence"] = settings.method.empty() ? nlohmann::json(nullptr) : nlohmann::json(settings.method);
    json["method_confirmed"] =
        settings.method_confirmed.empty() ? nlohmann::json(nullptr) : nlohmann::json(settings.method_confirmed);
    json["rows_left_out"] = table.objections;
    add_output(json, evaluation, settings);
    json["inverse"] = inverse_json(evaluation, settings);
    json["risks"] = risks_json(evaluation, settings);
    if (request.as_json) {
        print_json(json);
    } else {
        std::string objection;
        for (const auto& line : evaluation_lines(json, settings.unit, report_columns, objection))
            fmt::print("{}\n", line);
        for (const auto& line : asked_lines(json, settings.unit, report_columns, objection))
            fmt::print("{}\n", line);
    }
    if (evaluation.points.empty()) exit_code = code(Exit::wrong_use);
    if (evaluation.verdict == metrology::Verdict::fail) exit_code = code(Exit::answer_is_no);
}

} // namespace

void add_evaluate(CLI::App& app, int& exit_code) {
    CLI::App* command = app.add_subcommand(
        "evaluate", "What a table of observations says of an instrument; needs no service and no bench");
    const auto request = std::make_shared<EvaluateRequest>();
    command->add_option("FILE", request->table, "Table: series,direction,reference,reading (CSV)")->required();
    command->add_option("--settings", request->settings,
                        "Settings: unit, resolution, span, sequence, permissible_error, reference_uncertainty, "
                        "decision_rule (JSON)");
    command->add_option("--inverse", request->inverse,
                        "Readings whose references are wanted, in the unit of the table; with a standard uncertainty "
                        "after a colon: 12.34,15.02:0.01");
    command->add_flag("--stability", request->stability,
                      "Allan deviations of a column of equally spaced values; FILE is a table: value, or time,value");
    command->add_option("--interval", request->interval,
                        "With --stability: the sampling interval, such as \"0.5 s\", where there is no column time");
    command->add_flag("--json", request->as_json, "Print JSON");
    command->callback([request, &exit_code] { evaluate(*request, exit_code); });
}

} // namespace stillmark::cli
