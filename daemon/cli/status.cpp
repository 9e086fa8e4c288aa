#include "daemon/cli/columns.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_code.hpp"
#include "daemon/cli/follow_view.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <memory>

namespace stillmark::cli {

namespace {

constexpr std::size_t print_columns = 100;

void status(const ServiceCall& call, bool as_json, int& exit_code) {
    const auto reply = ask_service(call, {{"do", "status"}}, as_json, exit_code);
    if (!reply) return;
    const Json* body = part_of(*reply, "frame", exit_code);
    if (body == nullptr) return;
    if (as_json) return print_json(*body);
    const auto frame = read_frame(*body);
    if (!frame) {
        fmt::print(stderr, "stillmark: the service's answer cannot be read: {}\n", printable(frame.error().message));
        exit_code = code(Exit::unreachable);
        return;
    }
    for (const Line& line : describe(*frame, print_columns, protocols::now_us()))
        fmt::print("{}\n", line.text);
}

} // namespace

void add_status(CLI::App& app, const ServiceCall& call, int& exit_code) {
    CLI::App* command = app.add_subcommand("status", "What the bench is doing now");
    const auto as_json = std::make_shared<bool>(false);
    command->add_flag("--json", *as_json, "Print the frame as JSON");
    command->callback([&call, &exit_code, as_json] { status(call, *as_json, exit_code); });
}

} // namespace stillmark::cli
