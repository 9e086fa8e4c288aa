#include "daemon/records/decision_words.hpp"
#include "daemon/records/digital/sections.hpp"
#include "daemon/records/figure_text.hpp"

#include <fmt/format.h>

#include <utility>

namespace stillmark::records::digital {

namespace {

Words condition_words(const std::string& condition) {
    constexpr std::pair<const char*, const char*> known[] = {
        {"as found", "wie vorgefunden"}, {"as left", "wie übergeben"}, {"after adjustment", "nach dem Justieren"}};
    for (const auto& [en, de] : known)
        if (condition == en) return {en, de};
    return {condition, condition};
}

/// Digits with a decimal comma.
std::string german(const std::string& digits) {
    return records::Words::of(Language::german).number(digits);
}

void methods(const Scribe& scribe, pugi::xml_node parent, const Certificate& certificate, const Results& results) {
    pugi::xml_node list = Scribe::element(parent, "dcc:usedMethods");
    pugi::xml_node sequence = Scribe::element(list, "dcc:usedMethod");
    Scribe::said(sequence, "dcc:name", results.sequence.empty() ? "-" : results.sequence);
    Words about{fmt::format("Comparison with a pressure balance; preloads: {}; waiting time at each point: {:g} s",
                            results.preloads, results.wait_s),
                fmt::format("Vergleich mit einer Kolbendruckwaage; Vorbelastungen: {}; Wartezeit an jedem Punkt: {} s",
                            results.preloads, german(fmt::format("{:g}", results.wait_s)))};
    const auto add = [&about](const std::string& en, const std::string& de) {
        about.en += "; " + en;
        about.de += "; " + de;
    };
    if (!results.window_s.empty())
        add("each reading is the mean of " + results.window_s + " s",
            "jede Ablesung ist das Mittel von " + german(results.window_s) + " s");
    if (results.hold_shortened)
        add("stillness was held for a shorter time than the window",
            "die Ruhe wurde kürzer abgewartet, als das Fenster dauert");
    if (!results.method_edition.empty())
        add("the method's data were compared: " + results.method_edition,
            "die Daten des Verfahrens wurden verglichen: " + results.method_edition);
    if (!results.departures.empty()) {
        const Words all = in_words(metrology::sentence("{list}", {metrology::words_value("list", results.departures)}));
        add("departures: " + all.en, "Abweichungen: " + all.de);
    }
    scribe.words(sequence, "dcc:description", about);
    if (!results.method.empty()) Scribe::leaf(sequence, "dcc:norm", results.method);
    if (!certificate.procedure.empty()) {
        pugi::xml_node procedure = Scribe::element(list, "dcc:usedMethod");
        scribe.words(procedure, "dcc:name", {"procedure of the laboratory", "Verfahren des Laboratoriums"});
        Scribe::leaf(procedure, "dcc:reference", certificate.procedure);
    }
    pugi::xml_node uncertainty = Scribe::element(list, "dcc:usedMethod");
    scribe.words(uncertainty, "dcc:name", {"evaluation of the uncertainty", "Ermittlung der Messunsicherheit"});
    Scribe::leaf(uncertainty, "dcc:norm", "JCGM 100:2008");
}

void standards(const Scribe& scribe, pugi::xml_node parent, const Certificate& certificate) {
    if (certificate.standards.empty()) return;
    pugi::xml_node list = Scribe::element(parent, "dcc:measuringEquipments");
    for (const StandardUsed& one : certificate.standards) {
        pugi::xml_node node = Scribe::element(list, "dcc:measuringEquipment");
        Scribe::said(node, "dcc:name", one.name.empty() ? one.what : one.what + ": " + one.name);
        Words about;
        const auto add = [&about](const char* en, const char* de, const std::string& text) {
            if (text.empty()) return;
            about.en += (about.en.empty() ? "" : "; ") + (en + text);
            about.de += (about.de.empty() ? "" : "; ") + (de + text);
        };
        add("certificate issued by ", "Schein ausgestellt von ", one.issued_by);
        add("issued ", "ausgestellt am ", one.issued);
        add("valid until ", "gültig bis ", one.valid_until);
        add("traceable to ", "rückgeführt auf ", one.traceable_to);
        add("expired and used all the same: ", "abgelaufen und trotzdem verwendet: ", one.allowed_because);
        if (!about.en.empty()) scribe.words(node, "dcc:description", about);
        if (!one.certificate.empty()) {
            pugi::xml_node certified = Scribe::element(node, "dcc:certificate");
            scribe.words(certified, "dcc:referral", {"calibration certificate", "Kalibrierschein"});
            Scribe::leaf(certified, "dcc:referralID", one.certificate);
            Scribe::leaf(certified, "dcc:procedure", "none");
            Scribe::leaf(certified, "dcc:value", "");
        }
        if (one.serial.empty()) continue;
        pugi::xml_node identification =
            Scribe::element(Scribe::element(node, "dcc:identifications"), "dcc:identification");
        Scribe::leaf(identification, "dcc:issuer", "manufacturer");
        Scribe::leaf(identification, "dcc:value", one.serial);
    }
}

pugi::xml_node influence(const Scribe& scribe, pugi::xml_node list, const Words& name) {
    pugi::xml_node node = Scribe::element(list, "dcc:influenceCondition");
    scribe.words(node, "dcc:name", name);
    return node;
}

/// What a person wrote.
void stated(const Scribe& scribe, pugi::xml_node list, const Words& name, const std::string& text) {
    if (!text.empty()) Scribe::said(Scribe::element(influence(scribe, list, name), "dcc:data"), "dcc:text", text);
}

void level(const Scribe& scribe, pugi::xml_node list, const Item& item) {
    const Figure above{0, item.above_balance_mm};
    if (item.above_balance_mm.empty() && item.reference_mark.empty()) return;
    pugi::xml_node node = influence(scribe, list, {"level of the instrument", "Höhenlage des Geräts"});
    pugi::xml_node data = Scribe::element(node, "dcc:data");
    scribe.words(data, "dcc:text",
                 {fmt::format("The pressure is stated at: {}; level mark of the balance: {}",
                              item.reference_mark.empty() ? "-" : item.reference_mark,
                              item.balance_level_mark.empty() ? "-" : item.balance_level_mark),
                  fmt::format("Der Druck gilt an: {}; Höhenmarke der Druckwaage: {}",
                              item.reference_mark.empty() ? "-" : item.reference_mark,
                              item.balance_level_mark.empty() ? "-" : item.balance_level_mark)});
    add_quantity(scribe, data, "stillmark_aboveBalance",
                 {"height above the balance's level mark", "Höhe über der Höhenmarke der Druckwaage"}, above,
                 {"\\milli\\metre", ""});
}

Words surroundings_words(const std::string& what) {
    constexpr std::pair<const char*, const char*> known[] = {{"air temperature", "Lufttemperatur"},
                                                             {"air pressure", "Luftdruck"},
                                                             {"humidity", "relative Luftfeuchte"},
                                                             {"piston temperature", "Kolbentemperatur"}};
    for (const auto& [en, de] : known)
        if (what == en) return {en, de};
    return {what, what};
}

void surroundings(const Scribe& scribe, pugi::xml_node list, const std::vector<SurroundingsSpan>& spans) {
    for (const SurroundingsSpan& one : spans) {
        pugi::xml_node node = influence(scribe, list, surroundings_words(one.what));
        if (!one.stated)
            scribe.words(node, "dcc:description",
                         {"nobody stated it; the usual value of the bench file was taken",
                          "niemand gab es an; es wurde der übliche Wert der Prüfplatzdatei genommen"});
        pugi::xml_node data = Scribe::element(node, "dcc:data");
        const DigitalUnit unit{surroundings_unit(one.unit), ""};
        add_quantity(scribe, data, "stillmark_least", {"least", "kleinster Wert"}, one.least, unit, one.expanded);
        add_quantity(scribe, data, "stillmark_greatest", {"greatest", "größter Wert"}, one.greatest, unit,
                     one.expanded);
        if (data.first_child().empty()) scribe.words(data, "dcc:text", {"not stated", "nicht angegeben"});
    }
}

void conditions(const Scribe& scribe, pugi::xml_node parent, const Certificate& certificate, const Results& results) {
    pugi::xml_node list = Scribe::element(parent, "dcc:influenceConditions");
    // "As found" says nothing of an adjustment unless there are results after one.
    const char* status = results.condition == "after adjustment" ? "afterAdjustment" : nullptr;
    if (certificate.results.size() > 1 && results.condition == "as found") status = "beforeAdjustment";
    if (certificate.results.size() > 1 && results.condition == "as left") status = "afterAdjustment";
    pugi::xml_node condition = influence(scribe, list, {"condition of the instrument", "Zustand des Geräts"});
    if (status != nullptr) Scribe::leaf(condition, "dcc:status", status);
    scribe.words(Scribe::element(condition, "dcc:data"), "dcc:text", condition_words(results.condition));
    stated(scribe, list, {"mounting", "Einbaulage"}, certificate.item.mounting);
    level(scribe, list, certificate.item);
    stated(scribe, list, {"pressure medium of the balance", "Druckmedium der Druckwaage"}, certificate.fluid);
    surroundings(scribe, list, certificate.surroundings);
}

const char* conformity(metrology::Verdict verdict) {
    switch (verdict) {
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

void notes(const Scribe& scribe, pugi::xml_node list, const char* ref_type,
           const std::vector<metrology::Sentence>& sentences) {
    for (const auto& one : sentences)
        scribe.words(Scribe::element(list, "dcc:metaData", nullptr, ref_type), "dcc:declaration", in_words(one));
}

/// "leak: ... (passed)", with who went on all the same.
Words check_said(const CheckDone& one) {
    const auto in = [&one](Language language, const Words& passed, const Words& failed, const Words& waived) {
        const records::Words& words = records::Words::of(language);
        const auto pick = [language](const Words& of) { return language == Language::german ? of.de : of.en; };
        std::string said =
            words.named("check", one.check) + ": " + words(one.words) + " (" + pick(one.passed ? passed : failed) + ")";
        if (!one.waived_because.empty()) said += "; " + pick(waived) + " " + one.waived_by + ": " + one.waived_because;
        return said;
    };
    const Words passed{"passed", "bestanden"}, failed{"not passed", "nicht bestanden"},
        waived{"waived by", "erlassen durch"};
    return {in(Language::english, passed, failed, waived), in(Language::german, passed, failed, waived)};
}

void meta_data(const Scribe& scribe, pugi::xml_node parent, const Results& results, const std::string& unit) {
    pugi::xml_node list = Scribe::element(parent, "dcc:measurementMetaData");
    if (results.verdict || !results.specification.empty()) {
        pugi::xml_node node = Scribe::element(list, "dcc:metaData", nullptr, "stillmark_conformity");
        const Words specification = results.specification.empty() ? Words{"-", "-"} : in_words(results.specification);
        Words words{"permissible error: " + specification.en, "zulässige Abweichung: " + specification.de};
        if (results.decision) {
            words.en += "; decision rule: " + results.decision_words;
            words.de += "; Entscheidungsregel: " +
                        decision_words(*results.decision, records::Words::of(records::Language::german), unit);
        }
        if (!results.verdict_covers.empty()) {
            const Words covers = in_words(results.verdict_covers);
            words.en += "; the statement covers: " + covers.en;
            words.de += "; die Aussage umfasst: " + covers.de;
        }
        if (!results.verdict) {
            words.en += "; no statement of conformity is made";
            words.de += "; es wird keine Aussage zur Konformität gemacht";
        }
        scribe.words(node, "dcc:declaration", words);
        if (results.verdict) Scribe::leaf(node, "dcc:conformity", conformity(*results.verdict));
    }
    for (const CheckDone& one : results.checks)
        scribe.words(Scribe::element(list, "dcc:metaData", nullptr, "stillmark_check"), "dcc:declaration",
                     check_said(one));
    if (results.not_compared)
        scribe.words(Scribe::element(list, "dcc:metaData", nullptr, "stillmark_methodNotCompared"), "dcc:declaration",
                     {records::Words::of(Language::english)("not compared"),
                      records::Words::of(Language::german)("not compared")});
    notes(scribe, list, "stillmark_unsaid", results.unsaid);
    notes(scribe, list, "stillmark_finding", results.findings);
    notes(scribe, list, "stillmark_leftOut", results.left_out);
    if (list.first_child().empty()) parent.remove_child(list);
}

} // namespace

void add_measurement_results(const Scribe& scribe, pugi::xml_node root, const Certificate& certificate) {
    pugi::xml_node list = Scribe::element(root, "dcc:measurementResults");
    const DigitalUnit unit = pressure_unit(certificate.unit);
    // The schema wants one; a certificate without a run has none to tell of.
    const std::vector<Results> nothing(1);
    for (const Results& results : certificate.results.empty() ? nothing : certificate.results) {
        pugi::xml_node node = Scribe::element(list, "dcc:measurementResult");
        const Words condition = condition_words(results.condition);
        scribe.words(node, "dcc:name",
                     {fmt::format("Results of run {}, {}", results.run, condition.en),
                      fmt::format("Ergebnisse des Laufs {}, {}", results.run, condition.de)});
        methods(scribe, node, certificate, results);
        standards(scribe, node, certificate);
        conditions(scribe, node, certificate, results);
        add_results(scribe, node, results, unit);
        meta_data(scribe, node, results, certificate.unit.symbol);
    }
}

} // namespace stillmark::records::digital
