#include "daemon/records/tables.hpp"

#include "daemon/bench/state.hpp"
#include "daemon/bench/written_text.hpp"
#include "daemon/records/basis_figures.hpp"
#include "daemon/records/figure_text.hpp"

#include <fmt/format.h>

namespace stillmark::records {

namespace {

using bench::csv_line;
using bench::csv_text;

std::string in_unit(const char* what, const Certificate& certificate) {
    return bench::readable_text(fmt::format("{} / {}", what, certificate.unit.symbol));
}

/// "draft 2" or "signed".
std::string state_of(const Certificate& certificate) {
    return certificate.draft ? fmt::format("draft {}", certificate.edition) : "signed";
}

/// "guard factor = 0.83; non-binary": what the rule needs beside its name.
std::string parameters_text(const metrology::DecisionRule& rule) {
    std::vector<std::string> list;
    for (const RuleFigure& one : rule_figures(rule))
        list.push_back(fmt::format("{} = {}", one.name, one.figure.text));
    if (rule.rule == metrology::Rule::guard_band) {
        if (rule.by_ratio) list.push_back(fmt::format("by ratio = {}", metrology::word(*rule.by_ratio)));
        if (rule.non_binary) list.emplace_back("non-binary");
    }
    return fmt::format("{}", fmt::join(list, "; "));
}

} // namespace

std::string csv_of(const Certificate& certificate) {
    std::string table = csv_line({"certificate", "state", "run", "condition", "range", "direction", "series", "target",
                                  in_unit("reference", certificate), in_unit("indication", certificate),
                                  in_unit("untapped", certificate), in_unit("deviation", certificate), "status",
                                  "flags", "mark", "utc"});
    for (const Results& results : certificate.results)
        for (const Table& way : results.tables)
            for (const Row& row : way.rows)
                table += csv_line({csv_text(certificate.number), state_of(certificate), csv_text(results.run),
                                   csv_text(results.condition), csv_text(way.range), bench::word(way.direction),
                                   fmt::format("{}", way.series), csv_text(row.target), row.reference.text,
                                   row.indication.text, row.untapped.text, row.deviation.text, csv_text(row.status),
                                   csv_text(fmt::format("{}", fmt::join(row.flags, "; "))), fmt::format("{}", row.mark),
                                   instant_text(row.utc_us)});
    return table;
}

std::string csv_of_points(const Certificate& certificate) {
    std::string table = csv_line({"certificate",
                                  "state",
                                  "run",
                                  "condition",
                                  "target",
                                  "direction",
                                  in_unit("reference", certificate),
                                  in_unit("deviation", certificate),
                                  in_unit("U", certificate),
                                  "k",
                                  "degrees of freedom",
                                  "U contains",
                                  "U is the capability",
                                  in_unit("permissible", certificate),
                                  in_unit("acceptance limit", certificate),
                                  "probability outside / %",
                                  "verdict",
                                  "decision rule",
                                  "rule parameters",
                                  in_unit("hysteresis", certificate),
                                  in_unit("repeatability", certificate),
                                  in_unit("reproducibility", certificate),
                                  in_unit("error span", certificate)});
    for (const Results& results : certificate.results)
        for (const Summary& at : results.points)
            for (const auto& [direction, basis] : bases_of(at))
                table += csv_line({csv_text(certificate.number),
                                   state_of(certificate),
                                   csv_text(results.run),
                                   csv_text(results.condition),
                                   csv_text(at.target),
                                   direction,
                                   at.reference.text,
                                   basis->deviation.text,
                                   basis->expanded.text,
                                   basis->k.text,
                                   basis->dof.text,
                                   csv_text(fmt::format("{}", fmt::join(basis->contains, "; "))),
                                   basis->at_capability ? "yes" : "no",
                                   basis->permissible.text,
                                   basis->acceptance.text,
                                   basis->outside.text,
                                   basis->verdict ? metrology::word(*basis->verdict) : "",
                                   results.decision ? metrology::word(results.decision->rule) : "",
                                   results.decision ? csv_text(parameters_text(*results.decision)) : "",
                                   at.hysteresis.text,
                                   at.repeatability.text,
                                   at.reproducibility.text,
                                   at.error_span.text});
    return table;
}

} // namespace stillmark::records
