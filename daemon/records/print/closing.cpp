#include "daemon/records/print/blocks.hpp"
#include "daemon/records/print/parts.hpp"
#include "daemon/records/print/qr.hpp"
#include "daemon/records/print/table.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace stillmark::records::print {

namespace {

constexpr Style statement_style{table_size, false, 0};

bool any_row(const Certificate& one, const auto& asked) {
    for (const Results& results : one.results)
        for (const Table& table : results.tables)
            if (std::ranges::any_of(table.rows, asked)) return true;
    return false;
}
bool any_point(const Certificate& one, const auto& asked) {
    return std::ranges::any_of(one.results,
                               [&](const Results& results) { return std::ranges::any_of(results.points, asked); });
}

/// Only what concerns this certificate.
Flow statements(const Desk& desk) {
    const Words& words = desk.words;
    const Certificate& one = desk.certificate;
    std::vector<std::string> said = {words("says deviation")};
    if (any_row(one, [](const Row& row) { return row.untapped.there(); })) said.push_back(words("says tapped"));
    said.push_back(words("says uncertainty"));
    if (any_point(one, [](const Summary& at) {
            return (at.rising && at.rising->permissible.there()) || (at.falling && at.falling->permissible.there());
        }))
        said.push_back(words("says basis"));
    if (any_point(one, [](const Summary& at) { return at.error_span.there(); }))
        said.push_back(words("says error span"));
    if (any_row(one, [](const Row& row) { return row.status == "sighted"; })) said.push_back(words("says sighted"));
    said.push_back(words("says only item"));
    said.push_back(words("says customer"));
    said.push_back(words("says reproduction"));
    if (one.language != Language::english) said.push_back(words("says written"));
    if (!desk.type.without_font().empty()) {
        std::string codes;
        constexpr std::size_t most = 8;
        std::size_t count = 0;
        for (const char32_t c : desk.type.without_font()) {
            if (++count > most) break;
            codes += fmt::format("{}U+{:04X}", count == 1 ? "" : ", ", static_cast<std::uint32_t>(c));
        }
        said.push_back(words("says codes", {{"codes", count > most ? codes + ", \u2026" : codes}}));
    }
    Flow flow = heading(desk.type, words("statements"), desk.width);
    for (const std::string& text : said)
        append(flow, paragraph(desk.type, text, statement_style, desk.width, 1));
    return flow;
}

Flow overridden(const Desk& desk) {
    if (desk.certificate.overridden.empty()) return {};
    Flow flow = heading(desk.type, desk.words("overridden"), desk.width);
    for (const Overridden& one : desk.certificate.overridden)
        append(flow, paragraph(desk.type,
                               "\u2013 " + desk.words("overridden by", {{"found", desk.words(one.gate.found)},
                                                                        {"by", one.by},
                                                                        {"date", date(desk, one.utc_us)},
                                                                        {"because", one.because}}),
                               {}, desk.width));
    return flow;
}

Flow signatories(const Desk& desk) {
    const Words& words = desk.words;
    std::vector<TableRow> rows;
    bool reviewed = false;
    for (const Signatory& one : desk.certificate.signatories) {
        reviewed = reviewed || one.role == "reviewer";
        rows.push_back({{words.named("role", one.role), one.name, instant(desk, one.utc_us),
                         words(one.logged_in ? "identity checked" : "identity stated")},
                        ""});
    }
    if (!reviewed) rows.push_back({{words.named("role", "reviewer"), words("not signed"), "", ""}, ""});
    Flow flow = heading(desk.type, words("signatures"), desk.width, false);
    append(flow, kept(table(desk.type, {{words("role")}, {words("name")}, {words("time")}, {words("identity")}}, rows,
                            desk.width, words("continued"))));
    flow.back().with_next = false;
    return flow;
}

RecordResult<Flow> proof(const Desk& desk) {
    const Words& words = desk.words;
    const Certificate& one = desk.certificate;
    const Proof& proof = one.proof;
    const bool sealed =
        !one.draft && !proof.key_fingerprint.empty() && !proof.xml_sha256.empty() && !proof.code_signature.empty();
    std::optional<Strip> code;
    if (sealed) {
        auto made = qr_code(qr_text(one));
        if (!made) return made.error();
        code = *std::move(made);
    }
    const double width = code ? desk.width - code->height - 8 : desk.width;
    constexpr double label = 94;
    Flow flow;
    Flow beside = heading(desk.type, words("evidence"), width);
    append(beside,
           definitions(desk.type,
                       {{words("digest of the digital"), proof.xml_sha256},
                        {words("key"), proof.key_fingerprint},
                        {words("journal"), words("journal up to", {{"number", std::to_string(proof.journal_number)}})},
                        {words("journal digest"), proof.journal_digest},
                        {words("bench revision"), proof.bench_revision},
                        {words("program"), proof.build.empty() ? "" : "stillmark " + proof.build}},
                       width, label, table_size));
    append(beside, paragraph(desk.type, words(sealed ? "how to check" : "not sealed"), statement_style, width, 2));
    if (code)
        beside_fixed(flow, std::move(beside), *code, desk.width - code->height);
    else
        append(flow, std::move(beside));
    flow.back().with_next = true; // the end mark does not stand alone
    return flow;
}

Flow end_mark(const Desk& desk) {
    Flow flow{rule(desk.width, 5, 2)};
    flow.back().with_next = true;
    append(flow, paragraph(desk.type, desk.words("end", {{"number", desk.certificate.number}}), {Style{}.size, true, 0},
                           desk.width));
    return flow;
}

} // namespace

RecordResult<Flow> closing(const Desk& desk) {
    // What the fonts lack is told last of all that is set, and stands before.
    auto evidence = proof(desk);
    if (!evidence) return evidence.error();
    Flow names = signatories(desk), end = end_mark(desk);
    Flow flow = overridden(desk);
    append(flow, statements(desk));
    append(flow, std::move(names));
    append(flow, *std::move(evidence));
    append(flow, std::move(end));
    return flow;
}

} // namespace stillmark::records::print
