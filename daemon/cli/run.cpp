#include "daemon/cli/columns.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_code.hpp"
#include "daemon/cli/frame.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <memory>
#include <string>
#include <vector>

namespace stillmark::cli {

namespace {

struct RunWords {
    std::string sequence, condition = "as found", by, reason, override_health;
    std::vector<std::string> instruments;
    bool as_json = false;
};

Json with_name(Json request, const std::string& by) {
    if (!by.empty()) request["by"] = by;
    return request;
}

/// Runs as the service gives them, or nothing and the exit code set.
std::optional<std::vector<RunState>> readable(const Json& runs, int& exit_code) {
    std::string objection;
    std::vector<RunState> all;
    if (!runs.is_array()) objection = "runs: no list came";
    for (const Json& run : runs)
        all.push_back(read_run(run, fmt::format("runs[{}]", all.size()), objection));
    if (objection.empty()) return all;
    fmt::print(stderr, "stillmark: the service's answer cannot be read: {}\n", printable(objection));
    exit_code = code(Exit::unreachable);
    return std::nullopt;
}

void start(const ServiceCall& call, const RunWords& words, int& exit_code) {
    Json request{{"do", "run_start"}, {"sequence", words.sequence}, {"condition", words.condition}};
    if (!words.instruments.empty()) request["instruments"] = words.instruments;
    if (!words.override_health.empty()) request["override_health"] = words.override_health;
    const auto reply = command_service(call, with_name(request, words.by), words.as_json, exit_code);
    if (!reply) return;
    const Json* run = part_of(*reply, "run", exit_code);
    if (run == nullptr) return;
    if (words.as_json) return print_json(*run);
    // A run may be told by its name alone.
    const std::string id = run->is_string() ? run->get<std::string>() : [&] {
        std::string ignored;
        return read_run(*run, "run", ignored).id;
    }();
    fmt::print("Run {} has begun: {}, {}. Go on with: stillmark follow\n", printable(id), words.sequence,
               words.condition);
}

void stop(const ServiceCall& call, const RunWords& words, int& exit_code) {
    const Json request{{"do", "run_stop"}, {"reason", words.reason}};
    const auto reply = command_service(call, with_name(request, words.by), words.as_json, exit_code);
    if (!reply) return;
    if (words.as_json) return print_json({{"ok", true}});
    fmt::print("The run is stopped.\n");
}

void list(const ServiceCall& call, bool as_json, int& exit_code) {
    constexpr std::size_t print_columns = 100;
    const auto reply = ask_service(call, {{"do", "run_list"}}, as_json, exit_code);
    if (!reply) return;
    const Json* runs = part_of(*reply, "runs", exit_code);
    if (runs == nullptr) return;
    if (as_json) return print_json(*runs);
    const auto all = readable(*runs, exit_code);
    if (!all) return;
    if (all->empty()) return fmt::print("No run yet.\n");
    Table table;
    table.add_column("run");
    table.add_column("sequence");
    table.add_column("condition");
    table.add_column("state");
    table.add_column("steps done", Table::Align::right);
    for (const RunState& run : *all) {
        const std::string step = run.step && run.steps ? fmt::format("{} of {}", *run.step, *run.steps) : "";
        table.add_row({run.id, run.sequence, run.condition, run.state, step});
    }
    for (const std::string& line : table.lines(print_columns))
        fmt::print("{}\n", printable(line));
}

} // namespace

void add_run(CLI::App& app, const ServiceCall& call, int& exit_code) {
    CLI::App* command = app.add_subcommand("run", "Start, stop or list runs");
    command->require_subcommand(1);
    const auto words = std::make_shared<RunWords>();

    CLI::App* starting = command->add_subcommand("start", "Start a run of a sequence of the bench");
    starting->add_option("SEQUENCE", words->sequence, "Name of the sequence in the bench file")->required();
    starting
        ->add_option("--condition", words->condition, "State of the instruments: as found, as left, after adjustment")
        ->check(CLI::IsMember({"as found", "as left", "after adjustment"}))
        ->capture_default_str();
    starting->add_option("--instruments", words->instruments, "Names, separated by commas; all where not given")
        ->delimiter(',')
        ->allow_extra_args(false);
    starting->add_option("--override-health", words->override_health,
                         "Why a range in poor health is used; kept with the run and printed on its certificates");
    starting->add_option("--by", words->by, "Who does it; the login name where not given");
    starting->add_flag("--json", words->as_json, "Print the run as JSON");
    starting->callback([&call, &exit_code, words] { start(call, *words, exit_code); });

    CLI::App* stopping = command->add_subcommand("stop", "Stop the run that is going on");
    stopping->add_option("--reason", words->reason, "Why; kept on record")->required();
    stopping->add_option("--by", words->by, "Who does it; the login name where not given");
    stopping->add_flag("--json", words->as_json, "Print the outcome as JSON");
    stopping->callback([&call, &exit_code, words] { stop(call, *words, exit_code); });

    CLI::App* listing = command->add_subcommand("list", "List the runs of this journal");
    listing->add_flag("--json", words->as_json, "Print the runs as JSON");
    listing->callback([&call, &exit_code, words] { list(call, words->as_json, exit_code); });
}

} // namespace stillmark::cli
