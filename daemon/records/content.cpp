#include "daemon/records/content.hpp"

#include "daemon/bench/run_evaluation.hpp"
#include "daemon/bench/run_marks.hpp"
#include "daemon/metrology/rounding.hpp"
#include "daemon/records/basis_figures.hpp"
#include "daemon/records/check_words.hpp"
#include "daemon/records/gates.hpp"
#include "daemon/records/overruled_readings.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

namespace stillmark::records {

namespace {

using bench::Mark;
using bench::Run;
using metrology::number_value;
using metrology::Sentence;
using metrology::sentence;
using metrology::text_value;
using metrology::words_value;

Figure to_place_of(double value, double uncertainty) {
    return {value, metrology::rounded(value, metrology::place_of(uncertainty))};
}
Figure of_uncertainty(double uncertainty) {
    return {uncertainty, metrology::rounded_uncertainty(uncertainty)};
}

/// The results of one run for one instrument, in the instrument's unit.
class RunWriter {
  public:
    RunWriter(const bench::State& state, const Run& run, std::size_t channel)
        : state_(state), run_(run), channel_(channel), instrument_(run.bench->instruments[channel]),
          sequence_(run.bench->sequences[run.sequence]), marks_(state, run, channel),
          scale_(1 / instrument_.unit.pascals) {}

    Results results() const {
        const auto evaluated = bench::evaluate_run(state_, run_, channel_);
        Results out;
        out.run = run_.id;
        out.condition = run_.condition;
        out.begin_utc_us = run_.started_utc_us;
        out.end_utc_us = run_.ended_utc_us;
        out.sequence = sequence_.title;
        out.method = sequence_.method;
        out.method_edition = sequence_.method_confirmed;
        out.departures = sequence_.departures;
        out.preloads = sequence_.preloads;
        out.wait_s = sequence_.wait_s;
        if (!instrument_.manual()) {
            out.window_s = as_stated(instrument_.limits.window_s);
            out.hold_shortened = instrument_.limits.hold_s < instrument_.limits.window_s;
        }
        out.decision = rule_in_unit(evaluated.evaluation.decision, scale_);
        for (const auto& point : evaluated.evaluation.points)
            out.points.push_back(summary_of(point, out.decision, scale_, place_without_uncertainty()));
        tables(out, evaluated.evaluation);
        for (const auto& proof : evaluated.overlaps)
            out.overlaps.push_back(overlap(proof));
        for (const auto& check : run_.checks) {
            if (!check.recorded.channel.empty() && check.recorded.channel != instrument_.name) continue;
            out.checks.push_back({check.recorded.check, check_words(check.recorded, run_.bench->checks, instrument_),
                                  check.recorded.passed, check.waived_because, check.waived_by});
        }
        judgement(evaluated.evaluation, out);
        if (run_.end == bench::RunEnd::stopped)
            out.left_out.push_back(
                run_.stopped_by_service
                    ? sentence("the run was stopped because the bench file was changed")
                    : sentence("the run was stopped: {reason}", {text_value("reason", run_.reason)}));
        return out;
    }

  private:
    /// Without an uncertainty a figure is shown to the instrument's own resolution, or a millionth of its span.
    double place_without_uncertainty() const {
        constexpr double of_the_span = 1e-6;
        return std::max(instrument_.resolution_pa, (instrument_.span_high_pa - instrument_.span_low_pa) * of_the_span) *
               scale_;
    }

    /// U at the point and in the direction of a reading: what its figures are rounded by.
    double expanded_beside(const metrology::Evaluation& evaluation, const Mark& mark,
                           bench::Direction direction) const {
        const metrology::PointEvaluation* nearest = nullptr;
        for (const auto& point : evaluation.points)
            if (nearest == nullptr || std::abs(point.reference - mark.taken.reference_pa) <
                                          std::abs(nearest->reference - mark.taken.reference_pa))
                nearest = &point;
        if (nearest == nullptr) return place_without_uncertainty();
        const auto& basis = direction == bench::Direction::falling ? nearest->down : nearest->up;
        return basis && basis->expanded ? *basis->expanded * scale_ : place_without_uncertainty();
    }

    void tables(Results& out, const metrology::Evaluation& evaluation) const {
        for (std::size_t visit = 0; visit < run_.plan.visits.size(); ++visit) {
            const auto& at = run_.plan.visits[visit];
            const auto& point = sequence_.points[at.point];
            const std::string range = at.vented ? "" : run_.bench->balance.ranges[point.range].physics.name;
            const Mark* mark = marks_.standing(visit);
            for (const Mark* other : marks_.all())
                if (static_cast<std::size_t>(other->taken.visit) == visit && other != mark)
                    out.left_out.push_back(
                        sentence("mark {mark}, {target} {direction}: {why}",
                                 {number_value("mark", other->taken.mark), number_value("target", point.target),
                                  words_value("direction", bench::direction_words(at.direction)),
                                  words_value("why", why_not(*other))}));
            if (mark == nullptr) {
                if (run_.owes_mark(channel_, visit))
                    out.left_out.push_back(sentence("{target} {direction}: there is no reading that counts",
                                                    {number_value("target", point.target),
                                                     words_value("direction", bench::direction_words(at.direction))}));
                continue;
            }
            auto& list = out.tables;
            if (list.empty() || list.back().range != range || list.back().direction != at.direction ||
                list.back().series != at.series)
                list.push_back({range, at.direction, at.series, {}});
            list.back().rows.push_back(row(*mark, point.target, expanded_beside(evaluation, *mark, at.direction)));
        }
    }

    static Sentence status_words(bench::MarkStatus status) {
        switch (status) {
        case bench::MarkStatus::provisional:
            return sentence("provisional");
        case bench::MarkStatus::unbracketed:
            return sentence("unbracketed");
        case bench::MarkStatus::voided:
            return sentence("void");
        case bench::MarkStatus::sighted:
            return sentence("sighted");
        case bench::MarkStatus::vented:
            break;
        }
        return sentence("vented");
    }

    Sentence why_not(const Mark& mark) const {
        const auto status = words_value("status", status_words(mark.status));
        if (const auto other = marks_.superseded_by(mark))
            return sentence("{status}; superseded by mark {other}", {status, number_value("other", *other)});
        if (!mark.void_because.empty())
            return sentence("{status}: {because}", {status, words_value("because", mark.void_because)});
        return mark.why.empty() ? status_words(mark.status)
                                : sentence("{status}: {because}", {status, text_value("because", mark.why)});
    }

    Row row(const Mark& mark, const std::string& target, double expanded) const {
        const auto& taken = mark.taken;
        Row out;
        out.mark = taken.mark;
        out.utc_us = mark.utc_us;
        out.target = target;
        out.reference = to_place_of(taken.reference_pa * scale_, expanded);
        out.indication = to_place_of(taken.mean_pa * scale_, expanded);
        if (instrument_.manual()) out.untapped = to_place_of(taken.untapped_pa * scale_, expanded);
        out.deviation = to_place_of(taken.deviation_pa * scale_, expanded);
        out.zero = mark.status == bench::MarkStatus::vented;
        out.status = bench::word(mark.status);
        out.accepted_by = mark.accepted_by;
        out.accepted_because = mark.accepted_because;
        out.flags = taken.flags;
        return out;
    }

    Overlap overlap(const bench::OverlapProof& proof) const {
        const double u = proof.expanded_pa * scale_;
        return {proof.target,
                proof.direction,
                proof.series,
                to_place_of(proof.deviation_low_pa * scale_, u),
                to_place_of(proof.deviation_high_pa * scale_, u),
                of_uncertainty(u),
                proof.k,
                {proof.en, metrology::rounded(proof.en, -2)},
                proof.finding()};
    }

    void judgement(const metrology::Evaluation& from, Results& out) const {
        const double u = from.largest_expanded ? *from.largest_expanded * scale_
                                               : std::max(instrument_.resolution_pa * scale_, 1e-12);
        const auto figure = [&](const std::optional<double>& value) {
            return value ? to_place_of(*value * scale_, u) : Figure{};
        };
        out.zero_deviation = figure(from.zero_deviation);
        out.largest_hysteresis = figure(from.largest_hysteresis);
        out.largest_repeatability = figure(from.largest_repeatability);
        out.largest_deviation = figure(from.largest_deviation);
        out.specification = from.specification;
        if (from.decision) out.decision_words = metrology::words(*from.decision);
        out.verdict = from.verdict;
        out.verdict_covers = from.verdict_covers;
        for (const auto& one : from.unsaid) {
            // Readings that do not count stand in left_out; fits are not printed.
            if (one.topic == metrology::Topic::results)
                out.unsaid.push_back(
                    sentence("{what}: {why}", {words_value("what", one.what), words_value("why", one.why)}));
            out.not_compared = out.not_compared || one.topic == metrology::Topic::provenance;
        }
        for (const auto& one : from.findings)
            if (!one.met)
                out.findings.push_back(sentence(
                    "{rule}: {found}", {words_value("rule", rule_words(one)), words_value("found", one.found)}));
    }

    const bench::State& state_;
    const Run& run_;
    std::size_t channel_;
    const bench::Instrument& instrument_;
    const bench::Sequence& sequence_;
    bench::RunMarks marks_;
    double scale_;
};

/// From the least to the greatest of what was stated while the runs went on, with the uncertainty of the bench file.
std::vector<SurroundingsSpan> surroundings_of(const std::vector<const Run*>& runs) {
    struct Kind {
        const char* what;
        const char* unit;
        double bench::StatedAir::*value;
        double scale;
        const metrology::Uncertain& usual;
    };
    const auto& usual = runs.front()->bench->surroundings;
    constexpr double hundred = 100;
    const Kind kinds[] = {
        {"air temperature", "degC", &bench::StatedAir::air_temperature_c, 1, usual.air.temperature_c},
        {"air pressure", "hPa", &bench::StatedAir::air_pressure_pa, 1 / hundred, usual.air.pressure_pa},
        {"humidity", "%", &bench::StatedAir::humidity, hundred, usual.air.humidity},
        {"piston temperature", "degC", &bench::StatedAir::piston_temperature_c, 1, usual.piston_temperature_c},
    };
    std::vector<SurroundingsSpan> list;
    for (const auto& kind : kinds) {
        double least = INFINITY, greatest = -INFINITY;
        bool by_person = false;
        for (const Run* run : runs)
            for (const auto& air : run->air) {
                least = std::min(least, air.*kind.value);
                greatest = std::max(greatest, air.*kind.value);
                by_person = by_person || air.by_person;
            }
        if (!(least <= greatest)) least = greatest = kind.usual.value;
        const double expanded = 2 * kind.usual.u * kind.scale;
        SurroundingsSpan span{kind.what, kind.unit, {}, {}, {}, by_person};
        span.least = expanded > 0 ? to_place_of(least * kind.scale, expanded) : stated_figure(least * kind.scale);
        span.greatest =
            expanded > 0 ? to_place_of(greatest * kind.scale, expanded) : stated_figure(greatest * kind.scale);
        if (expanded > 0) span.expanded = of_uncertainty(expanded);
        list.push_back(std::move(span));
    }
    return list;
}

std::vector<StandardUsed> standards_of(const bench::State& state, const std::vector<const Run*>& runs) {
    std::vector<StandardUsed> list;
    for (const Run* run : runs)
        for (const auto& one : run->bench->standards) {
            StandardUsed used{one.what,        one.name,         one.serial, one.certificate, one.issued_by, one.issued,
                              one.valid_until, one.traceable_to, {}};
            for (const auto& allowed : state.allowed)
                if (allowed.run == run->id && allowed.certificate == one.certificate)
                    used.allowed_because = fmt::format("{} ({})", allowed.reason, allowed.by);
            const auto before = std::find_if(list.begin(), list.end(), [&used](const StandardUsed& other) {
                return other.what == used.what && other.certificate == used.certificate;
            });
            if (before == list.end())
                list.push_back(std::move(used));
            else if (before->allowed_because.empty())
                before->allowed_because = used.allowed_because;
        }
    return list;
}

Item item_of(const bench::BenchFile& bench, const bench::Instrument& instrument, const bench::Particulars& stated) {
    const double scale = 1 / instrument.unit.pascals;
    Item item;
    item.name = instrument.name;
    item.maker = instrument.maker;
    item.model = instrument.profile.model;
    item.serial = instrument.serial;
    item.asset = instrument.asset;
    item.condition = stated.condition;
    item.mounting = stated.mounting.empty() ? instrument.mounting : stated.mounting;
    item.span_low = as_stated(instrument.span_low_pa * scale);
    item.span_high = as_stated(instrument.span_high_pa * scale);
    if (instrument.resolution_pa > 0) item.resolution = as_stated(instrument.resolution_pa * scale);
    item.dial = instrument.manual();
    item.counted_from = instrument.counted_from;
    item.reference_mark = instrument.reference_mark;
    double below_m = 0;
    for (const auto& segment : instrument.head)
        below_m += segment.height_m.value;
    constexpr double mm = 1000;
    item.above_balance_mm = as_stated(std::round(-below_m * mm * mm) / mm);
    item.balance_level_mark = bench.balance.level_mark;
    return item;
}

std::vector<Overridden> overridden_in(const bench::State& state, const std::vector<bench::Gate>& gates,
                                      const bench::CertificateDrafted& draft) {
    std::vector<Overridden> list;
    for (const bench::Gate& gate : gates)
        if (const auto* fact = bench::override_of(state, gate, draft.instrument))
            list.push_back({gate, fact->reason, fact->by, fact->utc_us});
    return list;
}

} // namespace

metrology::Sentence rule_words(const metrology::RuleFinding& finding) {
    if (finding.source.text.empty() || finding.source.provenance != metrology::Provenance::read) return finding.rule;
    return metrology::sentence("{rule} ({source})", {metrology::words_value("rule", finding.rule),
                                                     metrology::text_value("source", finding.source.text)});
}

Summary summary_of(const metrology::PointEvaluation& point, const std::optional<metrology::DecisionRule>& rule,
                   double scale, double otherwise) {
    const bool with_u = point.mean && point.mean->expanded.has_value();
    const double u = with_u ? *point.mean->expanded * scale : otherwise;
    const auto figure = [&](const std::optional<double>& value) {
        return value ? to_place_of(*value * scale, u) : Figure{};
    };
    const auto basis = [&](const std::optional<metrology::ConformityBasis>& one) {
        return one ? std::optional(basis_figures(*one, rule, scale, otherwise)) : std::nullopt;
    };
    Summary out;
    out.target = point.target;
    out.shown_as = point.shown_as;
    out.reference = to_place_of(point.reference * scale, u);
    out.rising = basis(point.up);
    out.falling = basis(point.down);
    out.mean = basis(point.mean);
    out.hysteresis = figure(point.hysteresis);
    out.repeatability = figure(point.repeatability);
    out.reproducibility = figure(point.reproducibility);
    out.error_span = figure(point.error_span);
    out.verdict = point.verdict;
    return out;
}

RecordResult<Certificate> content_of(const bench::State& state, const bench::CertificateDrafted& draft) {
    std::vector<const Run*> runs;
    std::vector<std::size_t> channels;
    for (const auto& id : draft.runs) {
        const Run* run = bench::run_named(state, id);
        if (run == nullptr) return RecordError{fmt::format("there is no run \"{}\"; see the list of runs", id)};
        std::optional<std::size_t> channel;
        for (std::size_t i = 0; i < run->takes_part.size(); ++i)
            if (run->takes_part[i] && run->bench->instruments[i].name == draft.instrument) channel = i;
        if (!channel)
            return RecordError{fmt::format("run {} has no instrument \"{}\"; see its results", id, draft.instrument)};
        runs.push_back(run);
        channels.push_back(*channel);
    }
    if (runs.empty()) return RecordError{"a certificate is of one run at least; name it"};
    const bench::BenchFile& bench = *runs.back()->bench;
    const bench::Instrument& instrument = bench.instruments[channels.back()];
    const auto stated = bench::particulars_of(state, draft.runs.back(), draft.instrument);
    const auto& records = state.bench->records;

    Certificate one;
    one.number = draft.certificate;
    one.edition = static_cast<int>(draft.edition);
    one.language = language_of(draft.language).value_or(Language::english);
    one.issued_utc_us = draft.utc_us;
    one.replaces = draft.replaces;
    one.amended_because = draft.amended_because;
    one.laboratory = {state.bench->laboratory, records.address, records.country, records.email};
    one.time_zone = state.bench->time_zone;
    one.accreditation = records.accreditation;
    if (!records.logo.empty())
        one.logo = (std::filesystem::path(state.bench->path).parent_path() / records.logo).string();
    one.customer = {stated.customer, stated.customer_address, stated.customer_country, stated.customer_email};
    one.order = stated.order;
    one.received = stated.received;
    one.place = stated.place;
    one.procedure = records.procedure;
    one.remark = stated.remark;
    one.item = item_of(bench, instrument, stated);
    one.unit = {instrument.unit.symbol, instrument.unit.pascals, as_stated(instrument.unit.pascals)};
    one.balance = fmt::format("{}, {}", bench.balance.name, bench.balance.serial);
    for (const auto& range : bench.balance.ranges)
        one.ranges.push_back(range.physics.name);
    one.fluid = bench.balance.gas ? bench.balance.gas->name : bench.balance.liquid.name;
    one.standards = standards_of(state, runs);
    one.surroundings = surroundings_of(runs);
    for (std::size_t i = 0; i < runs.size(); ++i)
        one.results.push_back(RunWriter(state, *runs[i], channels[i]).results());
    for (const Run* run : runs)
        for (const auto& name : bench::hands_of(state, *run)) {
            const auto known = std::find_if(one.signatories.begin(), one.signatories.end(),
                                            [&name](const Signatory& other) { return other.name == name; });
            if (known == one.signatories.end()) one.signatories.push_back({"operator", name, false, run->ended_utc_us});
        }
    one.proof.bench_revision = bench.revision;
    for (const Run* run : runs)
        for (const bench::Gate& gate : bench::overridden_at_start(state, *run))
            one.overridden.push_back({gate, run->override_health, run->by, run->started_utc_us, true});
    for (std::size_t i = 0; i < runs.size(); ++i)
        for (auto& overruled : overruled_readings(state, *runs[i], channels[i]))
            one.overridden.push_back(std::move(overruled));
    const auto more = overridden_in(state, bench::gates_before_signature(state, draft.runs, draft.instrument), draft);
    one.overridden.insert(one.overridden.end(), more.begin(), more.end());
    return one;
}

RecordResult<Certificate> certificate_of(const bench::State& state, const bench::CertificateDrafted& draft) {
    auto one = content_of(state, draft);
    if (!one) return one;
    const auto of_content = one->overridden;
    auto characters = character_gates(*one);
    // The reason of an override may hold such characters too; each of them is found anew.
    for (std::size_t known = 0; known <= state.overridden.size(); ++known) {
        const auto more = overridden_in(state, characters, draft);
        if (of_content.size() + more.size() == one->overridden.size()) break;
        one->overridden = of_content;
        one->overridden.insert(one->overridden.end(), more.begin(), more.end());
        characters = character_gates(*one);
    }
    one->lacking = bench::gates_before_signature(state, draft.runs, draft.instrument);
    one->lacking.insert(one->lacking.end(), characters.begin(), characters.end());
    std::erase_if(one->lacking, [&](const bench::Gate& gate) {
        return bench::override_of(state, gate, draft.instrument) != nullptr;
    });
    return one;
}

void put_signature(Certificate& certificate, const bench::CertificateSigned& signature) {
    certificate.draft = false;
    certificate.issued_utc_us = signature.utc_us;
    certificate.signatories.push_back({"reviewer", signature.by, signature.logged_in, signature.utc_us});
    certificate.proof.journal_number = static_cast<std::uint64_t>(signature.journal_number);
    certificate.proof.journal_digest = signature.journal_digest;
    certificate.proof.key_fingerprint = signature.key;
}

} // namespace stillmark::records
