#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_code.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <array>
#include <cstdio>
#include <map>
#include <memory>
#include <string>

namespace stillmark::cli {

void add_surroundings(CLI::App& app, const ServiceCall& call, int& exit_code) {
    struct Quantity {
        const char* key;
        const char* option;
        const char* words;
    };
    static constexpr std::array<Quantity, 4> quantities{{
        {"air_temperature", "--air-temperature", "Such as \"21.5 degC\""},
        {"air_pressure", "--air-pressure", "Such as \"968 hPa\""},
        {"humidity", "--humidity", "Relative, such as \"45 %\""},
        {"piston_temperature", "--piston-temperature", "Such as \"21.3 degC\""},
    }};
    struct Words {
        std::map<std::string, std::string> given;
        std::string by;
        bool as_json = false;
    };
    CLI::App* command = app.add_subcommand("surroundings", "Enter air and piston temperature, as read now");
    const auto words = std::make_shared<Words>();
    for (const Quantity& quantity : quantities)
        command->add_option(quantity.option, words->given[quantity.key], quantity.words);
    command->add_option("--by", words->by, "Who does it; the login name where not given");
    command->add_flag("--json", words->as_json, "Print the outcome as JSON");
    command->callback([&call, &exit_code, words] {
        Json request{{"do", "surroundings"}};
        std::string told;
        for (const Quantity& quantity : quantities) {
            const std::string& value = words->given[quantity.key];
            if (value.empty()) continue;
            request[quantity.key] = value;
            told += (told.empty() ? "" : ", ") + value;
        }
        if (told.empty()) {
            fmt::print(stderr,
                       "stillmark surroundings: give at least one quantity, such as --air-temperature \"21.5 degC\"\n");
            exit_code = code(Exit::wrong_use);
            return;
        }
        if (!words->by.empty()) request["by"] = words->by;
        if (!command_service(call, request, words->as_json, exit_code)) return;
        if (words->as_json) return print_json({{"ok", true}});
        fmt::print("Surroundings entered: {}.\n", told);
    });
}

} // namespace stillmark::cli
