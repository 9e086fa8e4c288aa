#include "daemon/records/digital/sections.hpp"
#include "daemon/records/figure_text.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace stillmark::records::digital {

namespace {

const Words not_stated{"not stated", "nicht angegeben"};

void identification(const Scribe& scribe, pugi::xml_node list, const char* issuer, const std::string& value,
                    const Words& name) {
    pugi::xml_node one = Scribe::element(list, "dcc:identification");
    Scribe::leaf(one, "dcc:issuer", issuer);
    Scribe::leaf(one, "dcc:value", value);
    scribe.words(one, "dcc:name", name);
}

void said_or_not(const Scribe& scribe, pugi::xml_node parent, const char* tag, const std::string& text) {
    if (text.empty())
        scribe.words(parent, tag, not_stated);
    else
        Scribe::said(parent, tag, text);
}

void contact(const Scribe& scribe, pugi::xml_node parent, const char* tag, const Party& party) {
    pugi::xml_node one = Scribe::element(parent, tag);
    said_or_not(scribe, one, "dcc:name", party.name);
    Scribe::leaf(one, "dcc:eMail", party.email);
    pugi::xml_node location = Scribe::element(one, "dcc:location");
    if (!party.country.empty()) Scribe::leaf(location, "dcc:countryCode", party.country);
    if (!party.lines.empty()) Scribe::said(location, "dcc:further", party.lines);
    if (party.country.empty() && party.lines.empty()) scribe.words(location, "dcc:further", not_stated);
}

void software(const Scribe& scribe, pugi::xml_node parent, const Certificate& certificate) {
    pugi::xml_node one = Scribe::element(Scribe::element(parent, "dcc:dccSoftware"), "dcc:software");
    Scribe::said(one, "dcc:name", "stillmark");
    Scribe::leaf(one, "dcc:release", certificate.proof.build.empty() ? "-" : certificate.proof.build);
    Scribe::leaf(one, "dcc:type", "application");
    scribe.words(
        one, "dcc:description",
        {"read the instruments, decided which readings count, evaluated them and wrote this document",
         "las die Geräte ab, entschied, welche Ablesungen zählen, wertete sie aus und schrieb dieses Dokument"});
}

void core_data(const Scribe& scribe, pugi::xml_node parent, const Certificate& certificate) {
    pugi::xml_node core = Scribe::element(parent, "dcc:coreData");
    Scribe::leaf(core, "dcc:countryCodeISO3166_1", certificate.laboratory.country);
    Scribe::leaf(core, "dcc:usedLangCodeISO639_1", code(certificate.language));
    if (certificate.language != Language::english) Scribe::leaf(core, "dcc:usedLangCodeISO639_1", "en");
    Scribe::leaf(core, "dcc:mandatoryLangCodeISO639_1", code(certificate.language));
    Scribe::leaf(core, "dcc:uniqueIdentifier", identifier_of(certificate));
    if (!certificate.order.empty())
        identification(scribe, Scribe::element(core, "dcc:identifications"), "customer", certificate.order,
                       {"order", "Auftrag"});
    if (!certificate.received.empty()) Scribe::leaf(core, "dcc:receiptDate", certificate.received);
    std::int64_t begin = certificate.issued_utc_us, end = begin;
    for (std::size_t i = 0; i < certificate.results.size(); ++i) {
        begin = i == 0 ? certificate.results[i].begin_utc_us : std::min(begin, certificate.results[i].begin_utc_us);
        end = i == 0 ? certificate.results[i].end_utc_us : std::max(end, certificate.results[i].end_utc_us);
    }
    Scribe::leaf(core, "dcc:beginPerformanceDate", date_text(begin));
    Scribe::leaf(core, "dcc:endPerformanceDate", date_text(std::max(begin, end)));
    Scribe::leaf(core, "dcc:performanceLocation", certificate.place.empty() ? "laboratory" : "other");
    if (certificate.replaces.empty()) return;
    pugi::xml_node previous = Scribe::element(core, "dcc:previousReport");
    scribe.words(previous, "dcc:referral",
                 {"the certificate that this one replaces", "der Schein, den dieser ersetzt"});
    Scribe::leaf(previous, "dcc:referralID", certificate.replaces);
    Scribe::leaf(previous, "dcc:procedure", "none");
    Scribe::leaf(previous, "dcc:value", "");
}

Words pressure_kind(metrology::PressureKind kind) {
    switch (kind) {
    case metrology::PressureKind::absolute:
        return {"absolute pressure", "Absolutdruck"};
    case metrology::PressureKind::sealed:
        return {"pressure from a sealed reference", "Druck gegen eine eingeschlossene Bezugskammer"};
    case metrology::PressureKind::gauge:
        break;
    }
    return {"gauge pressure", "Überdruck"};
}

void item(const Scribe& scribe, pugi::xml_node parent, const Certificate& certificate) {
    const Item& what = certificate.item;
    const std::string& unit = certificate.unit.symbol;
    pugi::xml_node one = Scribe::element(Scribe::element(parent, "dcc:items"), "dcc:item", "item");
    Scribe::said(one, "dcc:name", what.name);
    const Words kind = pressure_kind(what.counted_from);
    Words about{fmt::format("span {} {} to {} {}, {}", what.span_low, unit, what.span_high, unit, kind.en),
                fmt::format("Messspanne {} {} bis {} {}, {}", what.span_low, unit, what.span_high, unit, kind.de)};
    if (!what.resolution.empty()) {
        about.en += fmt::format("; resolution {} {}", what.resolution, unit);
        about.de += fmt::format("; Auflösung {} {}", what.resolution, unit);
    }
    if (what.dial) {
        about.en += "; read by a person, estimated between the divisions, after tapping";
        about.de += "; von einer Person abgelesen, zwischen den Teilstrichen geschätzt, nach dem Klopfen";
    }
    if (!what.condition.empty()) {
        about.en += "; as received: " + what.condition;
        about.de += "; bei Eingang: " + what.condition;
    }
    scribe.words(one, "dcc:description", about);
    pugi::xml_node maker = Scribe::element(one, "dcc:manufacturer");
    said_or_not(scribe, maker, "dcc:name", what.maker);
    if (!what.model.empty()) Scribe::leaf(one, "dcc:model", what.model);
    pugi::xml_node identifications = Scribe::element(one, "dcc:identifications");
    if (!what.serial.empty())
        identification(scribe, identifications, "manufacturer", what.serial, {"serial number", "Seriennummer"});
    if (!what.asset.empty())
        identification(scribe, identifications, "customer", what.asset, {"customer's mark", "Kennzeichen des Kunden"});
    // One must stand there: without another it is the name that the laboratory gave it on its bench.
    if (what.serial.empty() && what.asset.empty())
        identification(scribe, identifications, "calibrationLaboratory", what.name,
                       {"name on the bench", "Name am Prüfplatz"});
}

void people(const Scribe& scribe, pugi::xml_node parent, const Certificate& certificate) {
    pugi::xml_node list = Scribe::element(parent, "dcc:respPersons");
    for (const Signatory& one : certificate.signatories) {
        pugi::xml_node responsible = Scribe::element(list, "dcc:respPerson");
        Scribe::said(Scribe::element(responsible, "dcc:person"), "dcc:name", one.name);
        const std::string at = instant_text(one.utc_us);
        scribe.words(responsible, "dcc:description",
                     one.logged_in
                         ? Words{"by password, " + at, "mit Passwort, " + at}
                         : Words{"as stated, without a password, " + at, "nach Angabe, ohne Passwort, " + at});
        Scribe::leaf(responsible, "dcc:role", one.role);
        Scribe::leaf(responsible, "dcc:mainSigner", !certificate.draft && one.role == "reviewer" ? "true" : "false");
    }
    if (certificate.signatories.empty())
        scribe.words(Scribe::element(Scribe::element(list, "dcc:respPerson"), "dcc:person"), "dcc:name",
                     {"nobody has signed yet", "noch von niemandem unterzeichnet"});
}

} // namespace

std::string identifier_of(const Certificate& certificate) {
    return certificate.draft ? fmt::format("{} (draft {})", certificate.number, certificate.edition)
                             : certificate.number;
}

void add_administrative_data(const Scribe& scribe, pugi::xml_node root, const Certificate& certificate) {
    pugi::xml_node data = Scribe::element(root, "dcc:administrativeData");
    software(scribe, data, certificate);
    core_data(scribe, data, certificate);
    item(scribe, data, certificate);
    contact(scribe, Scribe::element(data, "dcc:calibrationLaboratory"), "dcc:contact", certificate.laboratory);
    people(scribe, data, certificate);
    contact(scribe, data, "dcc:customer", certificate.customer);
    add_statements(scribe, data, certificate);
}

} // namespace stillmark::records::digital
