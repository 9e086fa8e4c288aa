#include "daemon/cli/commands.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <memory>
#include <string>

namespace stillmark::cli {

void add_retry(CLI::App& app, const ServiceCall& call, int& exit_code) {
    struct Words {
        std::string channel;
        bool as_json = false;
    };
    CLI::App* command = app.add_subcommand("retry", "Ask an instrument again at once after it refused or was lost");
    const auto words = std::make_shared<Words>();
    command->add_option("CHANNEL", words->channel, "Name of the instrument")->required();
    command->add_flag("--json", words->as_json, "Print the outcome as JSON");
    command->callback([&call, &exit_code, words] {
        const Json request{{"do", "retry"}, {"channel", words->channel}};
        if (!ask_service(call, request, words->as_json, exit_code)) return;
        if (words->as_json) return print_json({{"ok", true}});
        fmt::print("{} is asked again.\n", words->channel);
    });
}

} // namespace stillmark::cli
