#include "daemon/decider/replay.hpp"

#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_code.hpp"
#include "daemon/decider/service_facts.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <memory>

namespace stillmark::cli {

namespace {

/// On another build or kind of machine the decisions must be equal and the numbers agree this closely.
constexpr double other_machine_relative = 1e-12;

bool same_machine(const std::vector<bench::ServiceStarted>& services) {
    const auto here = decider::this_service();
    for (const auto& one : services)
        if (one.build != here.build || one.compiler != here.compiler || one.libm != here.libm ||
            one.processor != here.processor)
            return false;
    return true;
}

nlohmann::json as_json(const decider::Replay& replay, bool here) {
    nlohmann::json marks = nlohmann::json::array();
    for (const auto& mark : replay.marks)
        marks.push_back({{"mark", mark.journalled.mark},
                         {"same", mark.same},
                         {"differences", mark.differences},
                         {"largest_relative", mark.largest_relative}});
    return {{"marks", std::move(marks)},
            {"events", replay.events},
            {"readings", replay.readings},
            {"same_build_and_machine", here}};
}

void replay(const std::string& journal, bool in_json, int& exit_code) {
    const auto replayed = decider::replay(journal);
    if (!replayed) {
        fmt::print(stderr, "stillmark: {}\n", replayed.error().message);
        exit_code = code(Exit::wrong_use);
        return;
    }
    const bool here = same_machine(replayed->services);
    if (in_json) fmt::print("{}\n", as_json(*replayed, here).dump(2));
    std::size_t same = 0, close = 0;
    for (const auto& mark : replayed->marks) {
        const auto& bench = replayed->state.bench;
        const auto channel = static_cast<std::size_t>(mark.journalled.channel);
        const std::string name = bench && channel < bench->instruments.size() ? bench->instruments[channel].name : "?";
        if (mark.same) {
            ++same;
            if (!in_json) fmt::print("mark {:>4}  {:<24} same to the last bit\n", mark.journalled.mark, name);
            continue;
        }
        const bool tolerated = !here && mark.largest_relative <= other_machine_relative;
        if (tolerated)
            ++close;
        else
            exit_code = code(Exit::answer_is_no);
        if (in_json) continue;
        fmt::print("mark {:>4}  {:<24} {}\n", mark.journalled.mark, name,
                   tolerated ? "equal within 1e-12 on another build or machine" : "DIFFERS");
        for (const auto& difference : mark.differences)
            fmt::print("            {}\n", difference);
    }
    if (in_json) return;
    fmt::print("{}: {} marks of {} readings and {} events: {} the same to the last bit", journal,
               replayed->marks.size(), replayed->readings, replayed->events, same);
    if (close > 0) fmt::print(", {} within 1e-12", close);
    fmt::print(", {} differ\n", replayed->marks.size() - same - close);
}

} // namespace

void add_replay(CLI::App& app, int& exit_code) {
    CLI::App* command =
        app.add_subcommand("replay", "Makes every mark of a journal again and compares; needs no service");
    const auto journal = std::make_shared<std::string>();
    const auto json = std::make_shared<bool>(false);
    command->add_option("JOURNAL", *journal, "Journal file")->required();
    command->add_flag("--json", *json, "Print JSON");
    command->callback([journal, json, &exit_code] { replay(*journal, *json, exit_code); });
}

} // namespace stillmark::cli
