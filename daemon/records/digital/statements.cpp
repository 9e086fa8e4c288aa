#include "daemon/records/digital/sections.hpp"
#include "daemon/records/figure_text.hpp"

#include <fmt/format.h>

namespace stillmark::records::digital {

namespace {

pugi::xml_node statement(pugi::xml_node list, const char* id) {
    return Scribe::element(list, "dcc:statement", id);
}

/// What was found, in words of both languages.
Words in_each(const char* english, const char* german, const bench::Gate& gate,
              std::vector<metrology::Sentence::Value> values) {
    values.push_back(metrology::words_value("found", gate.found));
    values.push_back(metrology::words_value("remedy", gate.remedy));
    return {in_words({english, values}).en, in_words({german, values}).de};
}

void traceability(const Scribe& scribe, pugi::xml_node list, const Certificate& certificate) {
    bool all = !certificate.standards.empty();
    for (const StandardUsed& one : certificate.standards)
        all = all && !one.certificate.empty() && !one.traceable_to.empty();
    pugi::xml_node node = statement(list, "traceability");
    // Nothing is claimed where the laboratory did not state it of every standard.
    if (all) Scribe::leaf(node, "dcc:traceable", "true");
    scribe.words(
        node, "dcc:declaration",
        {"Each standard is named with its certificate, and with what that is traceable to where the laboratory "
         "states it.",
         "Jedes Normal steht mit seinem Schein da, und mit dem, worauf dieser rückgeführt ist, wo das "
         "Laboratorium es angibt."});
}

/// A text of the proof that a program finds by its refType.
void proof_text(const Scribe& scribe, pugi::xml_node data, const char* ref_type, const Words& name,
                const std::string& text) {
    if (text.empty()) return;
    pugi::xml_node quantity = Scribe::element(data, "dcc:quantity", nullptr, ref_type);
    scribe.words(quantity, "dcc:name", name);
    Scribe::said(quantity, "dcc:noQuantity", text);
}

void proof(const Scribe& scribe, pugi::xml_node list, const Certificate& certificate) {
    const Proof& all = certificate.proof;
    pugi::xml_node node = statement(list, "proof");
    scribe.words(node, "dcc:declaration",
                 {"What ties this document to the journal of the calibration: everything up to the number has the "
                  "digest.",
                  "Was dieses Dokument mit dem Journal der Kalibrierung verbindet: alles bis zu der Nummer hat die "
                  "Prüfsumme."});
    pugi::xml_node data = Scribe::element(node, "dcc:data");
    proof_text(scribe, data, "stillmark_journalNumber", {"number in the journal", "Nummer im Journal"},
               fmt::format("{}", all.journal_number));
    proof_text(scribe, data, "stillmark_journalDigest", {"digest of the journal", "Prüfsumme des Journals"},
               all.journal_digest);
    proof_text(scribe, data, "stillmark_benchRevision", {"revision of the bench file", "Stand der Prüfplatzdatei"},
               all.bench_revision);
    proof_text(scribe, data, "stillmark_keyFingerprint",
               {"fingerprint of the laboratory's key", "Fingerabdruck des Schlüssels des Laboratoriums"},
               all.key_fingerprint);
}

} // namespace

void add_statements(const Scribe& scribe, pugi::xml_node administrative_data, const Certificate& certificate) {
    pugi::xml_node list = Scribe::element(administrative_data, "dcc:statements");
    const auto declare = [&](const char* id, const Words& words) {
        scribe.words(statement(list, id), "dcc:declaration", words);
    };
    const auto said = [&](const char* id, const Words& before, const std::string& text) {
        if (!text.empty()) declare(id, {before.en + text, before.de + text});
    };
    const std::string issued = date_text(certificate.issued_utc_us);
    if (certificate.draft)
        declare("draft", {fmt::format("Draft {} of {}: not signed, and no certificate.", certificate.edition, issued),
                          fmt::format("Entwurf {} vom {}: nicht unterzeichnet, kein Kalibrierschein.",
                                      certificate.edition, issued)});
    for (std::size_t i = 0; certificate.draft && i < certificate.lacking.size(); ++i)
        declare(fmt::format("lacking{}", i + 1).c_str(),
                in_each("Lacks for a signature: {found}: {remedy}", "Fehlt zur Unterschrift: {found}: {remedy}",
                        certificate.lacking[i], {}));
    for (std::size_t i = 0; i < certificate.overridden.size(); ++i) {
        const Overridden& one = certificate.overridden[i];
        declare(fmt::format("overridden{}", i + 1).c_str(),
                in_each("Finding overridden by {by}: {found}. Reason: {because}",
                        "Befund, über den sich {by} hinweggesetzt hat: {found}. Grund: {because}", one.gate,
                        {metrology::text_value("by", one.by), metrology::text_value("because", one.because)}));
    }
    if (!certificate.draft) declare("issued", {"Issued " + issued + ".", "Ausgestellt am " + issued + "."});
    said("amendment",
         {"Replaces certificate " + certificate.replaces + " because: ",
          "Ersetzt den Schein " + certificate.replaces + ", weil: "},
         certificate.replaces.empty() ? "" : certificate.amended_because);
    said("accreditation", {}, certificate.accreditation);
    said("place", {"Place of the work: ", "Ort der Arbeiten: "}, certificate.place);
    declare("item-only",
            {"The results concern only the instrument named here, in the condition and the surroundings stated.",
             "Die Ergebnisse gelten nur für das hier bezeichnete Gerät, im genannten Zustand und unter den genannten "
             "Bedingungen."});
    declare(
        "uncertainty",
        {"The expanded uncertainty stated is the standard uncertainty multiplied by the coverage factor k that stands "
         "beside it: Student's t for the effective degrees of freedom and a coverage probability of 95.45 % "
         "(JCGM 100:2008, G.3). It is never below the capability that the laboratory states; where that decides, k is "
         "2.",
         "Die angegebene erweiterte Messunsicherheit ist die Standardunsicherheit, multipliziert mit dem "
         "danebenstehenden Erweiterungsfaktor k: dem Wert von Student für die effektiven Freiheitsgrade und eine "
         "Überdeckungswahrscheinlichkeit von 95,45 % (JCGM 100:2008, G.3). Sie liegt nie unter der Messmöglichkeit, "
         "die "
         "das Laboratorium angibt; wo diese entscheidet, ist k gleich 2."});
    traceability(scribe, list, certificate);
    const DigitalUnit unit = pressure_unit(certificate.unit);
    if (!unit.pascals.empty()) {
        pugi::xml_node node = statement(list, "unit");
        scribe.words(
            node, "dcc:declaration",
            {fmt::format("Figures are rounded in {0}; those in pascals are the rounded ones times {1}, exactly, "
                         "so that not each of their digits is significant.",
                         certificate.unit.symbol, unit.pascals),
             fmt::format("Gerundet ist in {0}; die Werte in Pascal sind genau die gerundeten mal {1}, sodass nicht "
                         "jede ihrer Ziffern bedeutsam ist.",
                         certificate.unit.symbol, unit.pascals)});
        Scribe::leaf(node, "dcc:nonSIDefinition", fmt::format("1 {} = {} Pa", certificate.unit.symbol, unit.pascals));
        Scribe::leaf(node, "dcc:nonSIUnit", certificate.unit.symbol);
    }
    said("remark", {}, certificate.remark);
    proof(scribe, list, certificate);
}

} // namespace stillmark::records::digital
