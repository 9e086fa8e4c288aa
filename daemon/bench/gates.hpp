#pragma once

#include "daemon/bench/commands.hpp"
#include "daemon/bench/state.hpp"
#include "daemon/metrology/sentence.hpp"

#include <string>
#include <vector>

namespace stillmark::bench {

// Gates before a signature: what holds it until it is mended, or until a reviewer overrides it on record.

enum class GateCode : std::uint8_t {
    laboratory_address,
    laboratory_country,
    no_instrument,
    run_not_finished,
    mark_unbracketed,
    no_reading,
    wrong_approach,
    overlap_disagrees,
    range_in_poor_health,
    standard_not_stated,
    standard_expired,
    customer_not_stated,
    customer_address_not_stated,
    customers_differ,
    worker_not_named,
    characters_not_printable,
    readings_overruled ///< of a press at the bench; never holds a signature
};
/// The code as journals and clients have it: "mark_unbracketed".
const char* word(GateCode code);

/// One finding that holds a signature.
struct Gate {
    GateCode code = GateCode::run_not_finished;
    std::string run; ///< empty: it concerns the laboratory
    /// What it is about within the run, so that code, run and subject name one finding: a mark's number, both marks of
    /// an overlap ("3+8"), the entry of the health list, a standard's certificate, a place in the certificate.
    std::string subject;
    metrology::Sentence found;
    metrology::Sentence remedy;
    bool overridable = false;
};
/// "what was found: what would do", English.
std::string english(const Gate& gate);

/// Everything that holds the signature of a certificate of these runs and what was not overridden, in order. Empty: it
/// may be signed. What only fonts decide is added in records.
std::vector<Gate> lacking_for_certificate(const State& state, const std::vector<std::string>& runs,
                                          const std::string& instrument);
/// The same with what was overridden.
std::vector<Gate> gates_before_signature(const State& state, const std::vector<std::string>& runs,
                                         const std::string& instrument);

/// What was overridden by who started the run: each range that was in poor health then. The run may be over or not.
std::vector<Gate> overridden_at_start(const State& state, const Run& run);

/// Who overrode this finding of an instrument, or null.
const GateOverridden* override_of(const State& state, const Gate& gate, const std::string& instrument);

/// Which finding of which certificate a reviewer overrides. `run` may be empty where one run alone has such a finding.
struct OverrideRequest {
    std::string certificate;
    std::string run;
    std::string code;
    std::string subject;
    std::string reason;
};
/// `gates`: all that was found for that certificate. The person has not worked at its runs.
Decision override_gate(const State& state, const Press& press, const OverrideRequest& request,
                       const std::vector<Gate>& gates);

std::vector<Tell> fold(State& state, Micros at_us, const GateOverridden& fact);

} // namespace stillmark::bench
