#include "daemon/bench/health.hpp"
#include "daemon/bench/run_evaluation.hpp"
#include "daemon/bench/run_marks.hpp"
#include "daemon/decider/evaluation_json.hpp"
#include "daemon/decider/frame.hpp"
#include "daemon/metrology/propagation/coverage_factor.hpp"

#include <fmt/format.h>

#include <cmath>

namespace stillmark::decider {

using nlohmann::json;

namespace {

json number_or_null(double value) {
    return std::isfinite(value) ? json(value) : json(nullptr);
}

/// Why the run was started on a range in poor health, and what was found of it.
json override_health(const bench::State& state, const bench::Run& run) {
    if (run.override_health.empty()) return nullptr;
    json found = json::array();
    for (const auto entry : run.poor_at_start)
        found.push_back(bench::judge_health(state, entry, run.bench.get()).words);
    return {{"because", run.override_health}, {"by", run.by}, {"found", std::move(found)}};
}

json run_json(const bench::State& state, const bench::Run& run) {
    json instruments = json::array();
    for (std::size_t i = 0; i < run.takes_part.size(); ++i) {
        if (!run.takes_part[i]) continue;
        const auto& one = run.bench->instruments[i];
        instruments.push_back({{"name", one.name},
                               {"serial", one.serial},
                               {"model", one.profile.model},
                               {"unit", one.unit.symbol},
                               {"pascals_per_unit", one.unit.pascals},
                               {"mpe_pa", one.mpe_pa},
                               {"resolution_pa", one.resolution_pa},
                               {"window_s", one.limits.window_s},
                               {"hold_s", one.limits.hold_s},
                               {"hold_shortened", !one.manual() && one.limits.hold_s < one.limits.window_s}});
    }
    const auto& sequence = run.bench->sequences[run.sequence];
    json departures = json::array();
    for (const auto& one : sequence.departures)
        departures.push_back(metrology::english(one));
    std::size_t marks = 0;
    for (const auto& mark : state.marks)
        marks += mark.taken.run == run.id ? 1 : 0;
    return {{"id", run.id},
            {"sequence", sequence.name},
            {"title", sequence.title},
            {"method", sequence.method.empty() ? json(nullptr) : json(sequence.method)},
            {"method_confirmed", sequence.method_confirmed.empty() ? json(nullptr) : json(sequence.method_confirmed)},
            {"departures", std::move(departures)},
            {"condition", run.condition},
            {"state", bench::word(run.end)},
            {"reason", run.reason.empty() ? json(nullptr) : json(run.reason)},
            {"by", run.by},
            {"override_health", override_health(state, run)},
            {"step", run.step},
            {"steps", run.plan.steps.size()},
            {"started_us", run.started_us},
            {"started_utc_us", run.started_utc_us},
            {"ended_us", run.end == bench::RunEnd::running ? json(nullptr) : json(run.ended_us)},
            {"bench", run.bench->name},
            {"laboratory", run.bench->laboratory},
            {"bench_revision", run.bench->revision},
            {"instruments", std::move(instruments)},
            {"marks", marks}};
}

/// Points of the run that ended, or were passed, without a mark that stands.
json missing(const bench::State& state, const bench::Run& run) {
    json list = json::array();
    for (std::size_t visit = 0; visit < run.plan.visits.size(); ++visit) {
        bool passed = run.end != bench::RunEnd::running;
        for (std::size_t i = 0; i < run.step && !passed; ++i)
            passed = run.plan.steps[i].visit == visit &&
                     run.plan.steps[i].kind ==
                         (run.plan.visits[visit].vented ? bench::StepKind::read : bench::StepKind::sight);
        if (!passed) continue;
        for (std::size_t channel = 0; channel < run.takes_part.size(); ++channel) {
            if (!run.owes_mark(channel, visit)) continue;
            bool stands = false;
            for (const auto& mark : state.marks)
                stands = stands || (mark.taken.run == run.id && static_cast<std::size_t>(mark.taken.visit) == visit &&
                                    static_cast<std::size_t>(mark.taken.channel) == channel &&
                                    mark.status != bench::MarkStatus::voided);
            if (stands) continue;
            const auto& at = run.plan.visits[visit];
            list.push_back({{"channel", run.bench->instruments[channel].name},
                            {"point", at.point + 1},
                            {"target", run.bench->sequences[run.sequence].points[at.point].target},
                            {"direction", bench::word(at.direction)},
                            {"series", at.series}});
        }
    }
    return list;
}

/// What readings said against a load or a float of the run; advice, which changed no mark.
json suspicions(const bench::State& state, const bench::Run& run) {
    json list = json::array();
    for (const auto& one : state.suspicions) {
        if (one.run != run.id) continue;
        json at = {{"point", nullptr}, {"target", nullptr}, {"direction", nullptr}};
        if (one.visit && *one.visit < run.plan.visits.size()) {
            const auto& visit = run.plan.visits[*one.visit];
            at = {{"point", visit.point + 1},
                  {"target", run.bench->sequences[run.sequence].points[visit.point].target},
                  {"direction", bench::word(visit.direction)}};
        }
        at["about"] = one.of_load ? "load" : "float";
        at["float"] = one.interval;
        at["at_us"] = one.at_us;
        at["offset_pa"] = one.of_load ? json(one.offset_pa) : json(nullptr);
        at["drift_pa_per_s"] = one.of_load ? json(nullptr) : json(one.drift_pa_per_s);
        at["words"] = one.words;
        at["ranked"] = one.ranked;
        list.push_back(std::move(at));
    }
    return list;
}

/// Presses of the run that stood against the readings, with the reason.
json overruled(const bench::State& state, const bench::Run& run) {
    json list = json::array();
    for (const auto& one : state.overruled) {
        if (one.fact.run != run.id) continue;
        json instruments = json::array();
        for (std::size_t i = 0; i < one.fact.channels.size(); ++i)
            instruments.push_back({{"channel", one.fact.channels[i]},
                                   {"shows_pa", one.fact.shows_pa[i]},
                                   {"expected_pa", one.fact.expected_pa[i]},
                                   {"far_pa", one.fact.far_pa[i]}});
        list.push_back({{"press", one.fact.press},
                        {"step", one.fact.step},
                        {"words", one.fact.words},
                        {"contradicted", std::move(instruments)},
                        {"because", one.fact.reason},
                        {"by", one.fact.by},
                        {"float", one.interval == 0 ? json(nullptr) : json(one.interval)},
                        {"at_us", one.at_us},
                        {"utc_us", one.utc_us}});
    }
    return list;
}

/// What was looked at before the run, with limits and results.
json checks(const bench::Run& run) {
    const auto number = [](const std::optional<double>& one) { return one ? json(*one) : json(nullptr); };
    json list = json::array();
    for (const auto& one : run.checks) {
        const auto& fact = one.recorded;
        list.push_back({{"check", fact.check},
                        {"channel", fact.channel.empty() ? json(nullptr) : json(fact.channel)},
                        {"step", fact.step},
                        {"value", number(fact.value)},
                        {"limit", number(fact.limit)},
                        {"unit", fact.unit},
                        {"passed", fact.passed},
                        {"words", fact.words},
                        {"waived_because", one.waived_because.empty() ? json(nullptr) : json(one.waived_because)},
                        {"waived_by", one.waived_by.empty() ? json(nullptr) : json(one.waived_by)},
                        {"first", fact.first},
                        {"last", fact.last},
                        {"by", fact.by},
                        {"at_us", one.at_us}});
    }
    return list;
}

/// What the run says of each instrument, in its own unit.
json evaluations(const bench::State& state, const bench::Run& run) {
    json list = json::array();
    for (std::size_t channel = 0; channel < run.takes_part.size(); ++channel) {
        if (!run.takes_part[channel]) continue;
        const auto& instrument = run.bench->instruments[channel];
        const double scale = 1 / instrument.unit.pascals;
        const auto evaluated = bench::evaluate_run(state, run, channel);
        json one = evaluation_json(evaluated.evaluation, scale);
        one["channel"] = instrument.name;
        one["unit"] = instrument.unit.symbol;
        one["overlaps"] = json::array();
        for (const auto& proof : evaluated.overlaps)
            one["overlaps"].push_back({{"target", proof.target},
                                       {"direction", bench::word(proof.direction)},
                                       {"series", proof.series},
                                       {"deviation_low", proof.deviation_low_pa * scale},
                                       {"deviation_high", proof.deviation_high_pa * scale},
                                       {"expanded_uncertainty", proof.expanded_pa * scale},
                                       {"coverage_factor", proof.k},
                                       {"en", number_or_null(proof.en)},
                                       {"finding", bench::word(proof.finding())}});
        list.push_back(std::move(one));
    }
    return list;
}

} // namespace

json mark_json(const bench::State& state, const bench::Mark& mark, const bench::Run& run) {
    const auto& taken = mark.taken;
    const auto& visit = run.plan.visits[static_cast<std::size_t>(taken.visit)];
    const auto& point = run.bench->sequences[run.sequence].points[visit.point];
    const auto& instrument = run.bench->instruments[static_cast<std::size_t>(taken.channel)];
    const bench::FloatInterval* interval = nullptr;
    for (const auto& one : state.intervals)
        if (one.number == taken.interval) interval = &one;
    json flags = json::array();
    for (const auto& flag : taken.flags)
        flags.push_back(flag);
    // Of this one reading, by the same rule as a verdict's: what the instrument shows over several is in its
    // evaluation.
    metrology::ConformityBasis own;
    metrology::put_uncertainty(own, {{taken.u_pa, taken.u_dof}},
                               bench::capability_floor_pa(*run.bench, taken.reference_pa));
    return {{"run", taken.run},
            {"mark", taken.mark},
            {"channel", instrument.name},
            {"point", visit.point + 1},
            {"target", point.target},
            {"target_pa", point.target_pa},
            {"range", point.zero ? json(nullptr) : json(run.bench->balance.ranges[point.range].physics.name)},
            {"overlap", point.overlap},
            {"direction", bench::word(visit.direction)},
            {"series", visit.series},
            {"reference_pa", taken.reference_pa},
            {"u_reference_pa", taken.u_reference_pa},
            {"at_balance_pa", taken.at_balance_pa},
            {"mean_pa", taken.mean_pa},
            {"u_mean_pa", taken.u_mean_pa},
            {"scatter_pa", taken.scatter_pa},
            {"effective_count", taken.effective_count},
            {"u_pa", taken.u_pa},
            {"dof", number_or_null(taken.u_dof)},
            {"coverage_factor", own.k},
            {"expanded_pa", number_or_null(*own.expanded)},
            {"at_capability", own.at_capability},
            {"expanded_reference_pa",
             number_or_null(metrology::usual_coverage_factor(taken.u_reference_dof) * taken.u_reference_pa)},
            {"deviation_pa", taken.deviation_pa},
            {"permissible_pa", instrument.permissible
                                   ? json(metrology::permissible_at(*instrument.permissible, taken.reference_pa,
                                                                    instrument.span_low_pa, instrument.span_high_pa))
                                   : json(nullptr)},
            {"tapped_pa", instrument.manual() ? json(taken.tapped_pa) : json(nullptr)},
            {"untapped_pa", instrument.manual() ? json(taken.untapped_pa) : json(nullptr)},
            {"window",
             {{"first", taken.first},
              {"last", taken.last},
              {"from_us", taken.from_us},
              {"to_us", taken.to_us},
              {"timing_us", taken.timing_us}}},
            {"float",
             {{"number", taken.interval},
              {"from_us", interval != nullptr ? json(interval->from_us) : json(nullptr)},
              {"to_us", interval != nullptr && interval->end != bench::IntervalEnd::open ? json(interval->to_us)
                                                                                         : json(nullptr)},
              {"end", interval != nullptr ? json(bench::word(interval->end)) : json(nullptr)}}},
            {"status", bench::word(mark.status)},
            {"why", mark.why.empty() ? json(nullptr) : json(mark.why)},
            {"accepted_by", mark.accepted_by.empty() ? json(nullptr) : json(mark.accepted_by)},
            {"accepted_because", mark.accepted_by.empty() ? json(nullptr) : json(mark.accepted_because)},
            {"flags", std::move(flags)},
            {"unit", instrument.unit.symbol}};
}

json override_json(const bench::GateOverridden& one) {
    return {{"run", one.run.empty() ? json(nullptr) : json(one.run)},
            {"instrument", one.instrument},
            {"code", one.code},
            {"subject", one.subject},
            {"because", one.reason},
            {"by", one.by},
            {"utc_us", one.utc_us}};
}

json results(const bench::State& state, const std::string& run_id) {
    const bench::Run* found = nullptr;
    for (const auto& run : state.runs)
        if (run_id.empty() || run.id == run_id) found = &run;
    if (found == nullptr) return nullptr;
    json marks = json::array();
    std::vector<bench::RunMarks> of_channels;
    for (std::size_t channel = 0; channel < found->takes_part.size(); ++channel)
        of_channels.emplace_back(state, *found, channel);
    for (const auto& mark : state.marks) {
        if (mark.taken.run != found->id) continue;
        json one = mark_json(state, mark, *found);
        const auto other = of_channels[static_cast<std::size_t>(mark.taken.channel)].superseded_by(mark);
        one["superseded_by"] = other ? json(*other) : json(nullptr);
        marks.push_back(std::move(one));
    }
    json overridden = json::array();
    for (const auto& one : state.overridden)
        if (one.run == found->id) overridden.push_back(override_json(one));
    return {{"run", run_json(state, *found)},
            {"marks", std::move(marks)},
            {"missing", missing(state, *found)},
            {"suspicions", suspicions(state, *found)},
            {"checks", checks(*found)},
            {"overridden", std::move(overridden)},
            {"overruled", overruled(state, *found)},
            {"evaluations", evaluations(state, *found)}};
}

json health_list(const bench::State& state) {
    json list = json::array();
    for (std::size_t i = 0; i < state.health.size(); ++i) {
        const auto& fact = state.health[i];
        const auto judged = bench::judge_health(state, i);
        const auto ratio = [](const std::optional<double>& one) { return one ? json(*one) : json(nullptr); };
        const char* verdict = judged.judgement.verdict == metrology::HealthVerdict::good      ? "good"
                              : judged.judgement.verdict == metrology::HealthVerdict::changed ? "changed"
                                                                                              : "poor";
        list.push_back({{"range", fact.range},
                        {"sign", fact.sign},
                        {"value", fact.value},
                        {"pressure_pa", fact.pressure_pa > 0 ? json(fact.pressure_pa) : json(nullptr)},
                        {"comparable", judged.comparable},
                        {"by", fact.by},
                        {"utc_us", fact.utc_us},
                        {"against_stated", ratio(judged.judgement.against_stated)},
                        {"against_history", ratio(judged.judgement.against_history)},
                        {"verdict", verdict},
                        {"words", judged.words}});
    }
    return list;
}

json run_list(const bench::State& state) {
    json list = json::array();
    for (const auto& run : state.runs)
        list.push_back(run_json(state, run));
    return list;
}

} // namespace stillmark::decider
