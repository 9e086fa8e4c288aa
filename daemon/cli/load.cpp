#include "daemon/cli/commands.hpp"
#include "daemon/cli/wording.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <memory>
#include <string>
#include <vector>

namespace stillmark::cli {

void add_load(CLI::App& app, const ServiceCall& call, int& exit_code) {
    struct Words {
        std::string range, by;
        std::vector<std::string> discs;
        bool as_json = false;
    };
    CLI::App* command = app.add_subcommand("load", "State another load than the step plans");
    const auto words = std::make_shared<Words>();
    command->add_option("--range", words->range, "Range of the balance that is in use")->required();
    command
        ->add_option("--discs", words->discs,
                     "Names of the discs on the head, separated by commas; none where not given")
        ->delimiter(',')
        ->allow_extra_args(false);
    command->add_option("--by", words->by, "Who does it; the login name where not given");
    command->add_flag("--json", words->as_json, "Print the outcome as JSON");
    command->callback([&call, &exit_code, words] {
        Json request{{"do", "load"}, {"range", words->range}, {"discs", words->discs}};
        if (!words->by.empty()) request["by"] = words->by;
        if (!command_service(call, request, words->as_json, exit_code)) return;
        if (words->as_json) return print_json({{"ok", true}});
        fmt::print("Load stated: {} range, {}.\n", words->range, disc_words(words->discs));
    });
}

} // namespace stillmark::cli
