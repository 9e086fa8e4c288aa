#include "daemon/bench/written_text.hpp"
#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_code.hpp"
#include "daemon/decider/frame.hpp"
#include "daemon/decider/mark_evidence.hpp"
#include "daemon/decider/queries.hpp"
#include "daemon/decider/recovery.hpp"

#include <CLI/CLI.hpp>
#include <fmt/chrono.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <chrono>
#include <cmath>
#include <filesystem>
#include <memory>

namespace stillmark::cli {

namespace {

using bench::csv_line;
using bench::csv_text;

struct ExportRequest {
    std::string journal;
    std::string run;
    std::string what;
    std::optional<std::int64_t> mark;
    bool in_json = false;
};

/// The shortest decimal that reads back as the number; nothing for what is none.
std::string exact(double value) {
    return std::isfinite(value) ? fmt::format("{}", value) : "";
}
std::string utc_text(Micros utc_us) {
    const std::chrono::sys_time<std::chrono::microseconds> instant{std::chrono::microseconds(utc_us)};
    const auto second = std::chrono::floor<std::chrono::seconds>(instant);
    return fmt::format("{:%Y-%m-%dT%H:%M:%S}.{:06}Z", fmt::gmtime(std::chrono::system_clock::to_time_t(second)),
                       (instant - second).count());
}

void print(const std::string& text) {
    static_cast<void>(std::fwrite(text.data(), 1, text.size(), stdout));
}

int refused(const std::string& why) {
    fmt::print(stderr, "stillmark: {}\n", why);
    return code(Exit::wrong_use);
}

int export_readings(const ExportRequest& request, const decider::MarkEvidence& evidence) {
    const auto readings = decider::window_readings(request.journal, evidence);
    if (!readings) return refused(readings.error().message);
    if (request.in_json) {
        nlohmann::json list = nlohmann::json::array();
        for (const auto& one : *readings)
            list.push_back({{"number", one.number > 0 ? nlohmann::json(one.number) : nlohmann::json(nullptr)},
                            {"at_us", one.at_us},
                            {"utc_us", one.at_us + evidence.utc_offset_us},
                            {"value_pa", one.value_pa ? nlohmann::json(*one.value_pa) : nlohmann::json(nullptr)},
                            {"value", one.value_pa ? nlohmann::json(evidence.unit.from_pa(*one.value_pa))
                                                   : nlohmann::json(nullptr)},
                            {"status", one.status},
                            {"timing_us", one.timing_us}});
        const nlohmann::json whole = {{"run", evidence.taken.run},
                                      {"mark", evidence.taken.mark},
                                      {"channel", evidence.instrument},
                                      {"unit", evidence.unit.symbol},
                                      {"readings", std::move(list)}};
        print(whole.dump(2, ' ', false, nlohmann::json::error_handler_t::replace) + "\n");
        return code(Exit::done);
    }
    print(csv_line({"run", "mark", "instrument", "number", "boottime / us", "utc", "value / Pa",
                    bench::readable_text("value / " + evidence.unit.symbol), "status", "timing uncertainty / us"}));
    for (const auto& one : *readings)
        print(csv_line({csv_text(evidence.taken.run), fmt::format("{}", evidence.taken.mark),
                        csv_text(evidence.instrument), one.number > 0 ? fmt::format("{}", one.number) : "",
                        fmt::format("{}", one.at_us), utc_text(one.at_us + evidence.utc_offset_us),
                        one.value_pa ? exact(*one.value_pa) : "",
                        one.value_pa ? exact(evidence.unit.from_pa(*one.value_pa)) : "", csv_text(one.status),
                        fmt::format("{}", one.timing_us)}));
    return code(Exit::done);
}

int export_budget(const ExportRequest& request, const decider::MarkEvidence& evidence) {
    if (request.in_json) {
        const auto text = decider::budget_json(request.journal, request.run, evidence.taken.mark);
        if (!text) return refused(text.error().message);
        print(*text + "\n");
        return code(Exit::done);
    }
    print(csv_line({"run", "mark", "instrument", "part", "input", "estimate / SI unit", "u / SI unit",
                    "contribution / Pa", "share of the variance of its part"}));
    const auto line = [&](const char* part, const std::string& input, const std::string& estimate, const std::string& u,
                          double contribution_pa, double share) {
        print(csv_line({csv_text(evidence.taken.run), fmt::format("{}", evidence.taken.mark),
                        csv_text(evidence.instrument), part, csv_text(input), estimate, u, exact(contribution_pa),
                        exact(share)}));
    };
    for (const auto& one : evidence.reference.budget)
        line("reference", one.input, exact(one.estimate), exact(one.u), one.contribution_pa, one.share);
    for (const auto& one : decider::reading_lines(evidence.taken))
        line("deviation", one.input, "", "", one.u_pa, one.share);
    return code(Exit::done);
}

std::vector<std::string> mark_fields(const bench::Mark& mark, const bench::Run& run) {
    const auto& taken = mark.taken;
    const auto& visit = run.plan.visits[static_cast<std::size_t>(taken.visit)];
    const auto& point = run.bench->sequences[run.sequence].points[visit.point];
    const auto& instrument = run.bench->instruments[static_cast<std::size_t>(taken.channel)];
    const bool manual = instrument.manual();
    std::string flags;
    for (const auto& flag : taken.flags)
        flags += (flags.empty() ? "" : "; ") + flag;
    return {csv_text(taken.run),
            fmt::format("{}", taken.mark),
            utc_text(mark.utc_us),
            csv_text(instrument.name),
            csv_text(instrument.unit.symbol),
            exact(instrument.unit.pascals),
            csv_text(point.target),
            point.zero ? "" : csv_text(run.bench->balance.ranges[point.range].physics.name),
            bench::word(visit.direction),
            fmt::format("{}", visit.series),
            exact(taken.reference_pa),
            exact(taken.u_reference_pa),
            exact(taken.at_balance_pa),
            exact(taken.mean_pa),
            exact(taken.u_mean_pa),
            manual ? exact(taken.untapped_pa) : "",
            exact(taken.deviation_pa),
            exact(taken.u_pa),
            exact(taken.u_dof),
            instrument.permissible ? exact(metrology::permissible_at(*instrument.permissible, taken.reference_pa,
                                                                     instrument.span_low_pa, instrument.span_high_pa))
                                   : "",
            bench::word(mark.status),
            csv_text(mark.why),
            csv_text(flags),
            manual ? "" : fmt::format("{}", taken.first),
            manual ? "" : fmt::format("{}", taken.last),
            fmt::format("{}", taken.from_us),
            fmt::format("{}", taken.to_us),
            taken.interval > 0 ? fmt::format("{}", taken.interval) : ""};
}

int export_marks(const ExportRequest& request) {
    std::error_code error;
    if (!std::filesystem::exists(request.journal, error))
        return refused(fmt::format("{}: there is no such file; give a journal", request.journal));
    const auto recovered = decider::recover(request.journal);
    if (!recovered) return refused(recovered.error().message);
    const bench::State& state = recovered->state;
    const bench::Run* run = nullptr;
    for (const auto& one : state.runs)
        if (request.run.empty() || one.id == request.run) run = &one;
    if (run == nullptr)
        return refused(request.run.empty() ? fmt::format("{}: there is no run in it", request.journal)
                                           : fmt::format("{}: there is no run {} in it; stillmark run list names those "
                                                         "of a service",
                                                         request.journal, request.run));
    if (request.in_json) {
        nlohmann::json list = nlohmann::json::array();
        for (const auto& mark : state.marks)
            if (mark.taken.run == run->id) list.push_back(decider::mark_json(state, mark, *run));
        print(list.dump(2, ' ', false, nlohmann::json::error_handler_t::replace) + "\n");
        return code(Exit::done);
    }
    print(csv_line({"run",
                    "mark",
                    "utc",
                    "instrument",
                    "unit",
                    "pascals per unit",
                    "target",
                    "range",
                    "direction",
                    "series",
                    "reference / Pa",
                    "u(reference) / Pa",
                    "at balance / Pa",
                    "indication / Pa",
                    "u(indication) / Pa",
                    "untapped / Pa",
                    "deviation / Pa",
                    "u(deviation) / Pa",
                    "degrees of freedom",
                    "permissible / Pa",
                    "status",
                    "why",
                    "flags",
                    "first reading",
                    "last reading",
                    "window from / us",
                    "window to / us",
                    "float"}));
    for (const auto& mark : state.marks)
        if (mark.taken.run == run->id) print(csv_line(mark_fields(mark, *run)));
    return code(Exit::done);
}

int export_from(const ExportRequest& request) {
    if (request.what == "marks") return export_marks(request);
    if (!request.mark)
        return refused(fmt::format("export {}: --mark is missing; give the number of a mark, which export marks lists",
                                   request.what));
    const auto evidence = decider::evidence_of(request.journal, request.run, *request.mark);
    if (!evidence) return refused(evidence.error().message);
    return request.what == "budget" ? export_budget(request, *evidence) : export_readings(request, *evidence);
}

} // namespace

void add_export(CLI::App& app, int& exit_code) {
    CLI::App* command = app.add_subcommand(
        "export", "Marks of a run, the readings of a mark's window or its uncertainty budget, as CSV or JSON; needs no "
                  "service");
    const auto request = std::make_shared<ExportRequest>();
    command->add_option("JOURNAL", request->journal, "Journal file")->required();
    command->add_option("WHAT", request->what, "marks, readings or budget")
        ->required()
        ->check(CLI::IsMember({"marks", "readings", "budget"}));
    command->add_option("--run", request->run, "Run (default: the latest for marks, any for a mark)");
    command->add_option("--mark", request->mark, "Number of the mark, for readings and budget");
    command->add_flag("--json", request->in_json, "Print JSON in place of CSV");
    command->callback([request, &exit_code] { exit_code = export_from(*request); });
}

} // namespace stillmark::cli
