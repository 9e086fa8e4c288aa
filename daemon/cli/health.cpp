#include "daemon/cli/columns.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_code.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <array>
#include <memory>
#include <string>
#include <utility>

namespace stillmark::cli {

namespace {

struct HealthWords {
    std::string range, fall_rate, spin_time, smallest_disc, at, by;
    bool as_json = false;
};

std::string text_of(const Json& entry, const char* key) {
    const auto found = entry.find(key);
    return found != entry.end() && found->is_string() ? found->get<std::string>() : std::string();
}

/// The history as the service judges it, the latest last.
void show(const ServiceCall& call, const HealthWords& words, int& exit_code) {
    const auto reply = ask_service(call, {{"do", "health_list"}}, words.as_json, exit_code);
    if (!reply) return;
    const Json* health = part_of(*reply, "health", exit_code);
    if (health == nullptr) return;
    if (words.as_json) return print_json(*health);
    if (!health->is_array() || health->empty()) {
        fmt::print("Nothing was stated of the balance's health yet.\n");
        return;
    }
    for (const Json& entry : *health)
        if (entry.is_object() && (words.range.empty() || text_of(entry, "range") == words.range)) {
            const std::string by = text_of(entry, "by");
            fmt::print("{}{}\n", printable(text_of(entry, "words")), by.empty() ? "" : " (" + printable(by) + ")");
        }
}

void state(const ServiceCall& call, const HealthWords& words, int& exit_code) {
    Json request{{"do", "health"}, {"range", words.range}};
    const std::array<std::pair<const char*, const std::string*>, 5> given{{{"fall_rate", &words.fall_rate},
                                                                           {"spin_time", &words.spin_time},
                                                                           {"smallest_disc", &words.smallest_disc},
                                                                           {"at", &words.at},
                                                                           {"by", &words.by}}};
    for (const auto& [key, value] : given)
        if (!value->empty()) request[key] = *value;
    if (!command_service(call, request, words.as_json, exit_code)) return;
    // What became of it is the last of the history.
    const auto reply = ask_service(call, {{"do", "health_list"}}, words.as_json, exit_code);
    if (!reply) return;
    const Json* health = part_of(*reply, "health", exit_code);
    if (health == nullptr || !health->is_array() || health->empty()) return;
    const Json& latest = health->back();
    if (words.as_json) return print_json(latest);
    fmt::print("{}\n", printable(text_of(latest, "words")));
    if (text_of(latest, "verdict") != "good") exit_code = code(Exit::answer_is_no);
}

} // namespace

void add_health(CLI::App& app, const ServiceCall& call, int& exit_code) {
    CLI::App* command = app.add_subcommand(
        "health", "State fall rate, spin time or smallest disc of a range and have it judged; alone: show the history");
    const auto words = std::make_shared<HealthWords>();
    command->add_option("--range", words->range, "Range of the balance");
    CLI::Option* fall = command->add_option("--fall-rate", words->fall_rate, "As measured, such as \"0.4 mm/min\"");
    CLI::Option* spin = command->add_option("--spin-time", words->spin_time, "Of free rotation, such as \"230 s\"");
    CLI::Option* disc = command->add_option("--smallest-disc", words->smallest_disc,
                                            "Smallest disc that moves the indication, such as \"2 g\"");
    fall->excludes(spin)->excludes(disc);
    spin->excludes(disc);
    command
        ->add_option("--at", words->at,
                     "Pressure of a fall rate, such as \"80 bar\" (default: of the open float, else the highest)")
        ->needs(fall);
    command->add_option("--by", words->by, "Who does it; the login name where not given");
    command->add_flag("--json", words->as_json, "Print JSON");
    command->callback([&call, &exit_code, words] {
        if (words->fall_rate.empty() && words->spin_time.empty() && words->smallest_disc.empty())
            show(call, *words, exit_code);
        else if (words->range.empty()) {
            fmt::print(stderr, "stillmark health: --range is missing; say of which range, such as --range low\n");
            exit_code = code(Exit::wrong_use);
        } else
            state(call, *words, exit_code);
    });
}

} // namespace stillmark::cli
