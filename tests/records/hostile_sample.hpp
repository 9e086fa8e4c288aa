#pragma once

#include "records/sample.hpp"

#include <string>
#include <vector>

namespace sample {

/// Texts that break what is written carelessly: scripts, what XML, CSV and spreadsheets take for their own, bytes that
/// are no UTF-8, and 500 characters.
inline std::vector<std::string> hostile_texts() {
    using namespace std::string_literals;
    std::string long_name;
    for (int i = 0; i < 500; ++i)
        long_name += i % 7 == 6 ? "\xE5\x9C\xA7" : "x"; // pressure, in Chinese
    return {
        "Ωμέγα Кавказ עברית العربية 圧力計 압력 กรุงเทพ हिन्दी "
        "🙂 "
        "e\xCC\x81",
        "<a b=\"c\">&amp; ' ]]> <!-- --> <?x?>",
        "=HYPERLINK(\"http://invalid\",\"x\")",
        "+1,2;\"3\"",
        "-cmd|' /C calc'!A0",
        "@SUM(A1:A9)",
        "\t=1+1",
        "line one\r\nline two\rline three\nline four",
        "nul \0 bell \a escape \x1b[31m unit separator \x1f"s,
        "no UTF-8: \xff\xfe \xc3 \xed\xa0\x80 \xf5\x80\x80\x80 \xc0\xaf \xe2\x82",
        "no characters: \xEF\xBF\xBE \xEF\xBF\xBF",
        "  blanks at both ends  ",
        std::move(long_name),
    };
}

/// A certificate with those texts wherever people write.
inline records::Certificate hostile_certificate() {
    records::Certificate one = certificate(5);
    const std::vector<std::string> texts = hostile_texts();
    std::size_t next = 0;
    const auto take = [&](std::string& to) { to = texts[next++ % texts.size()]; };
    for (std::string* to : {&one.number,          &one.replaces,      &one.amended_because,
                            &one.laboratory.name, &one.accreditation, &one.customer.name,
                            &one.order,           &one.place,         &one.procedure,
                            &one.remark,          &one.item.name,     &one.item.maker,
                            &one.item.model,      &one.item.serial,   &one.item.asset,
                            &one.item.condition,  &one.item.mounting, &one.item.reference_mark,
                            &one.balance,         &one.fluid})
        take(*to);
    for (auto* party : {&one.laboratory, &one.customer})
        for (auto& line : party->lines)
            take(line);
    for (auto& standard : one.standards)
        for (std::string* to : {&standard.what, &standard.name, &standard.serial, &standard.certificate,
                                &standard.issued_by, &standard.traceable_to, &standard.allowed_because})
            take(*to);
    for (auto& results : one.results) {
        for (std::string* to : {&results.run, &results.condition, &results.sequence, &results.method,
                                &results.method_edition, &results.decision_words})
            take(*to);
        results.specification = metrology::as_it_is(texts[next++ % texts.size()]);
        for (const std::string& text : texts)
            results.unsaid.push_back(metrology::as_it_is(text));
        results.departures = results.findings = results.left_out = results.unsaid;
        for (auto& way : results.tables) {
            take(way.range);
            for (auto& row : way.rows) {
                take(row.target);
                take(row.accepted_by);
                take(row.accepted_because);
                row.flags = texts;
            }
        }
        for (auto& at : results.points)
            take(at.target);
        for (auto& check : results.checks)
            check.words = metrology::as_it_is(texts[next++ % texts.size()]);
    }
    for (auto& signatory : one.signatories)
        take(signatory.name);
    for (const std::string& text : texts) {
        const bench::Gate gate{bench::GateCode::characters_not_printable,
                               text,
                               text,
                               metrology::sentence("{name}", {metrology::text_value("name", text)}),
                               metrology::sentence("{name}", {metrology::text_value("name", text)}),
                               true};
        one.lacking.push_back(gate);
        one.overridden.push_back({gate, text, text, 0});
    }
    return one;
}

} // namespace sample
