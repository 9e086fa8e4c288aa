#include "daemon/records/figure_text.hpp"
#include "daemon/records/print/blocks.hpp"
#include "daemon/records/print/parts.hpp"
#include "daemon/records/print/table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace stillmark::records::print {

namespace {

constexpr Style note_style{table_size, false, 0};
constexpr Style small_heading{Style{}.size, true, 0};

/// Remarks below a table, each once, with the number that its rows show.
class Notes {
  public:
    std::string mark(const std::string& text) {
        const auto known = std::ranges::find(texts_, text);
        const auto number = known - texts_.begin() + 1;
        if (known == texts_.end()) texts_.push_back(text);
        return std::to_string(number);
    }
    Flow below(const Desk& desk) const {
        Flow flow;
        for (std::size_t i = 0; i < texts_.size(); ++i)
            append(flow, paragraph(desk.type, fmt::format("{})  {}", i + 1, texts_[i]), note_style, desk.width));
        return flow;
    }

  private:
    std::vector<std::string> texts_;
};

std::string direction_words(bench::Direction direction, const Words& words) {
    if (direction == bench::Direction::rising) return words("rising");
    return words(direction == bench::Direction::falling ? "falling" : "preload");
}

std::string point_words(const Summary& at, const Words& words) {
    return at.shown_as.empty() ? words.quantity(at.target) : words(at.shown_as);
}

std::string series_words(int series, bool many, const Words& words) {
    return many ? ", " + words("series", {{"number", std::to_string(series)}}) : std::string();
}

std::string notes_of(const Row& row, Notes& notes, const Words& words) {
    std::vector<std::string> marks;
    if (row.zero) marks.push_back(notes.mark(words("vented")));
    if (row.status == "unbracketed") {
        marks.push_back(notes.mark(
            row.accepted_by.empty()
                ? words("unbracketed")
                : words("unbracketed accepted", {{"by", row.accepted_by}, {"because", row.accepted_because}})));
    } else if (row.status == "provisional") {
        marks.push_back(notes.mark(words("provisional")));
    }
    for (const std::string& flag : row.flags)
        marks.push_back(notes.mark(words.named("flag", flag)));
    return joined(marks, " ");
}

Flow readings(const Desk& desk, const Results& results) {
    const Words& words = desk.words;
    std::vector<Row> every;
    bool many = false;
    for (const Table& one : results.tables) {
        every.insert(every.end(), one.rows.begin(), one.rows.end());
        many = many || one.series != 1;
    }
    if (every.empty()) return paragraph(desk.type, words("no readings"), {}, desk.width, 4);
    Notes notes;
    std::vector<TableRow> rows;
    for (const Table& one : results.tables) {
        const std::string group = range_words(one.range, words) + ", " + direction_words(one.direction, words) +
                                  series_words(one.series, many, words);
        for (const Row& row : one.rows)
            rows.push_back({{std::to_string(row.mark), words.quantity(row.target), words.number(row.reference.text),
                             words.number(row.indication.text), words.number(row.untapped.text),
                             words.number(row.deviation.text), notes_of(row, notes, words)},
                            group});
    }
    Flow flow = kept(paragraph(desk.type, words("readings", {{"unit", desk.certificate.unit.symbol}}), small_heading,
                               desk.width, 6));
    append(flow, table(desk.type,
                       {{words("mark"), true},
                        {words("nominal")},
                        {words("reference"), true},
                        {words("indication"), true},
                        {words("untapped"), true},
                        {words("deviation"), true},
                        {words("note")}},
                       rows, desk.width, words("continued")));
    append(flow, notes.below(desk));
    return flow;
}

/// Degrees of freedom as they stand in a table.
std::string dof_text(const Figure& dof, const Words& words) {
    return dof.text == infinite_dof ? "\u221e" : words.number(dof.text);
}

std::string contains_words(const Basis& basis, const Words& words) {
    std::vector<std::string> parts;
    for (const std::string& part : basis.contains)
        parts.push_back(words.named("part", part));
    return words("U contains", {{"parts", joined(parts, ", ")}});
}

/// What U contains: once below the table where it is the same in all rows, otherwise by a note in each.
class Contents {
  public:
    Contents(const std::vector<const Basis*>& all, const Words& words) : words_(words) {
        for (const Basis* one : all) {
            if (!one->expanded.there()) continue;
            const std::string text = contains_words(*one, words);
            if (same_ && *same_ != text) differs_ = true;
            same_ = text;
        }
    }
    std::string mark(const Basis& basis, Notes& notes) const {
        std::vector<std::string> marks;
        if (differs_ && basis.expanded.there()) marks.push_back(notes.mark(contains_words(basis, words_)));
        if (basis.at_capability) marks.push_back(notes.mark(words_("at capability")));
        return joined(marks, " ");
    }
    Flow below(const Desk& desk) const {
        return same_ && !differs_ ? paragraph(desk.type, *same_, note_style, desk.width) : Flow{};
    }

  private:
    const Words& words_;
    std::optional<std::string> same_;
    bool differs_ = false;
};

/// What each verdict rests on, a row a point and direction.
Flow bases(const Desk& desk, const Results& results) {
    const Words& words = desk.words;
    std::vector<const Basis*> all;
    for (const Summary& at : results.points)
        for (const auto* one : {&at.rising, &at.falling})
            if (*one) all.push_back(&**one);
    if (all.empty()) return {};
    const Contents contents(all, words);
    Notes notes;
    std::vector<TableRow> rows;
    for (const auto& [direction, which] :
         {std::pair{"rising", &Summary::rising}, std::pair{"falling", &Summary::falling}})
        for (const Summary& at : results.points) {
            if (!(at.*which)) continue;
            const Basis& one = *(at.*which);
            rows.push_back(
                {{point_words(at, words), words.number(at.reference.text), words.number(one.deviation.text),
                  words.number(one.expanded.text), words.number(one.k.text), dof_text(one.dof, words),
                  words.number(one.permissible.text), words.number(one.acceptance.text), words.number(one.outside.text),
                  one.verdict ? verdict_words(one.verdict, words) : "", contents.mark(one, notes)},
                 words(direction)});
        }
    Flow flow = kept(
        paragraph(desk.type, words("basis", {{"unit", desk.certificate.unit.symbol}}), small_heading, desk.width, 6));
    append(flow, table(desk.type,
                       {{words("nominal")},
                        {words("reference"), true},
                        {words("deviation"), true},
                        {"U", true},
                        {"k", true},
                        {words("degrees of freedom"), true},
                        {words("permissible"), true},
                        {words("acceptance"), true},
                        {words("probability outside"), true},
                        {words("conformity")},
                        {words("note")}},
                       rows, desk.width, words("continued")));
    append(flow, contents.below(desk));
    append(flow, notes.below(desk));
    return flow;
}

/// What both directions give together, and how they differ. It decides nothing.
Flow evaluation(const Desk& desk, const Results& results) {
    std::vector<const Basis*> all;
    for (const Summary& at : results.points)
        if (at.mean) all.push_back(&*at.mean);
    if (all.empty()) return {};
    const Words& words = desk.words;
    const Contents contents(all, words);
    Notes notes;
    std::vector<TableRow> rows;
    for (const Summary& at : results.points) {
        if (!at.mean) continue;
        rows.push_back(
            {{point_words(at, words), words.number(at.mean->deviation.text), words.number(at.hysteresis.text),
              words.number(at.repeatability.text), words.number(at.reproducibility.text),
              words.number(at.mean->expanded.text), words.number(at.mean->k.text), dof_text(at.mean->dof, words),
              words.number(at.error_span.text), contents.mark(*at.mean, notes)},
             ""});
    }
    Flow flow = kept(paragraph(desk.type, words("evaluation", {{"unit", desk.certificate.unit.symbol}}), small_heading,
                               desk.width, 6));
    append(flow, table(desk.type,
                       {{words("nominal")},
                        {words("deviation mean"), true},
                        {words("hysteresis"), true},
                        {words("repeatability"), true},
                        {words("reproducibility"), true},
                        {words("U of mean"), true},
                        {"k", true},
                        {words("degrees of freedom"), true},
                        {words("error span"), true},
                        {words("note")}},
                       rows, desk.width, words("continued")));
    append(flow, contents.below(desk));
    append(flow, notes.below(desk));
    return flow;
}

const char* finding_word(bench::OverlapFinding finding) {
    switch (finding) {
    case bench::OverlapFinding::agree:
        return "ranges agree";
    case bench::OverlapFinding::differ:
        return "ranges differ";
    case bench::OverlapFinding::too_coarse:
        break;
    }
    return "ranges too coarse";
}

Flow overlaps(const Desk& desk, const Results& results) {
    if (results.overlaps.empty()) return {};
    const Words& words = desk.words;
    std::vector<TableRow> rows;
    const bool many = std::ranges::any_of(results.overlaps, [](const Overlap& one) { return one.series != 1; });
    for (const Overlap& one : results.overlaps) {
        rows.push_back(
            {{words.quantity(one.target), direction_words(one.direction, words) + series_words(one.series, many, words),
              words.number(one.deviation_low.text), words.number(one.deviation_high.text),
              words.number(one.expanded.text), words.number(k_text(one.k)), words.number(one.en.text),
              words(finding_word(one.finding))},
             ""});
    }
    Flow flow = kept(
        paragraph(desk.type, words("overlap", {{"unit", desk.certificate.unit.symbol}}), small_heading, desk.width, 6));
    append(flow, table(desk.type,
                       {{words("nominal")},
                        {words("direction")},
                        {words("deviation low"), true},
                        {words("deviation high"), true},
                        {words("U of difference"), true},
                        {"k", true},
                        {words("difference by U"), true},
                        {words("finding")}},
                       rows, desk.width, words("continued")));
    return flow;
}

void listed(const Desk& desk, Flow& flow, const char* key, const std::vector<metrology::Sentence>& sentences) {
    if (sentences.empty()) return;
    append(flow, kept(paragraph(desk.type, desk.words(key), small_heading, desk.width, 5)));
    for (const metrology::Sentence& one : sentences)
        append(flow, paragraph(desk.type, "\u2013 " + desk.words(one), note_style, desk.width));
}

Flow conformity(const Desk& desk, const Results& results) {
    const Words& words = desk.words;
    Pairs pairs = {{words("conformity"), verdict_words(results.verdict, words)},
                   {words("permissible error"),
                    results.specification.empty() ? words("no permissible error") : words(results.specification)}};
    if (results.verdict) pairs.emplace_back(words("verdict covers"), words(results.verdict_covers));
    if (results.decision)
        pairs.emplace_back(words("decision rule"),
                           decision_words(*results.decision, words, desk.certificate.unit.symbol));
    Flow flow = kept(paragraph(desk.type, words("conformity statement"), small_heading, desk.width, 6));
    append(flow, definitions(desk.type, pairs, desk.width, 110));
    return flow;
}

std::string check_words(const CheckDone& check, const Words& words) {
    std::string said = words.named("check", check.check) + ": " + words(check.words) + ", " +
                       words(check.passed ? "check passed" : "check failed");
    if (!check.waived_because.empty() || !check.waived_by.empty())
        said += "; " + words("check waived", {{"by", check.waived_by}, {"because", check.waived_because}});
    return said;
}

/// Date and zone once where they are the same.
std::string time_words(const Desk& desk, const Results& results) {
    const LocalTime begin = local_time(results.begin_utc_us, desk.certificate.time_zone),
                    end = local_time(results.end_utc_us, desk.certificate.time_zone);
    if (begin.date != end.date || begin.zone != end.zone)
        return desk.words("from to", {{"from", begin.words()}, {"to", end.words()}});
    return desk.words("from to",
                      {{"from", begin.date + " " + begin.time_of_day}, {"to", end.time_of_day + " " + end.zone}});
}

Flow how(const Desk& desk, const Results& results) {
    const Words& words = desk.words;
    std::string method = results.method;
    if (!method.empty() && !results.method_edition.empty())
        method += "; " + words("edition", {{"edition", results.method_edition}});
    if (results.not_compared) method += (method.empty() ? "" : "; ") + words("not compared");
    std::string window = results.window_s.empty() ? words("dial reading")
                                                  : words("window of", {{"seconds", words.number(results.window_s)}});
    if (results.hold_shortened) window += "; " + words("hold shortened");
    const double half = (desk.width - between_columns) / 2;
    const Flow left = definitions(desk.type,
                                  {{words("run"), results.run},
                                   {words("time"), time_words(desk, results)},
                                   {words("sequence"), results.sequence},
                                   {words("standard method"), method}},
                                  half);
    std::vector<std::string> checks;
    for (const CheckDone& check : results.checks)
        checks.push_back(check_words(check, words));
    const Flow right = definitions(
        desk.type,
        {{words("preloads"), std::to_string(results.preloads)},
         {words("wait"), words("seconds", {{"seconds", words.number(fmt::format("{:.6g}", results.wait_s))}})},
         {words("window"), window}},
        half);
    Flow flow = beside(left, right, half + between_columns);
    // In a column they would be longer than everything beside them.
    append(flow, definitions(desk.type, {{words("checks before"), joined(checks, "; ")}}, desk.width));
    return flow;
}

} // namespace

Figure largest_uncertainty(const Results& results) {
    Figure largest;
    for (const Summary& at : results.points)
        for (const auto* one : {&at.rising, &at.falling})
            if (*one && (*one)->expanded.there() && (!largest.there() || (*one)->expanded.value > largest.value))
                largest = (*one)->expanded;
    return largest;
}

Flow results_of(const Desk& desk, const Results& results, const std::optional<Scale>& scale) {
    const Words& words = desk.words;
    Flow flow = heading(desk.type, words("results named", {{"condition", words.named("condition", results.condition)}}),
                        desk.width);
    append(flow, how(desk, results));
    listed(desk, flow, "departures", results.departures);
    append(flow, readings(desk, results));
    append(flow, bases(desk, results));
    append(flow, evaluation(desk, results));
    append(flow, overlaps(desk, results));
    const bool has_readings = std::ranges::any_of(results.tables, [](const Table& one) { return !one.rows.empty(); });
    if (scale && has_readings) {
        append(flow, kept(paragraph(desk.type, words("plot"), small_heading, desk.width, 6)));
        flow.push_back(deviation_plot(desk.type, results, *scale, desk.certificate.unit.symbol, words, desk.width));
        const bool stated = std::ranges::any_of(results.points, [](const Summary& at) {
            return (at.rising && at.rising->permissible.there()) || (at.falling && at.falling->permissible.there());
        });
        if (stated && !scale->permissible)
            append(flow, paragraph(desk.type, words("permissible beyond"), note_style, desk.width));
    }
    append(flow, conformity(desk, results));
    listed(desk, flow, "findings", results.findings);
    listed(desk, flow, "unsaid", results.unsaid);
    listed(desk, flow, "left out", results.left_out);
    return flow;
}

} // namespace stillmark::records::print
