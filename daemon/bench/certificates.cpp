#include "daemon/bench/certificates.hpp"

#include "daemon/bench/gates.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cctype>

namespace stillmark::bench {

namespace {

constexpr std::size_t longest_text = 2000;
constexpr std::size_t most_lines = 12;
constexpr Micros day_us = 86'400'000'000;

/// One person is not two because of a capital letter or a blank.
std::string plain_name(const std::string& name) {
    std::string plain;
    for (const char one : name)
        if (one != ' ') plain.push_back(static_cast<char>(std::tolower(static_cast<unsigned char>(one))));
    return plain;
}

/// The last of those that amend a certificate one after the other; itself where none does.
const RecordedCertificate& latest_amendment(const State& state, const RecordedCertificate& certificate) {
    const RecordedCertificate* latest = &certificate;
    for (std::size_t i = 0; i < state.certificates.size(); ++i) {
        const auto* newer = amendment_of(state, latest->draft.certificate);
        if (newer == nullptr) break;
        latest = newer;
    }
    return *latest;
}

/// Why a signed certificate is not drafted again.
std::string amended(const State& state, const RecordedCertificate& certificate) {
    const auto& latest = latest_amendment(state, certificate).draft.certificate;
    if (latest == certificate.draft.certificate)
        return fmt::format("certificate {} of {} is signed; amend it with a reason, so that the new one names it",
                           latest, certificate.draft.instrument);
    return fmt::format("certificate {} of {} is signed, and amended since; amend {} with a reason, so that the new one "
                       "names it",
                       certificate.draft.certificate, certificate.draft.instrument, latest);
}

std::optional<std::string> text_objection(const char* key, const std::optional<std::string>& text) {
    if (text && text->size() > longest_text)
        return fmt::format("\"{}\" is longer than {} bytes; shorten it", key, longest_text);
    return std::nullopt;
}

} // namespace

StatedAir air_of(const Conditions& conditions) {
    return {conditions.air.temperature_c.value, conditions.air.pressure_pa.value, conditions.air.humidity.value,
            conditions.piston_temperature_c.value, conditions.by_person};
}

Particulars particulars_of(const State& state, const std::string& run, const std::string& instrument) {
    Particulars all;
    const auto take = [](const auto& from, auto& to) {
        if (from) to = *from;
    };
    for (const auto& one : state.particulars) {
        if (one.run != run || (!one.instrument.empty() && one.instrument != instrument)) continue;
        take(one.customer, all.customer);
        take(one.customer_address, all.customer_address);
        take(one.customer_country, all.customer_country);
        take(one.customer_email, all.customer_email);
        take(one.order, all.order);
        take(one.received, all.received);
        take(one.place, all.place);
        take(one.condition, all.condition);
        take(one.mounting, all.mounting);
        take(one.remark, all.remark);
        take(one.worked_by, all.worked_by);
    }
    return all;
}

std::vector<std::string> hands_of(const State& state, const Run& run) {
    std::vector<std::string> names(run.hands.begin(), run.hands.end());
    for (const auto& one : state.particulars)
        if (one.run == run.id && one.worked_by && !one.worked_by->empty() &&
            std::find(names.begin(), names.end(), *one.worked_by) == names.end())
            names.push_back(*one.worked_by);
    return names;
}

std::vector<std::string> validity_warnings(const Run& run) {
    std::vector<std::string> list;
    const Micros soon_us = run.bench->records.warn_days * day_us;
    for (const auto* standard : expired_at(run.bench->standards, run.started_utc_us, soon_us)) {
        const bool expired = run.started_utc_us >= standard->valid_until_utc_us;
        list.push_back(
            expired ? fmt::format("certificate {} of the {} was valid until {}: no certificate can be issued from this "
                                  "run unless an administrator allows it",
                                  standard->certificate, standard->what, standard->valid_until)
                    : fmt::format("certificate {} of the {} is valid until {}: see to the next calibration",
                                  standard->certificate, standard->what, standard->valid_until));
    }
    return list;
}

const Run* run_named(const State& state, const std::string& id) {
    const auto found =
        std::find_if(state.runs.begin(), state.runs.end(), [&id](const Run& one) { return one.id == id; });
    return found == state.runs.end() ? nullptr : &*found;
}

const RecordedCertificate* certificate_numbered(const State& state, const std::string& number) {
    const auto found = std::find_if(state.certificates.begin(), state.certificates.end(),
                                    [&number](const auto& one) { return one.draft.certificate == number; });
    return found == state.certificates.end() ? nullptr : &*found;
}

const RecordedCertificate* amendment_of(const State& state, const std::string& number) {
    const auto found = std::find_if(state.certificates.begin(), state.certificates.end(), [&number](const auto& one) {
        return one.signature && one.draft.replaces == number;
    });
    return number.empty() || found == state.certificates.end() ? nullptr : &*found;
}

std::optional<std::string> objection_to_amendment(const State& state, const std::string& replaces) {
    const auto* newer = amendment_of(state, replaces);
    if (newer == nullptr) return std::nullopt;
    return fmt::format("certificate {} was amended by {} already; amend {}", replaces, newer->draft.certificate,
                       latest_amendment(state, *newer).draft.certificate);
}

std::optional<std::size_t> channel_named(const Run& run, const std::string& instrument) {
    for (std::size_t i = 0; i < run.takes_part.size(); ++i)
        if (run.takes_part[i] && run.bench->instruments[i].name == instrument) return i;
    return std::nullopt;
}

bool worked_at(const State& state, const Run& run, const std::string& name) {
    const auto hands = hands_of(state, run);
    return std::any_of(hands.begin(), hands.end(),
                       [&name](const std::string& hand) { return plain_name(hand) == plain_name(name); });
}

bool is_allowed(const State& state, const std::string& run, const StandardCertificate& standard) {
    return std::any_of(state.allowed.begin(), state.allowed.end(), [&](const ExpiryAllowed& one) {
        return one.run == run && one.certificate == standard.certificate;
    });
}

std::vector<std::pair<std::string, std::string>> expired_and_not_allowed(const State& state,
                                                                         const std::vector<std::string>& runs) {
    std::vector<std::pair<std::string, std::string>> list;
    for (const auto& id : runs) {
        const Run* run = run_named(state, id);
        if (run == nullptr || run->end == RunEnd::running) continue;
        for (const auto* standard : expired_at(run->bench->standards, run->ended_utc_us))
            if (!is_allowed(state, id, *standard)) list.emplace_back(id, standard->certificate);
    }
    return list;
}

std::optional<std::string> objection_to_signer(const State& state, const RecordedCertificate& certificate,
                                               const std::string& by) {
    if (certificate.signature)
        return fmt::format("certificate {} is signed already, by {}; an amendment is a new certificate that names it",
                           certificate.draft.certificate, certificate.signature->by);
    if (by.empty()) return "a signature has a name; say who signs";
    for (const auto& id : certificate.draft.runs) {
        const Run* run = run_named(state, id);
        if (run != nullptr && worked_at(state, *run, by))
            return fmt::format("{} worked at run {}; a certificate is signed by a reviewer who did not", by, id);
    }
    return std::nullopt;
}

boost::system::result<CertificateDrafted, Refusal> next_draft(const State& state, const Press& press,
                                                              const DraftRequest& request) {
    if (!state.bench) return refused("there is no bench yet");
    if (request.runs.empty() || request.runs.size() > 2)
        return malformed("a certificate is of one run, or of the run as found and the run as left; name one or two");
    if (request.language != "en" && request.language != "de")
        return malformed(fmt::format("there are no words in \"{}\"; use en or de", request.language));
    const Instrument* first = nullptr;
    for (const auto& id : request.runs) {
        const Run* run = run_named(state, id);
        if (run == nullptr) return refused(fmt::format("there is no run \"{}\"; see the list of runs", id));
        const auto channel = channel_named(*run, request.instrument);
        if (!channel) {
            std::vector<std::string> names;
            for (std::size_t i = 0; i < run->takes_part.size(); ++i)
                if (run->takes_part[i]) names.push_back(run->bench->instruments[i].name);
            return refused(fmt::format("run {} has no instrument \"{}\"; it has: {}", id, request.instrument,
                                       fmt::join(names, ", ")));
        }
        const Instrument& instrument = run->bench->instruments[*channel];
        if (first != nullptr && (first->serial != instrument.serial || first->unit.symbol != instrument.unit.symbol))
            return refused(fmt::format("{} is another instrument in run {} than in run {} (serial number or unit)",
                                       request.instrument, request.runs[0], id));
        first = &instrument;
    }
    if (request.runs.size() == 2) {
        if (request.runs[0] == request.runs[1]) return malformed("both runs are the same; name one");
        if (run_named(state, request.runs[0])->condition != "as found" ||
            run_named(state, request.runs[1])->condition == "as found")
            return refused("of two runs the first is as found, the second as left or after adjustment");
    }
    CertificateDrafted draft;
    draft.runs = request.runs;
    draft.instrument = request.instrument;
    draft.language = request.language;
    draft.replaces = request.replaces;
    draft.amended_because = request.amended_because;
    draft.by = press.by;
    draft.logged_in = press.logged_in;
    draft.utc_us = press.now_us + state.utc_offset_us;
    if (!request.replaces.empty()) {
        const auto* old = certificate_numbered(state, request.replaces);
        if (old == nullptr || !old->signature)
            return refused(fmt::format("there is no signed certificate \"{}\" to amend", request.replaces));
        if (old->draft.instrument != request.instrument)
            return refused(fmt::format("certificate {} is of {}, not of {}", request.replaces, old->draft.instrument,
                                       request.instrument));
        if (auto wrong = objection_to_amendment(state, request.replaces)) return refused(std::move(*wrong));
        if (request.amended_because.empty()) return malformed("an amendment says why; give the reason");
    }
    for (const auto& one : state.certificates) {
        if (one.draft.instrument != request.instrument || one.draft.runs != request.runs) continue;
        if (one.signature && one.draft.replaces == request.replaces) return refused(amended(state, one));
        if (one.signature || one.draft.replaces != request.replaces) continue;
        // Signed in a journal that is lost: that document keeps the number, this one gets another.
        if (request.outside.issued.contains(one.draft.certificate)) continue;
        draft.certificate = one.draft.certificate;
        const auto outside = request.outside.editions.find(draft.certificate);
        const std::int64_t seen = outside == request.outside.editions.end() ? 0 : outside->second;
        draft.edition = std::max(one.draft.edition, seen) + 1;
        return draft;
    }
    auto number = next_number(state, draft.utc_us, request.outside);
    if (!number)
        return refused(fmt::format("no number is left in {}: {} is the last; state another \"numbering\" in the bench "
                                   "file",
                                   numbering_series(state.bench->records, draft.utc_us),
                                   number_in(numbering_series(state.bench->records, draft.utc_us), most_in_series)));
    draft.certificate = std::move(*number);
    return draft;
}

Decision state_particulars(const State& state, const Press& press, ParticularsStated what) {
    const Run* run = run_named(state, what.run);
    if (run == nullptr) return refused(fmt::format("there is no run \"{}\"; see the list of runs", what.run));
    if (!what.instrument.empty() && !channel_named(*run, what.instrument))
        return refused(fmt::format("run {} has no instrument \"{}\"", what.run, what.instrument));
    const std::pair<const char*, const std::optional<std::string>*> texts[] = {
        {"customer", &what.customer},   {"customer_country", &what.customer_country},
        {"order", &what.order},         {"customer_email", &what.customer_email},
        {"received", &what.received},   {"place", &what.place},
        {"condition", &what.condition}, {"mounting", &what.mounting},
        {"remark", &what.remark},       {"worked_by", &what.worked_by}};
    bool any = what.customer_address.has_value();
    for (const auto& [key, text] : texts) {
        any = any || text->has_value();
        if (auto wrong = text_objection(key, *text)) return malformed(std::move(*wrong));
    }
    if (!any) return malformed("nothing is stated; give at least one, for example the customer");
    if (what.customer_address && what.customer_address->size() > most_lines)
        return malformed(fmt::format("\"customer_address\" has more than {} lines; shorten it", most_lines));
    if (what.received && !what.received->empty() && !utc_us_of_date(*what.received))
        return malformed(fmt::format("\"received\": \"{}\" is no date; write it as 2026-01-15", *what.received));
    if (what.customer_country && !what.customer_country->empty() &&
        (what.customer_country->size() != 2 ||
         !std::all_of(what.customer_country->begin(), what.customer_country->end(),
                      [](char one) { return one >= 'A' && one <= 'Z'; })))
        return malformed(fmt::format("\"customer_country\": \"{}\" is no country code; write its two letters, for "
                                     "example DE",
                                     *what.customer_country));
    what.by = press.by;
    return std::vector<Fact>{std::move(what)};
}

Decision accept_mark(const State& state, const Press& press, std::int64_t number, const std::string& reason) {
    if (reason.empty()) return malformed("a reason is missing; say why the mark may count without a second sighting");
    if (press.by.empty()) return malformed("an acceptance has a name; say who accepts");
    for (const auto& mark : state.marks) {
        if (mark.taken.mark != number) continue;
        if (mark.status != MarkStatus::unbracketed)
            return refused(
                fmt::format("mark {} is {}; only an unbracketed mark is accepted", number, word(mark.status)));
        if (mark.counts()) return refused(fmt::format("mark {} is accepted already, by {}", number, mark.accepted_by));
        const Run* run = run_named(state, mark.taken.run);
        if (run != nullptr && worked_at(state, *run, press.by))
            return refused(
                fmt::format("{} worked at run {}; a reviewer who did not accepts its marks", press.by, run->id));
        return std::vector<Fact>{MarkAccepted{number, reason, press.by, press.logged_in}};
    }
    return refused(fmt::format("there is no mark {}", number));
}

Decision allow_expiry(const State& state, const Press& press, const std::string& id, const std::string& certificate,
                      const std::string& reason) {
    if (reason.empty()) return malformed("a reason is missing; say why the standard may stand behind certificates");
    if (press.by.empty()) return malformed("this has a name; say who allows it");
    const Run* run = run_named(state, id);
    if (run == nullptr) return refused(fmt::format("there is no run \"{}\"; see the list of runs", id));
    if (run->end == RunEnd::running) return refused(fmt::format("run {} is not finished", id));
    for (const auto* standard : expired_at(run->bench->standards, run->ended_utc_us))
        if (standard->certificate == certificate) {
            if (is_allowed(state, id, *standard))
                return refused(fmt::format("certificate {} is allowed for run {} already", certificate, id));
            return std::vector<Fact>{ExpiryAllowed{id, certificate, reason, press.by, press.logged_in}};
        }
    return refused(fmt::format("no standard of run {} with the certificate \"{}\" had expired", id, certificate));
}

Decision record_draft(const State& state, const CertificateDrafted& drafted) {
    const auto* before = certificate_numbered(state, drafted.certificate);
    if (before != nullptr && (before->signature || before->draft.edition >= drafted.edition))
        return refused(fmt::format("certificate {} was drafted or signed by somebody else meanwhile; draft it again",
                                   drafted.certificate));
    return std::vector<Fact>{drafted};
}

Decision record_signature(const State& state, const CertificateSigned& signature) {
    const auto* draft = certificate_numbered(state, signature.certificate);
    if (draft == nullptr)
        return refused(fmt::format("there is no draft \"{}\"; see the list of certificates", signature.certificate));
    if (draft->draft.edition != signature.edition)
        return refused(
            fmt::format("certificate {} was drafted again meanwhile; look at the new draft", signature.certificate));
    if (auto wrong = objection_to_signer(state, *draft, signature.by)) return refused(std::move(*wrong));
    if (auto wrong = objection_to_amendment(state, draft->draft.replaces)) return refused(std::move(*wrong));
    const auto lacking = lacking_for_certificate(state, draft->draft.runs, draft->draft.instrument);
    if (!lacking.empty()) return refused(english(lacking.front()));
    return std::vector<Fact>{signature};
}

std::vector<Tell> fold(State& state, Micros, const ParticularsStated& fact) {
    state.particulars.push_back(fact);
    return {};
}

std::vector<Tell> fold(State& state, Micros, const MarkAccepted& fact) {
    for (auto& mark : state.marks) {
        if (mark.taken.mark != fact.mark || mark.status != MarkStatus::unbracketed) continue;
        mark.accepted_by = fact.by;
        mark.accepted_because = fact.reason;
        return {{false, fmt::format("mark {} accepted by {}: {}", fact.mark, fact.by, fact.reason)}};
    }
    return {};
}

std::vector<Tell> fold(State& state, Micros, const ExpiryAllowed& fact) {
    state.allowed.push_back(fact);
    return {{true, fmt::format("the expired certificate {} is allowed for run {} by {}: {}", fact.certificate, fact.run,
                               fact.by, fact.reason)}};
}

std::vector<Tell> fold(State& state, Micros, const CertificateDrafted& fact) {
    for (auto& one : state.certificates)
        if (one.draft.certificate == fact.certificate) {
            if (!one.signature) one.draft = fact;
            return {};
        }
    state.certificates.push_back({fact, {}});
    return {};
}

std::vector<Tell> fold(State& state, Micros, const CertificateSigned& fact) {
    for (auto& one : state.certificates) {
        if (one.draft.certificate != fact.certificate || one.signature || one.draft.edition != fact.edition) continue;
        one.signature = fact;
        return {{false,
                 fmt::format("certificate {} of {} is signed by {}", fact.certificate, one.draft.instrument, fact.by)}};
    }
    return {};
}

} // namespace stillmark::bench
