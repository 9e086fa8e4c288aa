#include "daemon/bench/gates.hpp"

#include "daemon/bench/ambient.hpp"
#include "daemon/bench/certificates.hpp"
#include "daemon/bench/health.hpp"
#include "daemon/bench/run_evaluation.hpp"
#include "daemon/bench/run_marks.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <map>
#include <set>

namespace stillmark::bench {

namespace {

using metrology::number_value;
using metrology::Sentence;
using metrology::sentence;
using metrology::text_value;
using metrology::words_value;

constexpr std::size_t longest_reason = 2000;

Sentence sign_words(const std::string& sign) {
    if (sign == "fall rate") return sentence("fall rate");
    if (sign == "spin time") return sentence("spin time");
    return sentence("smallest disc");
}

/// A run that rests on a range in poor health, as an entry of the health list tells it.
Gate health_gate(const State& state, const Run& run, std::size_t entry, const JudgedHealth& judged) {
    const HealthStated& one = state.health[entry];
    return {GateCode::range_in_poor_health,
            run.id,
            std::to_string(entry + 1),
            sentence("run {run} used the {range}, which was found in poor health on {date}: {sign} {value} {unit}",
                     {text_value("run", run.id), words_value("range", range_words(one.range)),
                      text_value("date", date_of(one.utc_us)), words_value("sign", sign_words(one.sign)),
                      number_value("value", fmt::format("{:.3g}", judged.shown)), text_value("unit", judged.unit)}),
            sentence("clean the range, state its health and repeat the run, or a reviewer overrides this with a "
                     "reason"),
            true};
}

/// The findings about one run of an instrument, in order.
class GateKeeper {
  public:
    GateKeeper(const State& state, const Run& run, std::size_t channel, std::vector<Gate>& list)
        : state_(state), run_(run), channel_(channel), instrument_(run.bench->instruments[channel]),
          of_channel_(state, run, channel), list_(list) {}

    void everything() {
        marks();
        overlaps();
        health();
        standards();
        particulars();
    }

  private:
    void add(GateCode code, std::string subject, Sentence found, Sentence remedy, bool overridable = false) {
        list_.push_back({code, run_.id, std::move(subject), std::move(found), std::move(remedy), overridable});
    }
    Sentence::Value run_value() const { return text_value("run", run_.id); }
    bool is_ours(const Mark& mark) const {
        return mark.taken.run == run_.id && static_cast<std::size_t>(mark.taken.channel) == channel_;
    }
    const SequencePoint& point_of(const Mark& mark) const {
        const auto& visit = run_.plan.visits[static_cast<std::size_t>(mark.taken.visit)];
        return run_.bench->sequences[run_.sequence].points[visit.point];
    }
    Direction direction_of(const Mark& mark) const {
        return run_.plan.visits[static_cast<std::size_t>(mark.taken.visit)].direction;
    }

    void marks() {
        bool any = false;
        for (const Mark& mark : state_.marks) {
            if (!is_ours(mark)) continue;
            any = any || mark.counts();
            if (mark.counts() && !mark.taken.flags.empty() && !of_channel_.superseded_by(mark)) wrong_approach(mark);
            if (mark.status == MarkStatus::unbracketed && !mark.counts() && !taken_again(mark)) unbracketed(mark);
        }
        if (!any)
            add(GateCode::no_reading, "",
                sentence("run {run} has no reading of {instrument} that counts",
                         {run_value(), text_value("instrument", instrument_.name)}),
                sentence("the run is done again"));
    }

    bool taken_again(const Mark& mark) const {
        return std::any_of(state_.marks.begin(), state_.marks.end(), [&](const Mark& other) {
            return is_ours(other) && other.taken.visit == mark.taken.visit && other.counts();
        });
    }

    void unbracketed(const Mark& mark) {
        add(GateCode::mark_unbracketed, std::to_string(mark.taken.mark),
            sentence("mark {mark} ({target} {direction}) is unbracketed",
                     {number_value("mark", mark.taken.mark), text_value("target", point_of(mark).target),
                      words_value("direction", direction_words(direction_of(mark)))}),
            sentence("a reviewer accepts it with a reason, or it is made void"));
    }

    void wrong_approach(const Mark& mark) {
        add(GateCode::wrong_approach, std::to_string(mark.taken.mark),
            sentence("the pressure of mark {mark} ({target} {direction}) was reached from the wrong side",
                     {number_value("mark", mark.taken.mark), text_value("target", point_of(mark).target),
                      words_value("direction", direction_words(direction_of(mark)))}),
            sentence("the mark is made void and the point taken again, or a reviewer overrides this with a reason"),
            true);
    }

    void overlaps() {
        for (const OverlapProof& proof : overlap_proofs(state_, run_, channel_))
            if (proof.finding() == OverlapFinding::differ)
                add(GateCode::overlap_disagrees, fmt::format("{}+{}", proof.mark_low, proof.mark_high),
                    sentence("the ranges of the balance disagree at {target} {direction}: marks {low} and {high}, "
                             "E_n {en}",
                             {text_value("target", proof.target),
                              words_value("direction", direction_words(proof.direction)),
                              number_value("low", proof.mark_low), number_value("high", proof.mark_high),
                              number_value("en", fmt::format("{:.2f}", proof.en))}),
                    sentence("find out which range is wrong and repeat the run, or a reviewer overrides this with a "
                             "reason"),
                    true);
    }

    /// What was stated last before the run, and during it, of each range that marks of this instrument rest on.
    void health() {
        std::set<std::string> used;
        for (const Mark& mark : state_.marks)
            if (is_ours(mark) && mark.counts() && mark.status != MarkStatus::vented)
                used.insert(run_.bench->balance.ranges[point_of(mark).range].physics.name);
        std::map<std::pair<std::string, std::string>, std::size_t> before;
        std::vector<std::size_t> entries;
        for (std::size_t i = 0; i < state_.health.size(); ++i) {
            const HealthStated& one = state_.health[i];
            if (!used.contains(one.range)) continue;
            if (one.utc_us <= run_.started_utc_us)
                before[{one.range, one.sign}] = i;
            else if (one.utc_us <= run_.ended_utc_us)
                entries.push_back(i);
        }
        for (const auto& [sign, entry] : before)
            entries.push_back(entry);
        std::sort(entries.begin(), entries.end());
        for (const std::size_t entry : entries)
            poor_health(entry);
    }

    void poor_health(std::size_t entry) {
        const auto judged = judge_health(state_, entry, run_.bench.get());
        if (judged.judgement.verdict == metrology::HealthVerdict::poor)
            list_.push_back(health_gate(state_, run_, entry, judged));
    }

    void standards() {
        for (const auto& what : unstated_standards(run_.bench->standards, rests_on_ambient(run_, channel_)))
            add(GateCode::standard_not_stated, what,
                sentence("the bench file of run {run} states no certificate for the {standard}",
                         {run_value(), words_value("standard", standard_words(what))}),
                sentence("give one in \"standards\" and run again"));
        for (const auto* standard : expired_at(run_.bench->standards, run_.ended_utc_us))
            if (!is_allowed(state_, run_.id, *standard))
                add(GateCode::standard_expired, standard->certificate,
                    sentence("certificate {certificate} of the {standard} was valid until {until}, run {run} ended on "
                             "{ended}",
                             {text_value("certificate", standard->certificate),
                              words_value("standard", standard_words(standard->what)),
                              text_value("until", standard->valid_until), run_value(),
                              text_value("ended", date_of(run_.ended_utc_us))}),
                    sentence("an administrator allows it with a reason, or the run is done again"));
    }

    /// The kinds that bench files name; another one stands as the file says it.
    static Sentence standard_words(const std::string& what) {
        if (what == "balance") return sentence("balance");
        if (what == "discs") return sentence("discs");
        if (what == "piston thermometer") return sentence("piston thermometer");
        if (what == "barometer") return sentence("barometer");
        if (what == "air thermometer") return sentence("air thermometer");
        if (what == "hygrometer") return sentence("hygrometer");
        return sentence("{name}", {text_value("name", what)});
    }

    void particulars() {
        const auto stated = particulars_of(state_, run_.id, instrument_.name);
        if (stated.customer.empty())
            add(GateCode::customer_not_stated, "", sentence("the customer of run {run} is not stated", {run_value()}),
                sentence("stillmark particulars {run} --customer NAME", {run_value()}));
        const auto& lines = stated.customer_address;
        if (std::all_of(lines.begin(), lines.end(), [](const std::string& line) { return line.empty(); }))
            add(GateCode::customer_address_not_stated, "",
                sentence("the address of the customer of run {run} is not stated", {run_value()}),
                sentence("stillmark particulars {run} --address LINE", {run_value()}));
        if (hands_of(state_, run_).empty())
            add(GateCode::worker_not_named, "", sentence("no press of run {run} carries a name", {run_value()}),
                sentence("say who worked the balance, stillmark particulars {run} --worked-by NAME", {run_value()}));
    }

    const State& state_;
    const Run& run_;
    std::size_t channel_;
    const Instrument& instrument_;
    RunMarks of_channel_;
    std::vector<Gate>& list_;
};

void laboratory_gates(const State& state, std::vector<Gate>& list) {
    const auto& records = state.bench->records;
    if (records.address.empty())
        list.push_back(
            {GateCode::laboratory_address, "", "", sentence("the laboratory's address is not stated"),
             sentence("give \"records\": {example} in the bench file", {text_value("example", "{\"address\": [...]}")}),
             false});
    if (records.country.empty())
        list.push_back({GateCode::laboratory_country, "", "", sentence("the laboratory's country is not stated"),
                        sentence("give \"records\": {example} in the bench file",
                                 {text_value("example", "{\"country\": \"DE\"}")}),
                        false});
}

std::string customer_text(const Particulars& stated) {
    std::vector<std::string> parts{stated.customer};
    parts.insert(parts.end(), stated.customer_address.begin(), stated.customer_address.end());
    parts.push_back(stated.customer_country);
    std::erase(parts, "");
    return fmt::format("\"{}\"", fmt::join(parts, ", "));
}

/// A certificate is for one customer.
void customer_gate(const State& state, const std::vector<std::string>& runs, const std::string& instrument,
                   std::vector<Gate>& list) {
    if (runs.empty()) return;
    const auto first = particulars_of(state, runs.front(), instrument);
    for (std::size_t i = 1; i < runs.size(); ++i) {
        const auto other = particulars_of(state, runs[i], instrument);
        if (other.customer == first.customer && other.customer_address == first.customer_address &&
            other.customer_country == first.customer_country)
            continue;
        list.push_back(
            {GateCode::customers_differ, runs[i], runs.front(),
             sentence("runs {one} and {other} state different customers or addresses: {first} and {second}",
                      {text_value("one", runs.front()), text_value("other", runs[i]),
                       text_value("first", customer_text(first)), text_value("second", customer_text(other))}),
             sentence("state the same customer and address for both, stillmark particulars {run}",
                      {text_value("run", runs[i])}),
             false});
    }
}

} // namespace

const char* word(GateCode code) {
    switch (code) {
    case GateCode::laboratory_address:
        return "laboratory_address";
    case GateCode::laboratory_country:
        return "laboratory_country";
    case GateCode::no_instrument:
        return "no_instrument";
    case GateCode::run_not_finished:
        return "run_not_finished";
    case GateCode::mark_unbracketed:
        return "mark_unbracketed";
    case GateCode::no_reading:
        return "no_reading";
    case GateCode::wrong_approach:
        return "wrong_approach";
    case GateCode::overlap_disagrees:
        return "overlap_disagrees";
    case GateCode::range_in_poor_health:
        return "range_in_poor_health";
    case GateCode::standard_not_stated:
        return "standard_not_stated";
    case GateCode::standard_expired:
        return "standard_expired";
    case GateCode::customer_not_stated:
        return "customer_not_stated";
    case GateCode::customer_address_not_stated:
        return "customer_address_not_stated";
    case GateCode::customers_differ:
        return "customers_differ";
    case GateCode::worker_not_named:
        return "worker_not_named";
    case GateCode::characters_not_printable:
        return "characters_not_printable";
    case GateCode::readings_overruled:
        return "readings_overruled";
    }
    return "";
}

std::string english(const Gate& gate) {
    return metrology::english(gate.found) + ": " + metrology::english(gate.remedy);
}

std::vector<Gate> gates_before_signature(const State& state, const std::vector<std::string>& runs,
                                         const std::string& instrument) {
    std::vector<Gate> list;
    laboratory_gates(state, list);
    for (const auto& id : runs) {
        const Run* run = run_named(state, id);
        const auto channel = run != nullptr ? channel_named(*run, instrument) : std::nullopt;
        const std::vector<Sentence::Value> names{text_value("run", id), text_value("instrument", instrument)};
        if (!channel)
            list.push_back({GateCode::no_instrument, id, instrument,
                            sentence("run {run} has no instrument \"{instrument}\"", names),
                            sentence("name an instrument of the run"), false});
        else if (run->end == RunEnd::running)
            list.push_back({GateCode::run_not_finished, id, "", sentence("run {run} is not finished", names),
                            sentence("finish or stop it"), false});
        else
            GateKeeper(state, *run, *channel, list).everything();
    }
    customer_gate(state, runs, instrument, list);
    return list;
}

std::vector<Gate> overridden_at_start(const State& state, const Run& run) {
    std::vector<Gate> list;
    for (const std::size_t entry : run.poor_at_start)
        list.push_back(health_gate(state, run, entry, judge_health(state, entry, run.bench.get())));
    return list;
}

const GateOverridden* override_of(const State& state, const Gate& gate, const std::string& instrument) {
    if (!gate.overridable) return nullptr;
    const auto found = std::find_if(state.overridden.begin(), state.overridden.end(), [&](const GateOverridden& one) {
        return one.code == word(gate.code) && one.run == gate.run && one.subject == gate.subject &&
               one.instrument == instrument;
    });
    return found == state.overridden.end() ? nullptr : &*found;
}

std::vector<Gate> lacking_for_certificate(const State& state, const std::vector<std::string>& runs,
                                          const std::string& instrument) {
    auto list = gates_before_signature(state, runs, instrument);
    std::erase_if(list, [&](const Gate& gate) { return override_of(state, gate, instrument) != nullptr; });
    return list;
}

Decision override_gate(const State& state, const Press& press, const OverrideRequest& request,
                       const std::vector<Gate>& gates) {
    if (request.reason.empty()) return malformed("a reason is missing; say why it may be signed in spite of this");
    if (request.reason.size() > longest_reason)
        return malformed(fmt::format("\"reason\" is longer than {} bytes; shorten it", longest_reason));
    if (press.by.empty()) return malformed("an override has a name; say who overrides");
    const auto* certificate = certificate_numbered(state, request.certificate);
    if (certificate == nullptr)
        return refused(fmt::format("there is no draft \"{}\"; see the list of certificates", request.certificate));
    if (certificate->signature)
        return refused(fmt::format("certificate {} is signed already, by {}; there is nothing to override",
                                   request.certificate, certificate->signature->by));
    for (const auto& id : certificate->draft.runs) {
        const Run* run = run_named(state, id);
        if (run != nullptr && worked_at(state, *run, press.by))
            return refused(
                fmt::format("{} worked at run {}; a reviewer who did not overrides its findings", press.by, id));
    }
    std::vector<const Gate*> found;
    for (const Gate& gate : gates)
        if (word(gate.code) == request.code && gate.subject == request.subject &&
            (request.run.empty() || gate.run == request.run))
            found.push_back(&gate);
    if (found.empty())
        return refused(fmt::format("certificate {} has no finding \"{}\" of \"{}\"; see what its list names",
                                   request.certificate, request.code, request.subject));
    if (found.size() > 1)
        return refused(fmt::format("more than one run has a finding \"{}\" of \"{}\"; name the run", request.code,
                                   request.subject));
    const Gate& gate = *found.front();
    if (!gate.overridable) return refused(fmt::format("\"{}\" cannot be overridden: {}", request.code, english(gate)));
    const std::string& instrument = certificate->draft.instrument;
    if (const auto* before = override_of(state, gate, instrument))
        return refused(
            fmt::format("\"{}\" of \"{}\" is overridden already, by {}", request.code, request.subject, before->by));
    return std::vector<Fact>{GateOverridden{gate.run, instrument, request.code, request.subject, request.reason,
                                            press.by, press.logged_in, press.now_us + state.utc_offset_us}};
}

std::vector<Tell> fold(State& state, Micros, const GateOverridden& fact) {
    state.overridden.push_back(fact);
    return {{true, fmt::format("{} of {} ({}, run {}) is overridden by {}: {}", fact.code, fact.instrument,
                               fact.subject, fact.run, fact.by, fact.reason)}};
}

} // namespace stillmark::bench
