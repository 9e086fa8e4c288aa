#include "daemon/metrology/evaluation/unsaid.hpp"
#include "daemon/records/basis_figures.hpp"
#include "daemon/records/digital/sections.hpp"
#include "daemon/records/figure_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <optional>
#include <string_view>

namespace stillmark::records::digital {

namespace {

const DigitalUnit one_unit{"\\one", ""};

template <class T>
std::vector<Figure> figures_of(const std::vector<T>& rows, Figure T::*which) {
    std::vector<Figure> out;
    for (const T& one : rows)
        out.push_back(one.*which);
    return out;
}

/// A text at each row: one dcc:content a row, in their order.
void add_texts(const Scribe& scribe, pugi::xml_node list, const char* ref_type, const Words& name,
               const std::vector<std::string>& texts) {
    pugi::xml_node quantity = Scribe::element(list, "dcc:quantity", nullptr, ref_type);
    scribe.words(quantity, "dcc:name", name);
    Scribe::said(quantity, "dcc:noQuantity", texts);
}

metrology::Sentence flag_words(const std::string& flag) {
    if (flag == "approached from above") return metrology::sentence("approached from above");
    if (flag == "approached from below") return metrology::sentence("approached from below");
    return metrology::as_it_is(flag);
}

std::vector<metrology::Sentence> remarks_of(const Row& row) {
    using metrology::text_value;
    std::vector<metrology::Sentence> remarks;
    if (row.zero) remarks.push_back(metrology::sentence("taken with the line open to air"));
    for (const auto& flag : row.flags)
        remarks.push_back(flag_words(flag));
    if (!row.accepted_by.empty() || !row.accepted_because.empty())
        remarks.push_back(
            metrology::sentence("accepted by {by}: {because}",
                                {text_value("by", row.accepted_by), text_value("because", row.accepted_because)}));
    return remarks;
}

pugi::xml_node result(const Scribe& scribe, pugi::xml_node parent, const char* ref_type, const Words& name) {
    pugi::xml_node node = Scribe::element(parent, "dcc:result", nullptr, ref_type);
    scribe.words(node, "dcc:name", name);
    return Scribe::element(node, "dcc:data");
}

Words direction_words(bench::Direction direction) {
    switch (direction) {
    case bench::Direction::rising:
        return {"rising", "steigend"};
    case bench::Direction::falling:
        return {"falling", "fallend"};
    case bench::Direction::preload:
        break;
    }
    return {"preload", "Vorbelastung"};
}

void readings(const Scribe& scribe, pugi::xml_node parent, const Table& way, const DigitalUnit& unit) {
    const Words direction = direction_words(way.direction);
    const std::string series = fmt::format("{}", way.series);
    const Words range = way.range.empty() ? Words{"line open to air", "Leitung zur Luft offen"}
                                          : Words{"range " + way.range, "Bereich " + way.range};
    pugi::xml_node data = result(scribe, parent, "stillmark_readings",
                                 {fmt::format("Readings, {}, {}, series {}", range.en, direction.en, series),
                                  fmt::format("Ablesungen, {}, {}, Reihe {}", range.de, direction.de, series)});
    pugi::xml_node list = Scribe::element(data, "dcc:list");
    std::string instants;
    std::vector<std::string> targets, statuses;
    std::vector<Figure> marks;
    for (const Row& row : way.rows) {
        instants += (instants.empty() ? "" : " ") + instant_text(row.utc_us);
        targets.push_back(row.target);
        statuses.push_back(row.status);
        marks.push_back({static_cast<double>(row.mark), fmt::format("{}", row.mark)});
    }
    Scribe::leaf(list, "dcc:dateTimeXMLList", instants);
    const auto column = [&](const char* ref_type, const Words& name, Figure Row::*which) {
        add_column(scribe, list, {ref_type, name, figures_of(way.rows, which), {}, {}}, unit);
    };
    column("basic_referenceValue", {"reference pressure at the instrument", "Bezugsdruck am Gerät"}, &Row::reference);
    column("basic_measuredValue", {"indication", "Anzeige"}, &Row::indication);
    column("stillmark_untapped", {"indication before tapping", "Anzeige vor dem Klopfen"}, &Row::untapped);
    add_column(scribe, list,
               {"basic_measurementError",
                {"deviation: indication less reference", "Abweichung: Anzeige minus Bezug"},
                figures_of(way.rows, &Row::deviation),
                {},
                {}},
               unit);
    add_column(scribe, list, {"stillmark_mark", {"mark", "Marke"}, marks, {}, {}}, one_unit);
    add_texts(scribe, list, "stillmark_target", {"target", "Sollwert"}, targets);
    add_texts(scribe, list, "stillmark_status", {"status", "Status"}, statuses);
    for (const Row& row : way.rows)
        if (auto remarks = remarks_of(row); !remarks.empty())
            scribe.words(data, "dcc:text",
                         in_words(metrology::sentence("mark {mark}: {remarks}",
                                                      {metrology::number_value("mark", row.mark),
                                                       metrology::words_value("remarks", std::move(remarks))})));
}

const char* conformity(const std::optional<metrology::Verdict>& verdict) {
    if (!verdict) return "none";
    switch (*verdict) {
    case metrology::Verdict::pass:
        return "pass";
    case metrology::Verdict::conditional_pass:
        return "conditionalPass";
    case metrology::Verdict::conditional_fail:
        return "conditionalFail";
    case metrology::Verdict::fail:
        break;
    }
    return "fail";
}

/// Which basis of a point a list shows, with its words.
struct Shown {
    std::optional<Basis> Summary::*which;
    const char* ref_type;
    Words of;
};

/// Texts that the schema has no quantity for.
void add_basis_texts(const Scribe& scribe, pugi::xml_node data, pugi::xml_node list, const std::vector<Basis>& bases,
                     const std::vector<std::string>& targets) {
    std::vector<std::string> dofs, contains, verdicts;
    std::string in_a_list;
    for (std::size_t i = 0; i < bases.size(); ++i) {
        const Basis& one = bases[i];
        dofs.push_back(one.dof.there() ? one.dof.text : "-");
        contains.push_back(one.contains.empty() ? "-" : fmt::format("{}", fmt::join(one.contains, "; ")));
        verdicts.emplace_back(conformity(one.verdict));
        in_a_list += (in_a_list.empty() ? "" : " ") + verdicts.back();
        if (one.at_capability)
            scribe.words(data, "dcc:text",
                         {targets[i] + ": U is the capability that the laboratory states",
                          targets[i] + ": U ist die Messmöglichkeit, die das Laboratorium angibt"});
    }
    add_texts(scribe, list, "stillmark_target", {"target", "Sollwert"}, targets);
    add_texts(scribe, list, "stillmark_degreesOfFreedom", {"effective degrees of freedom", "effektive Freiheitsgrade"},
              dofs);
    add_texts(scribe, list, "stillmark_uncertaintyContains", {"what U contains", "was U enthält"}, contains);
    const auto judged = std::ranges::count_if(bases, [](const Basis& one) { return one.verdict.has_value(); });
    // The schema's list has no word for a point without a verdict.
    if (judged == static_cast<std::ptrdiff_t>(bases.size()))
        Scribe::leaf(Scribe::element(Scribe::element(list, "dcc:measurementMetaData"), "dcc:metaData", nullptr,
                                     "stillmark_conformity"),
                     "dcc:conformityXMLList", in_a_list);
    else if (judged > 0)
        add_texts(scribe, list, "stillmark_conformity", {"conformity at each point", "Konformität an jedem Punkt"},
                  verdicts);
}

/// What each verdict of one direction rests on; of both directions together, how they differ.
void points(const Scribe& scribe, pugi::xml_node parent, const std::vector<Summary>& every, const Shown& shown,
            const DigitalUnit& unit) {
    std::vector<Summary> all;
    std::vector<Basis> bases;
    std::vector<std::string> factors, targets;
    for (const Summary& at : every) {
        if (!(at.*shown.which)) continue;
        all.push_back(at);
        bases.push_back(*(at.*shown.which));
        factors.push_back(bases.back().k.there() ? bases.back().k.text : "2.00");
        targets.push_back(at.target);
    }
    if (all.empty()) return;
    pugi::xml_node data = result(scribe, parent, shown.ref_type,
                                 {"Result at each point, " + shown.of.en, "Ergebnis an jedem Punkt, " + shown.of.de});
    pugi::xml_node list = Scribe::element(data, "dcc:list");
    const auto of_point = [&](const char* ref_type, const Words& name, Figure Summary::*which) {
        add_column(scribe, list, {ref_type, name, figures_of(all, which), {}, {}}, unit);
    };
    const auto of_basis = [&](const char* ref_type, const Words& name, Figure Basis::*which, const DigitalUnit& in) {
        add_column(scribe, list, {ref_type, name, figures_of(bases, which), {}, {}}, in);
    };
    of_point("basic_referenceValue", {"reference pressure", "Bezugsdruck"}, &Summary::reference);
    add_column(scribe, list,
               {"basic_measurementError",
                {"deviation", "Abweichung"},
                figures_of(bases, &Basis::deviation),
                figures_of(bases, &Basis::expanded),
                factors},
               unit);
    of_basis("stillmark_permissibleError", {"permissible error, either way", "Fehlergrenze, nach beiden Seiten"},
             &Basis::permissible, unit);
    of_basis("stillmark_acceptanceLimit", {"acceptance limit, either way", "Annahmegrenze, nach beiden Seiten"},
             &Basis::acceptance, unit);
    of_basis("stillmark_probabilityOutside",
             {"probability of a deviation beyond the permissible error",
              "Wahrscheinlichkeit einer Abweichung jenseits der Fehlergrenze"},
             &Basis::outside, {surroundings_unit("%"), ""});
    if (shown.which == &Summary::mean) {
        of_point("stillmark_hysteresis", {"hysteresis", "Umkehrspanne"}, &Summary::hysteresis);
        of_point("stillmark_repeatability", {"repeatability", "Wiederholpräzision"}, &Summary::repeatability);
        of_point("stillmark_reproducibility", {"reproducibility", "Vergleichpräzision"}, &Summary::reproducibility);
        of_point("stillmark_errorSpan", {"|deviation| + U", "|Abweichung| + U"}, &Summary::error_span);
    }
    add_basis_texts(scribe, data, list, bases, targets);
}

/// The rule with its numbers, so that a program applies it without reading sentences.
void decision_rule(const Scribe& scribe, pugi::xml_node parent, const metrology::DecisionRule& rule,
                   const DigitalUnit& unit) {
    pugi::xml_node data = result(scribe, parent, "stillmark_decisionRule", {"Decision rule", "Entscheidungsregel"});
    const auto text = [&](const char* ref_type, const Words& name, const char* value) {
        pugi::xml_node quantity = Scribe::element(data, "dcc:quantity", nullptr, ref_type);
        scribe.words(quantity, "dcc:name", name);
        Scribe::said(quantity, "dcc:noQuantity", value);
    };
    text("stillmark_rule", {"rule", "Regel"}, metrology::word(rule.rule));
    if (rule.rule == metrology::Rule::guard_band) {
        if (rule.by_ratio) text("stillmark_byRatio", {"factor", "Faktor"}, metrology::word(*rule.by_ratio));
        text("stillmark_statements", {"statements", "Aussagen"}, rule.non_binary ? "non-binary" : "binary");
    }
    struct Kind {
        const char* name;
        const char* ref_type;
        Words words;
    };
    const Kind kinds[] = {
        {"guard factor", "stillmark_guardFactor", {"guard band over U", "Schutzband durch U"}},
        {"risk", "stillmark_risk", {"largest risk", "größtes Risiko"}},
        {"least ratio", "stillmark_leastRatio", {"least ratio", "kleinstes Verhältnis"}},
        {"process mean", "stillmark_processMean", {"mean of the process", "Mittelwert des Prozesses"}},
        {"process sd",
         "stillmark_processStandardDeviation",
         {"standard deviation of the process", "Standardabweichung des Prozesses"}},
    };
    for (const RuleFigure& one : rule_figures(rule))
        for (const Kind& kind : kinds)
            if (std::string_view(kind.name) == one.name)
                add_quantity(scribe, data, kind.ref_type, kind.words, one.figure, one.in_unit ? unit : one_unit);
}

void overlaps(const Scribe& scribe, pugi::xml_node parent, const std::vector<Overlap>& all, const DigitalUnit& unit) {
    pugi::xml_node data =
        result(scribe, parent, "stillmark_overlap",
               {"One pressure realised in both ranges", "Ein Druck, in beiden Bereichen dargestellt"});
    pugi::xml_node list = Scribe::element(data, "dcc:list");
    add_column(scribe, list,
               {"stillmark_deviationLow",
                {"deviation in the low range", "Abweichung im unteren Bereich"},
                figures_of(all, &Overlap::deviation_low),
                {},
                {}},
               unit);
    add_column(scribe, list,
               {"stillmark_deviationHigh",
                {"deviation in the high range", "Abweichung im oberen Bereich"},
                figures_of(all, &Overlap::deviation_high),
                {},
                {}},
               unit);
    add_column(scribe, list,
               {"stillmark_expandedOfDifference",
                {"expanded uncertainty of their difference", "erweiterte Unsicherheit ihres Unterschieds"},
                figures_of(all, &Overlap::expanded),
                {},
                {}},
               unit);
    add_column(
        scribe, list,
        {"stillmark_normalizedError", {"|difference| / U", "|Unterschied| / U"}, figures_of(all, &Overlap::en), {}, {}},
        one_unit);
    std::vector<std::string> targets, verdicts;
    for (const Overlap& one : all) {
        targets.push_back(fmt::format("{}, {}, series {}", one.target, direction_words(one.direction).en, one.series));
        verdicts.emplace_back(one.finding == bench::OverlapFinding::too_coarse ? "hidden by the resolution"
                              : one.finding == bench::OverlapFinding::agree    ? "agree"
                                                                               : "do not agree");
    }
    add_texts(scribe, list, "stillmark_target", {"target", "Sollwert"}, targets);
    add_texts(scribe, list, "stillmark_agreement", {"both ranges", "beide Bereiche"}, verdicts);
}

} // namespace

void add_results(const Scribe& scribe, pugi::xml_node measurement, const Results& results, const DigitalUnit& unit) {
    pugi::xml_node list = Scribe::element(measurement, "dcc:results");
    for (const Table& way : results.tables)
        if (!way.rows.empty()) readings(scribe, list, way, unit);
    for (const Shown& shown : {Shown{&Summary::rising, "stillmark_pointsRising", {"rising", "steigend"}},
                               Shown{&Summary::falling, "stillmark_pointsFalling", {"falling", "fallend"}},
                               Shown{&Summary::mean, "stillmark_points", {"both directions", "beide Richtungen"}}})
        points(scribe, list, results.points, shown, unit);
    if (results.decision) decision_rule(scribe, list, *results.decision, unit);
    if (!results.overlaps.empty()) overlaps(scribe, list, results.overlaps, unit);
    const Figure* extremes[] = {&results.zero_deviation, &results.largest_deviation, &results.largest_hysteresis,
                                &results.largest_repeatability};
    if (std::ranges::any_of(extremes, [](const Figure* one) { return one->there(); })) {
        pugi::xml_node data =
            result(scribe, list, "stillmark_whole", {"Over the whole span", "Über die ganze Messspanne"});
        add_quantity(scribe, data, "stillmark_zeroDeviation", {"deviation at zero", "Abweichung bei null"},
                     results.zero_deviation, unit);
        add_quantity(scribe, data, "stillmark_largestDeviation", {"largest deviation", "größte Abweichung"},
                     results.largest_deviation, unit);
        add_quantity(scribe, data, "stillmark_largestHysteresis", {"largest hysteresis", "größte Umkehrspanne"},
                     results.largest_hysteresis, unit);
        add_quantity(scribe, data, "stillmark_largestRepeatability",
                     {"largest repeatability", "größte Wiederholpräzision"}, results.largest_repeatability, unit);
        if (data.first_child().empty()) scribe.words(data, "dcc:text", {"not stated", "nicht angegeben"});
    }
    if (list.first_child().empty())
        scribe.words(result(scribe, list, nullptr, {"Readings", "Ablesungen"}), "dcc:text",
                     {"No reading counts.", "Keine Ablesung zählt."});
}

} // namespace stillmark::records::digital
