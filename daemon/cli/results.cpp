#include "daemon/cli/columns.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/evaluation_report.hpp"
#include "daemon/cli/exit_code.hpp"
#include "daemon/cli/results_table.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <memory>
#include <string>

namespace stillmark::cli {

namespace {

/// What the run says of each instrument, where the service tells it.
void print_evaluations(const Json& results, std::size_t columns) {
    std::string objection;
    const Json* list = Fields(results, "results", objection).list("evaluations");
    if (list == nullptr) return;
    for (const Json& one : *list) {
        const Fields fields(one, "evaluations", objection);
        fmt::print("\nEvaluation of {}\n", printable(fields.text("channel")));
        for (const std::string& line : evaluation_lines(one, printable(fields.text("unit")), columns, objection))
            fmt::print("{}\n", line);
    }
    if (!objection.empty())
        fmt::print(stderr, "stillmark: the service's answer cannot be read: {}\n", printable(objection));
}

/// Why the run was started on a range in poor health.
void print_override(const Json& results) {
    std::string objection;
    const Json* run = Fields(results, "results", objection).object("run");
    const Json* override_health = run != nullptr ? Fields(*run, "run", objection).object("override_health") : nullptr;
    if (override_health == nullptr) return;
    const Fields fields(*override_health, "run.override_health", objection);
    fmt::print("\nStarted on a range in poor health by {}: {}\n", printable(fields.text("by")),
               printable(fields.text("because")));
    for (const auto& found : fields.texts("found"))
        fmt::print("  {}\n", printable(found));
}

/// What was looked at before the run, a line a result.
void print_checks(const Json& results) {
    std::string objection;
    const Json* list = Fields(results, "results", objection).list("checks");
    if (list == nullptr || list->empty()) return;
    fmt::print("\nChecks before the run\n");
    for (const Json& one : *list) {
        const Fields fields(one, "checks", objection);
        const std::string because = fields.text("waived_because");
        fmt::print("  {:<8} {:<7} {}\n", printable(fields.text("check")), fields.flag("passed") ? "passed" : "FAILED",
                   printable(fields.text("words")));
        if (!because.empty())
            fmt::print("  {:<16} gone on all the same: {} ({})\n", "", printable(because),
                       printable(fields.text("waived_by")));
    }
    if (!objection.empty())
        fmt::print(stderr, "stillmark: the service's answer cannot be read: {}\n", printable(objection));
}

/// Presses that stood against the readings, with their reasons.
void print_overruled(const Json& results) {
    std::string objection;
    const Json* list = Fields(results, "results", objection).list("overruled");
    if (list == nullptr || list->empty()) return;
    fmt::print("\nPresses that stood although the readings contradicted them\n");
    for (const Json& one : *list) {
        const Fields fields(one, "overruled", objection);
        fmt::print("  step {}: {}\n  because: {} ({})\n", fields.whole("step").value_or(0) + 1,
                   printable(fields.text("words")), printable(fields.text("because")), printable(fields.text("by")));
    }
}

void results(const ServiceCall& call, const std::string& run, bool as_json, int& exit_code) {
    constexpr std::size_t print_columns = 100;
    Json request{{"do", "results"}};
    if (!run.empty()) request["run"] = run;
    const auto reply = ask_service(call, request, as_json, exit_code);
    if (!reply) return;
    const Json* list = part_of(*reply, "results", exit_code);
    if (list == nullptr) return;
    if (as_json) return print_json(*list);
    const auto results = read_results(*list);
    if (!results) {
        fmt::print(stderr, "stillmark: the service's answer cannot be read: {}\n", printable(results.error().message));
        exit_code = code(Exit::unreachable);
        return;
    }
    for (const std::string& line : results_table(*results, print_columns))
        fmt::print("{}\n", line);
    print_override(*list);
    print_checks(*list);
    print_overruled(*list);
    print_evaluations(*list, print_columns);
}

} // namespace

void add_results(CLI::App& app, const ServiceCall& call, int& exit_code) {
    CLI::App* command =
        app.add_subcommand("results", "The marks of a run with their deviations, and what they say of each instrument");
    const auto run = std::make_shared<std::string>();
    const auto as_json = std::make_shared<bool>(false);
    command->add_option("RUN", *run, "Name of the run; the latest where not given");
    command->add_flag("--json", *as_json, "Print the marks as JSON");
    command->callback([&call, &exit_code, run, as_json] { results(call, *run, *as_json, exit_code); });
}

} // namespace stillmark::cli
