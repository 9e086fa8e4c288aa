#include "daemon/bench/steps.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_code.hpp"
#include "daemon/cli/plan_report.hpp"
#include "daemon/cli/surroundings_options.hpp"
#include "drivers/units.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <cmath>
#include <memory>
#include <optional>

namespace stillmark::cli {

namespace {

struct PlanRequest {
    std::string bench;
    std::string profiles;
    std::string sequence;
    std::optional<std::string> points; ///< an empty list is a mistake, none is a sequence
    SurroundingsOptions surroundings;
    bool nominal = false;
    bool as_json = false;
};

/// The visits of a sequence in the order of a run; a preload goes to the highest point.
std::string visits_of_sequence(const bench::BenchFile& bench, const std::string& name,
                               std::vector<PlannedVisit>& visits) {
    std::string names;
    for (const auto& sequence : bench.sequences) {
        names += (names.empty() ? "" : ", ") + sequence.name;
        if (sequence.name != name && !(name.empty() && bench.sequences.size() == 1)) continue;
        const auto visit = [&](std::size_t point, bench::Direction direction) {
            const auto& at = sequence.points[point];
            visits.push_back({at.target, at.target_pa, at.range, direction});
        };
        if (sequence.preloads > 0) visit(sequence.points.size() - 1, bench::Direction::preload);
        for (const auto& one : bench::plan_steps(bench, sequence).visits)
            visit(one.point, one.direction);
        return {};
    }
    if (name.empty())
        return bench.sequences.empty() ? "the bench file has no sequence; give --points \"10 bar,20 bar,...\""
                                       : "give --sequence, one of: " + names + "; or --points \"10 bar,20 bar,...\"";
    return fmt::format("--sequence: the bench has none named \"{}\"; it has: {}", name, names.empty() ? "none" : names);
}

std::string ranges_in_words(const bench::BenchFile& bench) {
    std::string words;
    for (const auto& range : bench.balance.ranges)
        words += fmt::format("{}{} {:g} bar to {:g} bar", words.empty() ? "" : ", ", range.physics.name,
                             range.lowest_pa / 1e5, range.highest_pa / 1e5);
    return words;
}

/// The lowest range that reaches so far: its discs are worth least there, so points are met best.
std::string visits_of_points(const bench::BenchFile& bench, const std::string& list,
                             std::vector<PlannedVisit>& visits) {
    const auto texts = split_list(list);
    if (texts.empty()) return "--points: gives no point; write pressures with commas, \"10 bar,20 bar\"";
    constexpr double rounding = 1e-9; // of "110 bar" in another unit
    for (std::size_t i = 0; i < texts.size(); ++i) {
        const auto place = fmt::format("--points[{}]", i);
        const auto value = drivers::parse_quantity(texts[i], drivers::Dimension::pressure);
        if (!value) return fmt::format("{}: {}", place, value.error().message);
        const auto& weakest = bench.weakest();
        if (*value > weakest.rating_pa)
            return fmt::format(
                "{}: {} is above the lowest rating on the bench ({}, {:g} bar); lower the point or change "
                "the part",
                place, texts[i], weakest.part, weakest.rating_pa / 1e5);
        PlannedVisit visit;
        visit.target = texts[i];
        visit.target_pa = *value;
        bool found = false;
        for (std::size_t k = 0; k < bench.balance.ranges.size() && !found; ++k) {
            const auto& range = bench.balance.ranges[k];
            if (*value > range.highest_pa * (1 + rounding)) continue;
            if (*value < range.lowest_pa * (1 - rounding)) break;
            visit.range = k;
            found = true;
        }
        if (!found)
            return fmt::format("{}: {} is outside the ranges of the balance ({}); use a point inside", place, texts[i],
                               ranges_in_words(bench));
        if (!visits.empty() && *value < visits.back().target_pa) visit.direction = bench::Direction::falling;
        if (!visits.empty() && *value == visits.back().target_pa) visit.direction = visits.back().direction;
        visits.push_back(std::move(visit));
    }
    return {};
}

void plan(const PlanRequest& request, int& exit_code) {
    const auto refuse = [&exit_code](const std::string& words) {
        fmt::print(stderr, "stillmark: {}\n", words);
        exit_code = code(Exit::wrong_use);
    };
    const auto bench = bench::load_bench(request.bench, request.profiles);
    if (!bench) return refuse(bench.error().message);
    PlanToTell told;
    told.choice = request.nominal ? bench::LoadChoice::nominal : bench::LoadChoice::today;
    told.air = bench->surroundings.air;
    told.piston_temperature_c = bench->surroundings.piston_temperature_c;
    if (const auto wrong = request.surroundings.take(told.air, told.piston_temperature_c); !wrong.empty())
        return refuse(wrong);
    const auto wrong = !request.points ? visits_of_sequence(*bench, request.sequence, told.visits)
                                       : visits_of_points(*bench, *request.points, told.visits);
    if (!wrong.empty()) return refuse(wrong);
    std::vector<bench::LoadTarget> targets;
    for (const auto& visit : told.visits)
        targets.push_back({visit.target_pa, visit.range});
    told.plan = bench::plan_loads_with_figures(*bench, targets, told.air, told.piston_temperature_c, told.choice, {});
    for (std::size_t i = 0; i < told.visits.size(); ++i)
        if (std::isnan(told.plan.loads[i].pressure_pa)) {
            const auto limits = bench::load_limits(*bench, told.visits[i].range, told.air, told.piston_temperature_c);
            return refuse(fmt::format(
                "{}: no load of the {} range makes a pressure between {:.4g} bar and {:.4g} bar, where it may; use "
                "another point or more discs",
                told.visits[i].target, bench->balance.ranges[told.visits[i].range].physics.name, limits.lowest_pa / 1e5,
                limits.highest_pa / 1e5));
        }
    if (request.as_json)
        fmt::print("{}\n", plan_json(*bench, told).dump(2));
    else
        fmt::print("{}", plan_words(*bench, told));
}

} // namespace

void add_plan(CLI::App& app, int& exit_code) {
    CLI::App* command = app.add_subcommand(
        "plan", "The discs for every point, the pressures that they make today, and what to lift; needs no service");
    const auto request = std::make_shared<PlanRequest>();
    command->add_option("BENCH", request->bench, "Bench file")->required();
    CLI::Option* sequence =
        command->add_option("--sequence", request->sequence, "Sequence of the bench file (default: its only one)");
    command->add_option("--points", request->points, "Pressures in the order visited, \"10 bar,20 bar,10 bar\"")
        ->excludes(sequence);
    command->add_flag("--nominal", request->nominal,
                      "Choose by the nominal pressure of the stated masses, whatever today's surroundings are");
    request->surroundings.add_to(*command);
    command->add_option("--profiles", request->profiles, "Folder of instrument profiles")
        ->envname("STILLMARK_PROFILES")
        ->default_str(STILLMARK_PROFILE_FOLDER);
    command->add_flag("--json", request->as_json, "Print JSON");
    request->profiles = STILLMARK_PROFILE_FOLDER;
    command->callback([request, &exit_code] { plan(*request, exit_code); });
}

} // namespace stillmark::cli
