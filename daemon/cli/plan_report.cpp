#include "daemon/cli/plan_report.hpp"

#include "daemon/metrology/loads/disc_moves.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <cmath>

namespace stillmark::cli {

namespace {

/// One visit with what has to be lifted for it.
struct Stage {
    const PlannedVisit* visit = nullptr;
    const bench::PlannedLoad* load = nullptr;
    double nearest_pa = 0;
    std::vector<metrology::DiscMove> moves;
    double lifted_kg = 0;
    bool turned_over = false; ///< under pressure
    bool set_valves = false;  ///< without
    std::vector<std::string> cautions;
};

/// Off by more than this the nearest load deserves a word (common practice: a point is nominal to a few per cent).
constexpr double far_off = 0.02;
/// So near the lowest rating of the rig a load deserves one too.
constexpr double near_rating = 0.9;

void caution(Stage& stage, const bench::BenchFile& bench, bool head_is_down) {
    const auto& visit = *stage.visit;
    const auto& weakest = bench.weakest();
    bool off = false;
    std::string heavy;
    for (const auto& move : stage.moves) {
        off = off || !move.on;
        const auto& disc = bench.discs[move.disc];
        if (disc.two_hands && heavy.find(disc.piece.name + " ") == std::string::npos) heavy += disc.piece.name + " ";
    }
    if (off && !head_is_down)
        stage.cautions.emplace_back(
            "Let the piston down to rest first: never take discs off a raised piston under load.");
    if (!heavy.empty()) {
        heavy.pop_back();
        stage.cautions.push_back("Two hands: " + heavy + ".");
    }
    if (stage.set_valves)
        stage.cautions.push_back(fmt::format("The line relieved: set the valves to the {} range.",
                                             bench.balance.ranges[visit.range].physics.name));
    if (stage.turned_over)
        stage.cautions.push_back(
            fmt::format("Turn the valves over to the {} range; keep the pressure steady meanwhile.",
                        bench.balance.ranges[visit.range].physics.name));
    const double made_pa = stage.load->pressure_pa;
    if (visit.target_pa > 0 && std::abs(made_pa / visit.target_pa - 1) > far_off)
        stage.cautions.push_back(fmt::format("This is the nearest that the discs allow, {:.2g} % off.",
                                             100 * std::abs(made_pa / visit.target_pa - 1)));
    if (made_pa > near_rating * weakest.rating_pa)
        stage.cautions.push_back(fmt::format("Only {:.3g} % below the lowest rating on the bench ({}, {:g} bar).",
                                             100 * (1 - made_pa / weakest.rating_pa), weakest.part,
                                             weakest.rating_pa / 1e5));
}

std::vector<Stage> stages(const bench::BenchFile& bench, const PlanToTell& told) {
    std::vector<Stage> all;
    std::vector<std::size_t> head;
    for (std::size_t i = 0; i < told.visits.size(); ++i) {
        Stage stage;
        stage.visit = &told.visits[i];
        stage.load = &told.plan.loads[i];
        stage.nearest_pa = told.plan.nearest_pa[i];
        const bool other_range = i > 0 && told.visits[i].range != told.visits[i - 1].range;
        // After a preload, and after zero, the line is without pressure.
        const bool relieved =
            i > 0 && (told.visits[i - 1].direction == bench::Direction::preload || !(told.visits[i - 1].target_pa > 0));
        stage.turned_over = other_range && !relieved;
        stage.set_valves = other_range && relieved;
        if (stage.visit->target_pa > 0) {
            stage.moves = metrology::disc_moves(head, stage.load->discs);
            for (const auto& move : stage.moves)
                stage.lifted_kg += bench.discs[move.disc].piece.mass_kg.value;
            head = stage.load->discs;
        }
        caution(stage, bench, i == 0);
        all.push_back(std::move(stage));
    }
    return all;
}

std::string disc_names(const bench::BenchFile& bench, const std::vector<std::size_t>& discs) {
    std::string names;
    for (const auto disc : discs)
        names += (names.empty() ? "" : " ") + bench.discs[disc].piece.name;
    return names.empty() ? "none: the floating parts alone" : names;
}

const char* choice_word(bench::LoadChoice choice) {
    return choice == bench::LoadChoice::nominal ? "nominal" : "today";
}

} // namespace

std::string plan_words(const bench::BenchFile& bench, const PlanToTell& told) {
    std::string text = fmt::format("{}\n{}\n", bench.name, bench.balance.name);
    text += fmt::format(
        "Air {:.2f} degC, {:.2f} hPa, {:.0f} %. Piston {:.2f} degC. {}\n", told.air.temperature_c.value,
        told.air.pressure_pa.value / 100, told.air.humidity.value * 100, told.piston_temperature_c.value,
        told.choice == bench::LoadChoice::nominal ? "Loads by their nominal pressures; the pressures told are today's."
                                                  : "Loads nearest to the points under these surroundings.");
    text += "Pressures at the balance's level mark. Discs from the lowest up.\n\n";
    text += fmt::format("{:>5}  {:<8} {:<6} {:>12} {:>14} {:>11} {:>9}  {}\n", "point", "way", "range", "target",
                        "made, bar", "off, bar", "off, %", "discs");
    const auto all = stages(bench, told);
    for (std::size_t i = 0; i < all.size(); ++i) {
        const Stage& stage = all[i];
        const auto& visit = *stage.visit;
        if (!(visit.target_pa > 0)) {
            text +=
                fmt::format("{:>5}  {:<8} {:<6} {:>12}  the line is vented; the discs stay\n", i + 1,
                            bench::word(visit.direction), bench.balance.ranges[visit.range].physics.name, visit.target);
            continue;
        }
        const double off_pa = stage.load->pressure_pa - visit.target_pa;
        text += fmt::format("{:>5}  {:<8} {:<6} {:>12} {:>14.5f} {:>+11.5f} {:>+9.4f}  {}\n", i + 1,
                            bench::word(visit.direction), bench.balance.ranges[visit.range].physics.name, visit.target,
                            stage.load->pressure_pa / 1e5, off_pa / 1e5, 100 * off_pa / visit.target_pa,
                            disc_names(bench, stage.load->discs));
        for (std::size_t k = 0; k < stage.moves.size(); ++k) {
            const auto& disc = bench.discs[stage.moves[k].disc];
            text += fmt::format("{:>12}. {} {} ({:g} kg{})\n", k + 1, stage.moves[k].on ? "put on  " : "take off",
                                disc.piece.name, disc.piece.mass_kg.value, disc.two_hands ? ", two hands" : "");
        }
        if (stage.moves.empty()) text += "             the discs stay as they are\n";
        for (const auto& words : stage.cautions)
            text += "             ! " + words + "\n";
    }
    text += fmt::format("\n{} lift{} of discs, {:g} kg in all.\n", told.plan.lifts, told.plan.lifts == 1 ? "" : "s",
                        told.plan.lifted_kg);
    text +=
        told.plan.proven
            ? fmt::format("Optimal, proven: no plan within {:g} % of the nearest loads lifts fewer discs, or as many "
                          "and less mass.\n",
                          100 * bench::load_tolerance)
            : fmt::format("The best that was found within {:g} % of the nearest loads; not proven optimal, because "
                          "the set allows too many loads to weigh them all.\n",
                          100 * bench::load_tolerance);
    return text;
}

nlohmann::json plan_json(const bench::BenchFile& bench, const PlanToTell& told) {
    nlohmann::json points = nlohmann::json::array();
    for (const Stage& stage : stages(bench, told)) {
        const auto& visit = *stage.visit;
        nlohmann::json discs = nlohmann::json::array(), moves = nlohmann::json::array();
        for (const auto disc : stage.load->discs)
            discs.push_back(bench.discs[disc].piece.name);
        for (const auto& move : stage.moves) {
            const auto& disc = bench.discs[move.disc];
            moves.push_back({{"number", moves.size() + 1},
                             {"do", move.on ? "put on" : "take off"},
                             {"disc", disc.piece.name},
                             {"mass_kg", disc.piece.mass_kg.value},
                             {"two_hands", disc.two_hands}});
        }
        points.push_back({{"target", visit.target},
                          {"target_pa", visit.target_pa},
                          {"direction", bench::word(visit.direction)},
                          {"range", bench.balance.ranges[visit.range].physics.name},
                          {"discs", std::move(discs)},
                          {"pressure_pa", stage.load->pressure_pa},
                          {"difference_pa", stage.load->pressure_pa - visit.target_pa},
                          {"nearest_pa", stage.nearest_pa},
                          {"moves", std::move(moves)},
                          {"lifted_kg", stage.lifted_kg},
                          {"cautions", stage.cautions}});
    }
    return {{"bench", bench.name},
            {"choice", choice_word(told.choice)},
            {"air_temperature_c", told.air.temperature_c.value},
            {"air_pressure_pa", told.air.pressure_pa.value},
            {"humidity", told.air.humidity.value},
            {"piston_temperature_c", told.piston_temperature_c.value},
            {"points", std::move(points)},
            {"lifts", told.plan.lifts},
            {"lifted_kg", told.plan.lifted_kg},
            {"tolerance", bench::load_tolerance},
            {"proven", told.plan.proven}};
}

} // namespace stillmark::cli
