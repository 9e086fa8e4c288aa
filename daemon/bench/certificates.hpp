#pragma once

#include "daemon/bench/commands.hpp"
#include "daemon/bench/numbering.hpp"
#include "daemon/bench/state.hpp"

#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace stillmark::bench {

// What stands between a finished run and its certificate: what people state for it, what a reviewer lets count, which
// standards had expired, and who may sign. Pure, like the rest of the room.

/// Who states surroundings where no person did.
inline constexpr const char* usual_surroundings = "bench file";

StatedAir air_of(const Conditions& conditions);

/// What is known of a run beyond its readings, for one instrument: what was stated last.
struct Particulars {
    std::string customer;
    std::vector<std::string> customer_address;
    std::string customer_country;
    std::string customer_email;
    std::string order;
    std::string received;
    std::string place;
    std::string condition;
    std::string mounting;
    std::string remark;
    std::string worked_by;
};
Particulars particulars_of(const State& state, const std::string& run, const std::string& instrument);

/// Everybody who worked at a run: the names that its presses carry, or who was stated instead.
std::vector<std::string> hands_of(const State& state, const Run& run);

/// Words for each standard of a run's bench that had expired when it began, or soon will.
std::vector<std::string> validity_warnings(const Run& run);

const Run* run_named(const State& state, const std::string& id);
const RecordedCertificate* certificate_numbered(const State& state, const std::string& number);

/// The signed certificate that amends this one; nullptr where none does. Only one ever does.
const RecordedCertificate* amendment_of(const State& state, const std::string& number);
/// Why a certificate that amends `replaces` can be neither drafted nor signed: another one amends it already. Names the
/// one to amend.
std::optional<std::string> objection_to_amendment(const State& state, const std::string& replaces);

/// The channel of an instrument that takes part in a run.
std::optional<std::size_t> channel_named(const Run& run, const std::string& instrument);
/// Whether somebody of this name worked at a run; capital letters and blanks make no other person.
bool worked_at(const State& state, const Run& run, const std::string& name);
/// Whether an administrator let this expired standard stand behind a run.
bool is_allowed(const State& state, const std::string& run, const StandardCertificate& standard);

/// Of these runs, the certificates of standards that had expired and that nobody allowed: run and certificate.
std::vector<std::pair<std::string, std::string>> expired_and_not_allowed(const State& state,
                                                                         const std::vector<std::string>& runs);

/// Why this person may not sign this certificate, or nothing.
std::optional<std::string> objection_to_signer(const State& state, const RecordedCertificate& certificate,
                                               const std::string& by);

/// What a new draft is to be of. `replaces`: the number of a signed certificate that it amends.
struct DraftRequest {
    std::vector<std::string> runs; ///< one, or the run as found and the run as left
    std::string instrument;
    std::string language = "en";
    std::string replaces;
    std::string amended_because;
    NumbersOutside outside{};
};
/// The draft with its number and edition, or why there can be none. A draft of the same runs, instrument and amendment
/// that nobody signed yet is drafted again under its number.
boost::system::result<CertificateDrafted, Refusal> next_draft(const State& state, const Press& press,
                                                              const DraftRequest& request);

Decision state_particulars(const State& state, const Press& press, ParticularsStated what);
Decision accept_mark(const State& state, const Press& press, std::int64_t mark, const std::string& reason);
Decision allow_expiry(const State& state, const Press& press, const std::string& run, const std::string& certificate,
                      const std::string& reason);
/// The draft as it was made; refused where the state has moved on meanwhile.
Decision record_draft(const State& state, const CertificateDrafted& drafted);
Decision record_signature(const State& state, const CertificateSigned& signature);

std::vector<Tell> fold(State& state, Micros at_us, const ParticularsStated& fact);
std::vector<Tell> fold(State& state, Micros at_us, const MarkAccepted& fact);
std::vector<Tell> fold(State& state, Micros at_us, const ExpiryAllowed& fact);
std::vector<Tell> fold(State& state, Micros at_us, const CertificateDrafted& fact);
std::vector<Tell> fold(State& state, Micros at_us, const CertificateSigned& fact);

} // namespace stillmark::bench
