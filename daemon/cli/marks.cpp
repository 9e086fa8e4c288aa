#include "daemon/cli/commands.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <memory>
#include <string>

namespace stillmark::cli {

namespace {

struct MarkWords {
    std::int64_t mark = 0;
    std::string reason, by;
    bool as_json = false;
};

/// Adds what both commands about a mark have.
std::shared_ptr<MarkWords> add_words(CLI::App& command) {
    auto words = std::make_shared<MarkWords>();
    command.add_option("MARK", words->mark, "Number of the mark")->required()->check(CLI::NonNegativeNumber);
    command.add_option("--by", words->by, "Who does it; the login name where not given");
    command.add_flag("--json", words->as_json, "Print the outcome as JSON");
    return words;
}

void ask(const ServiceCall& call, const MarkWords& words, Json request, const std::string& outcome, int& exit_code) {
    request["mark"] = words.mark;
    if (!words.by.empty()) request["by"] = words.by;
    if (!command_service(call, request, words.as_json, exit_code)) return;
    if (words.as_json) return print_json({{"ok", true}});
    fmt::print("{}\n", outcome);
}

} // namespace

void add_void(CLI::App& app, const ServiceCall& call, int& exit_code) {
    CLI::App* command = app.add_subcommand("void", "Withdraw a mark; it stays on record");
    const auto words = add_words(*command);
    command->add_option("--reason", words->reason, "Why; kept on record")->required();
    command->callback([&call, &exit_code, words] {
        ask(call, *words, {{"do", "void"}, {"reason", words->reason}}, fmt::format("Mark {} is void.", words->mark),
            exit_code);
    });
}

void add_redo(CLI::App& app, const ServiceCall& call, int& exit_code) {
    CLI::App* command = app.add_subcommand("redo", "Take the point of a void mark once more");
    const auto words = add_words(*command);
    command->callback([&call, &exit_code, words] {
        ask(call, *words, {{"do", "redo"}}, fmt::format("The point of mark {} is taken again.", words->mark),
            exit_code);
    });
}

} // namespace stillmark::cli
