#include "daemon/records/tables.hpp"

#include "daemon/bench/state.hpp"
#include "daemon/bench/written_text.hpp"
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

} // namespace

std::string csv_of(const Certificate& certificate) {
    std::string table =
        csv_line({"certificate", "state", "run", "condition", "range", "direction", "series", "target",
                  in_unit("reference", certificate), in_unit("indication", certificate),
                  in_unit("untapped", certificate), in_unit("deviation", certificate), in_unit("U", certificate), "k",
                  in_unit("permissible", certificate), "status", "flags", "mark", "utc"});
    for (const Results& results : certificate.results)
        for (const Table& way : results.tables)
            for (const Row& row : way.rows)
                table += csv_line({csv_text(certificate.number), state_of(certificate), csv_text(results.run),
                                   csv_text(results.condition), csv_text(way.range), bench::word(way.direction),
                                   fmt::format("{}", way.series), csv_text(row.target), row.reference.text,
                                   row.indication.text, row.untapped.text, row.deviation.text, row.expanded.text,
                                   row.expanded.there() ? k_text(row.k) : "", row.permissible.text,
                                   csv_text(row.status), csv_text(fmt::format("{}", fmt::join(row.flags, "; "))),
                                   fmt::format("{}", row.mark), instant_text(row.utc_us)});
    return table;
}

std::string csv_of_points(const Certificate& certificate) {
    std::string table = csv_line(
        {"certificate", "state", "run", "condition", "target", in_unit("reference", certificate),
         in_unit("deviation rising", certificate), in_unit("deviation falling", certificate),
         in_unit("mean deviation", certificate), in_unit("hysteresis", certificate),
         in_unit("repeatability", certificate), in_unit("reproducibility", certificate), in_unit("U", certificate), "k",
         in_unit("error span", certificate), in_unit("permissible", certificate), "U is the capability", "verdict"});
    for (const Results& results : certificate.results)
        for (const Summary& at : results.points)
            table += csv_line({csv_text(certificate.number), state_of(certificate), csv_text(results.run),
                               csv_text(results.condition), csv_text(at.target), at.reference.text,
                               at.deviation_up.text, at.deviation_down.text, at.deviation_mean.text, at.hysteresis.text,
                               at.repeatability.text, at.reproducibility.text, at.expanded.text,
                               at.expanded.there() ? k_text(at.k) : "", at.error_span.text, at.permissible.text,
                               at.at_capability ? "yes" : "no", at.verdict ? metrology::word(*at.verdict) : ""});
    return table;
}

} // namespace stillmark::records
