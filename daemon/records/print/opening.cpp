#include "daemon/records/print/blocks.hpp"
#include "daemon/records/print/logo.hpp"
#include "daemon/records/print/parts.hpp"
#include "daemon/records/print/table.hpp"

#include <algorithm>

namespace stillmark::records::print {

namespace {

std::string country_words(const std::string& country) {
    return country.empty() ? std::string() : " (" + country + ")";
}

std::string with_unit(const Desk& desk, const std::string& digits) {
    return digits.empty() ? std::string() : desk.words.number(digits) + " " + desk.certificate.unit.symbol;
}

RecordResult<Flow> letterhead(const Desk& desk) {
    const Certificate& one = desk.certificate;
    constexpr double logo_width = 50 * points_of_a_mm, logo_height = 17 * points_of_a_mm;
    const double words_width = one.logo.empty() ? desk.width : desk.width - logo_width - between_columns;
    Flow words = paragraph(desk.type, one.laboratory.name, {11, true, 0}, words_width);
    const std::string address = joined(one.laboratory.lines, ", ") + country_words(one.laboratory.country);
    append(words, paragraph(desk.type, joined({address, one.laboratory.email}, ", "), {}, words_width));
    if (!one.accreditation.empty()) append(words, paragraph(desk.type, one.accreditation, {}, words_width));
    if (one.logo.empty()) return words;
    const auto picture = logo(one.logo, logo_width, logo_height);
    if (!picture) return picture.error();
    Flow flow;
    beside_fixed(flow, std::move(words), *picture, desk.width - logo_width);
    return flow;
}

Flow title(const Desk& desk) {
    const Certificate& one = desk.certificate;
    Flow flow = paragraph(desk.type, desk.words("certificate") + "  " + one.number, {16, true, 0}, desk.width, 8);
    if (one.draft)
        append(flow, paragraph(desk.type, desk.words("draft long", {{"edition", std::to_string(one.edition)}}),
                               {Style{}.size, true, 0}, desk.width, 2));
    if (one.draft && !one.lacking.empty()) {
        append(flow, kept(paragraph(desk.type, desk.words("lacking"), {}, desk.width, 2)));
        for (const bench::Gate& gate : one.lacking)
            append(flow, paragraph(desk.type, "\u2013 " + desk.words(gate.found) + ": " + desk.words(gate.remedy), {},
                                   desk.width));
    }
    if (!one.replaces.empty())
        append(flow, paragraph(desk.type,
                               desk.words("replaces", {{"number", one.replaces}, {"because", one.amended_because}}), {},
                               desk.width, 2));
    return flow;
}

Pairs item_pairs(const Desk& desk) {
    const Words& words = desk.words;
    const Item& item = desk.certificate.item;
    std::string kind = words("gauge pressure");
    if (item.counted_from == metrology::PressureKind::absolute) kind = words("absolute pressure");
    if (item.counted_from == metrology::PressureKind::sealed) kind = words("sealed pressure");
    std::string span;
    if (!item.span_low.empty() || !item.span_high.empty())
        span = words("from to", {{"from", with_unit(desk, item.span_low)}, {"to", with_unit(desk, item.span_high)}});
    std::string resolution = with_unit(desk, item.resolution);
    if (item.dial && !resolution.empty()) resolution += ", " + words("estimated");
    return {{words("instrument"), item.name},
            {words("maker"), item.maker},
            {words("model"), item.model},
            {words("serial"), item.serial},
            {words("customer mark"), item.asset},
            {words("span"), span},
            {words("resolution"), resolution},
            {words("kind of pressure"), kind},
            {words("item condition"), item.condition},
            {words("mounting"), item.mounting}};
}

Pairs customer_pairs(const Desk& desk) {
    const Words& words = desk.words;
    const Certificate& one = desk.certificate;
    std::string performed;
    if (!one.results.empty()) {
        const auto first = std::ranges::min(one.results, {}, &Results::begin_utc_us).begin_utc_us;
        const auto last = std::ranges::max(one.results, {}, &Results::end_utc_us).end_utc_us;
        performed = date(desk, first);
        if (date(desk, last) != performed)
            performed = words("from to", {{"from", performed}, {"to", date(desk, last)}});
    }
    return {{words("customer"), one.customer.name},
            {words("address"), joined(one.customer.lines, ", ") + country_words(one.customer.country)},
            {words("contact"), one.customer.email},
            {words("order"), one.order},
            {words("received"), one.received},
            {words("performed"), performed},
            {words("place"), one.place.empty() ? words("at the laboratory") : one.place},
            {words(one.draft ? "drafted" : "issued"), date(desk, one.issued_utc_us)}};
}

/// Result and uncertainty at a glance.
Flow in_brief(const Desk& desk) {
    const Words& words = desk.words;
    std::vector<TableRow> rows;
    for (const Results& one : desk.certificate.results)
        rows.push_back({{words.named("condition", one.condition), verdict_words(one.verdict, words),
                         words(one.specification), words.number(one.largest_deviation.text),
                         words.number(largest_uncertainty(one).text), words.number(one.zero_deviation.text),
                         words.number(one.largest_hysteresis.text), words.number(one.largest_repeatability.text)},
                        "",
                        true});
    if (rows.empty()) return {};
    Flow flow = heading(desk.type, words("in brief", {{"unit", desk.certificate.unit.symbol}}), desk.width, false);
    append(flow, kept(table(desk.type,
                            {{words("results")},
                             {words("conformity")},
                             {words("permissible error")},
                             {words("largest deviation"), true},
                             {words("largest uncertainty"), true},
                             {words("zero deviation"), true},
                             {words("largest hysteresis"), true},
                             {words("largest repeatability"), true}},
                            rows, desk.width, words("continued"))));
    return flow;
}

std::string surroundings_words(const Desk& desk, const SurroundingsSpan& span) {
    const Words& words = desk.words;
    const std::string& unit = words.named("unit", span.unit);
    const auto in_unit = [&](const Figure& figure) { return words.number(figure.text) + " " + unit; };
    std::string said = in_unit(span.least);
    if (span.greatest.there() && span.greatest.text != span.least.text)
        said = words("from to", {{"from", said}, {"to", in_unit(span.greatest)}});
    if (span.expanded.there()) said += ", U = " + in_unit(span.expanded);
    if (!span.stated) said += "; " + words("usual value");
    return said;
}

/// The level of the instrument against the balance's: a difference of zero is neither above nor below.
std::string level_words(const Desk& desk) {
    const Item& item = desk.certificate.item;
    if (item.above_balance_mm.empty()) return {};
    const bool below = item.above_balance_mm.starts_with('-');
    const bool none = item.above_balance_mm.find_first_of("123456789") == std::string::npos;
    const std::string digits = below ? item.above_balance_mm.substr(1) : item.above_balance_mm;
    return desk.words(none    ? "level same"
                      : below ? "level below"
                              : "level above",
                      {{"mm", desk.words.number(digits)}, {"mark", item.balance_level_mark}});
}

Flow standards(const Desk& desk) {
    const Words& words = desk.words;
    std::vector<TableRow> rows;
    std::vector<std::string> remarks;
    for (const StandardUsed& one : desk.certificate.standards) {
        const std::string what = words.named("standard", one.what);
        rows.push_back({{one.name.empty() ? what : what + ": " + one.name, one.serial, one.certificate, one.issued_by,
                         one.issued, one.valid_until, one.traceable_to},
                        ""});
        if (!one.allowed_because.empty())
            remarks.push_back(words("expired standard", {{"what", what}, {"because", one.allowed_because}}));
    }
    Flow flow = heading(desk.type, words("traceability"), desk.width);
    append(flow, paragraph(desk.type, words(rows.empty() ? "no standards" : "traceable"), {}, desk.width));
    append(flow, table(desk.type,
                       {{words("standard")},
                        {words("serial")},
                        {words("its certificate")},
                        {words("issued by")},
                        {words("issued")},
                        {words("valid until")},
                        {words("traceable to")}},
                       rows, desk.width, words("continued")));
    for (const std::string& remark : remarks)
        append(flow, paragraph(desk.type, remark, {table_size, false, 0}, desk.width));
    return flow;
}

} // namespace

RecordResult<Flow> opening(const Desk& desk) {
    auto head = letterhead(desk);
    if (!head) return head.error();
    Flow flow = *std::move(head);
    append(flow, title(desk));
    const double half = (desk.width - between_columns) / 2;
    Flow left = heading(desk.type, desk.words("item"), half);
    append(left, definitions(desk.type, item_pairs(desk), half));
    Flow right = heading(desk.type, desk.words("customer and dates"), half);
    append(right, definitions(desk.type, customer_pairs(desk), half));
    append(flow, beside(left, right, half + between_columns));
    append(flow, in_brief(desk));
    return flow;
}

Flow conditions(const Desk& desk) {
    const Words& words = desk.words;
    const Certificate& one = desk.certificate;
    const double half = (desk.width - between_columns) / 2;
    const Unit& unit = one.unit;
    std::vector<std::string> ranges;
    for (const std::string& range : one.ranges)
        ranges.push_back(range_words(range, words));
    Flow left = heading(desk.type, words("method"), half);
    append(left, definitions(desk.type,
                             {{words("procedure"), one.procedure},
                              {words("principle"), words("comparison")},
                              {words("balance"), one.balance},
                              {words("ranges"), joined(ranges, ", ")},
                              {words("fluid"), one.fluid},
                              {words("unit"), words("unit of", {{"symbol", unit.symbol},
                                                                {"pascals", words.number(unit.pascals_text)}})}},
                             half));
    Flow right = heading(desk.type, words("conditions"), half);
    Pairs pairs = {{words("stated at"), one.item.reference_mark}, {words("level"), level_words(desk)}};
    for (const SurroundingsSpan& span : one.surroundings)
        pairs.emplace_back(words.named("surroundings", span.what), surroundings_words(desk, span));
    append(right, definitions(desk.type, pairs, half));
    Flow flow = beside(left, right, half + between_columns);
    append(flow, standards(desk));
    if (!one.remark.empty())
        append(flow, paragraph(desk.type, words("remark", {{"words", one.remark}}), {}, desk.width, 4));
    return flow;
}

} // namespace stillmark::records::print
