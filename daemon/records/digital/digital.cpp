#include "daemon/records/digital/digital.hpp"

#include "daemon/bench/standards.hpp"
#include "daemon/records/digital/sections.hpp"

#include <fmt/format.h>

#include <cmath>
#include <pugixml.hpp>
#include <sstream>

namespace stillmark::records {

namespace {

bool two_letters(const std::string& country) {
    return country.size() == 2 && country[0] >= 'A' && country[0] <= 'Z' && country[1] >= 'A' && country[1] <= 'Z';
}

/// A figure that the schema takes for an expanded uncertainty, with a coverage factor.
std::string wrong_uncertainty(const Figure& expanded, double k, const std::string& where) {
    if (!expanded.there()) return {};
    if (expanded.text.front() == '-' && expanded.text != "-")
        return fmt::format("{}: the expanded uncertainty is {}; it cannot be negative", where, expanded.text);
    if (!(k >= 1) || !std::isfinite(k))
        return fmt::format("{}: the coverage factor is {}; a digital certificate takes 1 or more", where, k);
    return {};
}

/// What the schema asks for and is not there, or nothing. Keys are those of the bench file.
std::string missing(const Certificate& one) {
    if (one.number.empty()) return "certificate: it has no number; give it one";
    if (one.laboratory.name.empty()) return "laboratory: not stated; give the laboratory's name in the bench file";
    if (!two_letters(one.laboratory.country))
        return fmt::format(
            "records.country: found \"{}\"; give the two letters of the laboratory's country (ISO 3166-1), "
            "such as \"DE\", in the bench file: a digital certificate must state it",
            one.laboratory.country);
    if (!one.draft && one.customer.name.empty())
        return "customer: no name is stated; give it with stillmark particulars RUN --customer NAME";
    if (!one.customer.country.empty() && !two_letters(one.customer.country))
        return fmt::format("customer: found the country \"{}\"; give the two letters of ISO 3166-1, or none",
                           one.customer.country);
    if (one.item.name.empty()) return "item: the instrument has no name; give it one in the bench file";
    if (!one.received.empty() && !bench::utc_us_of_date(one.received))
        return fmt::format("received: found \"{}\"; give a date such as 2026-09-14", one.received);
    if (one.unit.symbol.empty() || !(one.unit.pascals > 0))
        return "item: the instrument has no unit of pressure; give it one in the bench file";
    if (!one.draft && one.signatories.empty())
        return fmt::format("certificate {}: signed, but nobody stands under it; have it signed anew", one.number);
    return {};
}

std::string wrong_figure(const Certificate& one) {
    for (const Results& results : one.results) {
        for (const Summary& at : results.points)
            for (const auto& [direction, basis] : bases_of(at))
                if (auto why =
                        wrong_uncertainty(basis->expanded, basis->k.value,
                                          fmt::format("run {}, point {}, {}", results.run, at.target, direction));
                    !why.empty())
                    return why;
    }
    for (const SurroundingsSpan& span : one.surroundings)
        if (auto why = wrong_uncertainty(span.expanded, 2, span.what); !why.empty()) return why;
    return {};
}

} // namespace

RecordResult<std::string> dcc_xml(const Certificate& certificate) {
    if (auto why = missing(certificate); !why.empty()) return RecordError{std::move(why)};
    if (auto why = wrong_figure(certificate); !why.empty()) return RecordError{std::move(why)};
    pugi::xml_document document;
    pugi::xml_node declaration = document.append_child(pugi::node_declaration);
    declaration.append_attribute("version").set_value("1.0");
    declaration.append_attribute("encoding").set_value("UTF-8");
    pugi::xml_node root = document.append_child("dcc:digitalCalibrationCertificate");
    root.append_attribute("xmlns:dcc").set_value("https://ptb.de/dcc");
    root.append_attribute("xmlns:si").set_value("https://ptb.de/si");
    root.append_attribute("schemaVersion").set_value("3.1.2");
    const digital::Scribe scribe(certificate.language);
    digital::add_administrative_data(scribe, root, certificate);
    digital::add_measurement_results(scribe, root, certificate);
    std::ostringstream out;
    // Texts were escaped when they went in: pugixml would leave a carriage return to become an end of line.
    document.save(out, "  ", pugi::format_indent | pugi::format_no_escapes, pugi::encoding_utf8);
    return {boost::system::in_place_value, out.str()};
}

} // namespace stillmark::records
