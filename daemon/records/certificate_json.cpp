#include "daemon/bench/state.hpp"
#include "daemon/bench/written_text.hpp"
#include "daemon/records/basis_figures.hpp"
#include "daemon/records/figure_text.hpp"
#include "daemon/records/gates.hpp"
#include "daemon/records/tables.hpp"

#include <nlohmann/json.hpp>

#include <cmath>

namespace stillmark::records {

namespace {

using nlohmann::json;

json number(double value) {
    return std::isfinite(value) ? json(value) : json(nullptr);
}
json text(const std::string& one) {
    return bench::readable_text(one);
}
json text_or_null(const std::string& one) {
    return one.empty() ? json(nullptr) : text(one);
}
json texts(const std::vector<std::string>& many) {
    json list = json::array();
    for (const auto& one : many)
        list.push_back(text(one));
    return list;
}
/// Sentences in English: one language for programs.
json said(const metrology::Sentence& one) {
    return text(metrology::english(one));
}
json said_or_null(const metrology::Sentence& one) {
    return one.empty() ? json(nullptr) : said(one);
}
json said(const std::vector<metrology::Sentence>& many) {
    json list = json::array();
    for (const auto& one : many)
        list.push_back(said(one));
    return list;
}
json as_json(const Figure& figure) {
    if (!figure.there()) return nullptr;
    return {{"text", text(figure.text)}, {"value", number(figure.value)}};
}
json verdict(const std::optional<metrology::Verdict>& one) {
    return one ? json(metrology::word(*one)) : json(nullptr);
}
json as_json(const Row& row);
json as_json(const Table& way);
json as_json(const Summary& at);
json as_json(const Overlap& one);
json as_json(const CheckDone& one);
json as_json(const Results& results);
json as_json(const StandardUsed& one);
json as_json(const SurroundingsSpan& one);
json as_json(const Signatory& one);
json as_json(const bench::Gate& gate);
json as_json(const Overridden& one);

template <class T>
json list_of(const std::vector<T>& many) {
    json list = json::array();
    for (const T& one : many)
        list.push_back(as_json(one));
    return list;
}

json as_json(const Party& party) {
    return {{"name", text(party.name)},
            {"lines", texts(party.lines)},
            {"country", text_or_null(party.country)},
            {"email", text_or_null(party.email)}};
}

json as_json(const StandardUsed& one) {
    return {{"what", text(one.what)},
            {"name", text_or_null(one.name)},
            {"serial", text_or_null(one.serial)},
            {"certificate", text_or_null(one.certificate)},
            {"issued_by", text_or_null(one.issued_by)},
            {"issued", text_or_null(one.issued)},
            {"valid_until", text_or_null(one.valid_until)},
            {"traceable_to", text_or_null(one.traceable_to)},
            {"allowed_because", text_or_null(one.allowed_because)}};
}

const char* word(metrology::PressureKind kind) {
    switch (kind) {
    case metrology::PressureKind::gauge:
        return "gauge";
    case metrology::PressureKind::absolute:
        return "absolute";
    case metrology::PressureKind::sealed:
        return "sealed";
    }
    return "";
}

json as_json(const Item& item) {
    return {{"name", text(item.name)},
            {"maker", text_or_null(item.maker)},
            {"model", text_or_null(item.model)},
            {"serial", text_or_null(item.serial)},
            {"asset", text_or_null(item.asset)},
            {"condition", text_or_null(item.condition)},
            {"mounting", text_or_null(item.mounting)},
            {"span_low", text(item.span_low)},
            {"span_high", text(item.span_high)},
            {"resolution", text_or_null(item.resolution)},
            {"dial", item.dial},
            {"pressure", word(item.counted_from)},
            {"reference_mark", text_or_null(item.reference_mark)},
            {"above_balance_mm", text_or_null(item.above_balance_mm)},
            {"balance_level_mark", text_or_null(item.balance_level_mark)}};
}

json as_json(const Row& row) {
    return {{"mark", row.mark},
            {"utc_us", row.utc_us},
            {"utc", instant_text(row.utc_us)},
            {"target", text(row.target)},
            {"reference", as_json(row.reference)},
            {"indication", as_json(row.indication)},
            {"untapped", as_json(row.untapped)},
            {"deviation", as_json(row.deviation)},
            {"zero", row.zero},
            {"status", text(row.status)},
            {"accepted_by", text_or_null(row.accepted_by)},
            {"accepted_because", text_or_null(row.accepted_because)},
            {"flags", texts(row.flags)}};
}

json as_json(const Table& way) {
    return {{"range", text_or_null(way.range)},
            {"direction", bench::word(way.direction)},
            {"series", way.series},
            {"rows", list_of(way.rows)}};
}

json as_json(const std::optional<Basis>& one) {
    if (!one) return nullptr;
    return {{"deviation", as_json(one->deviation)},
            {"expanded", as_json(one->expanded)},
            {"k", as_json(one->k)},
            {"dof", as_json(one->dof)},
            {"permissible", as_json(one->permissible)},
            {"acceptance", as_json(one->acceptance)},
            {"outside_percent", as_json(one->outside)},
            {"at_capability", one->at_capability},
            {"contains", texts(one->contains)},
            {"verdict", verdict(one->verdict)}};
}

json as_json(const Summary& at) {
    return {{"target", text(at.target)},
            {"reference", as_json(at.reference)},
            {"rising", as_json(at.rising)},
            {"falling", as_json(at.falling)},
            {"mean", as_json(at.mean)},
            {"hysteresis", as_json(at.hysteresis)},
            {"repeatability", as_json(at.repeatability)},
            {"reproducibility", as_json(at.reproducibility)},
            {"error_span", as_json(at.error_span)},
            {"verdict", verdict(at.verdict)}};
}

/// The figures of a rule by their names, as a reader needs them to apply it.
json parameters_of(const metrology::DecisionRule& rule) {
    json out = json::object();
    for (const RuleFigure& one : rule_figures(rule))
        out[one.name] = as_json(one.figure);
    if (rule.rule == metrology::Rule::guard_band) {
        if (rule.by_ratio) out["by ratio"] = metrology::word(*rule.by_ratio);
        out["non-binary"] = rule.non_binary;
    }
    return out;
}

json as_json(const Overlap& one) {
    return {{"target", text(one.target)},
            {"direction", bench::word(one.direction)},
            {"series", one.series},
            {"deviation_low", as_json(one.deviation_low)},
            {"deviation_high", as_json(one.deviation_high)},
            {"expanded", as_json(one.expanded)},
            {"k", number(one.k)},
            {"en", as_json(one.en)},
            {"finding", bench::word(one.finding)}};
}

json as_json(const CheckDone& one) {
    return {{"check", text(one.check)},
            {"words", said(one.words)},
            {"passed", one.passed},
            {"waived_because", text_or_null(one.waived_because)},
            {"waived_by", text_or_null(one.waived_by)}};
}

json as_json(const Results& results) {
    return {{"run", text(results.run)},
            {"condition", text(results.condition)},
            {"begin_utc_us", results.begin_utc_us},
            {"end_utc_us", results.end_utc_us},
            {"sequence", text(results.sequence)},
            {"method", text_or_null(results.method)},
            {"method_edition", text_or_null(results.method_edition)},
            {"method_not_compared", results.not_compared},
            {"departures", said(results.departures)},
            {"preloads", results.preloads},
            {"wait_s", number(results.wait_s)},
            {"window_s", text_or_null(results.window_s)},
            {"hold_shortened", results.hold_shortened},
            {"tables", list_of(results.tables)},
            {"points", list_of(results.points)},
            {"overlaps", list_of(results.overlaps)},
            {"checks", list_of(results.checks)},
            {"zero_deviation", as_json(results.zero_deviation)},
            {"largest_hysteresis", as_json(results.largest_hysteresis)},
            {"largest_repeatability", as_json(results.largest_repeatability)},
            {"largest_deviation", as_json(results.largest_deviation)},
            {"specification", said_or_null(results.specification)},
            {"decision", results.decision ? json(metrology::word(results.decision->rule)) : json(nullptr)},
            {"decision_parameters", results.decision ? parameters_of(*results.decision) : json(nullptr)},
            {"decision_words", text_or_null(results.decision_words)},
            {"verdict", verdict(results.verdict)},
            {"verdict_covers", said_or_null(results.verdict_covers)},
            {"unsaid", said(results.unsaid)},
            {"findings", said(results.findings)},
            {"left_out", said(results.left_out)}};
}

json as_json(const SurroundingsSpan& one) {
    return {{"what", text(one.what)},
            {"unit", text(one.unit)},
            {"least", as_json(one.least)},
            {"greatest", as_json(one.greatest)},
            {"expanded", as_json(one.expanded)},
            {"stated", one.stated}};
}

json as_json(const Signatory& one) {
    return {{"role", text(one.role)}, {"name", text(one.name)}, {"logged_in", one.logged_in}, {"utc_us", one.utc_us}};
}

json as_json(const bench::Gate& gate) {
    return gate_json(gate);
}

json as_json(const Overridden& one) {
    return {
        {"finding", gate_json(one.gate)}, {"because", text(one.because)}, {"by", text(one.by)}, {"utc_us", one.utc_us}};
}

json as_json(const Proof& proof) {
    return {{"journal_number", proof.journal_number},
            {"journal_digest", text_or_null(proof.journal_digest)},
            {"bench_revision", text_or_null(proof.bench_revision)},
            {"build", text_or_null(proof.build)},
            {"key_fingerprint", text_or_null(proof.key_fingerprint)},
            {"xml_sha256", text_or_null(proof.xml_sha256)},
            {"code_signature", text_or_null(proof.code_signature)}};
}

} // namespace

std::string json_of(const Certificate& one) {
    const json whole = {
        {"number", text(one.number)},
        {"edition", one.edition},
        {"language", code(one.language)},
        {"draft", one.draft},
        {"issued_utc_us", one.issued_utc_us},
        {"replaces", text_or_null(one.replaces)},
        {"amended_because", text_or_null(one.amended_because)},
        {"laboratory", as_json(one.laboratory)},
        {"time_zone", text(one.time_zone.empty() ? "UTC" : one.time_zone)},
        {"accreditation", text_or_null(one.accreditation)},
        {"customer", as_json(one.customer)},
        {"order", text_or_null(one.order)},
        {"received", text_or_null(one.received)},
        {"place", text_or_null(one.place)},
        {"procedure", text_or_null(one.procedure)},
        {"remark", text_or_null(one.remark)},
        {"item", as_json(one.item)},
        {"unit",
         {{"symbol", text(one.unit.symbol)},
          {"pascals", number(one.unit.pascals)},
          {"pascals_text", text(one.unit.pascals_text)}}},
        {"balance", text(one.balance)},
        {"ranges", texts(one.ranges)},
        {"fluid", text_or_null(one.fluid)},
        {"standards", list_of(one.standards)},
        {"surroundings", list_of(one.surroundings)},
        {"results", list_of(one.results)},
        {"signatories", list_of(one.signatories)},
        {"lacking", list_of(one.lacking)},
        {"overridden", list_of(one.overridden)},
        {"proof", as_json(one.proof)},
    };
    return whole.dump(2) + "\n";
}

} // namespace stillmark::records
