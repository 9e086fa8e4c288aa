#pragma once

#include "daemon/bench/gates.hpp"
#include "daemon/records/certificate.hpp"

#include <nlohmann/json_fwd.hpp>

#include <vector>

namespace stillmark::records {

/// The texts of a certificate with characters that no page can show: control characters, those that turn the direction
/// of what follows, and those that no installed font has. The subject of each is its place in the certificate's JSON
/// (RFC 6901) and the first digits of the text's SHA-256, so that another text there is another finding.
std::vector<bench::Gate> character_gates(const Certificate& certificate);

/// Everything that was found against signing this draft, with what was overridden: bench::gates_before_signature and
/// character_gates.
std::vector<bench::Gate> gates_before_signature(const bench::State& state, const bench::CertificateDrafted& draft);

/// {"code", "run", "subject", "values": {name: text}, "words", "overridable"}; `words` is English.
nlohmann::json gate_json(const bench::Gate& gate);

} // namespace stillmark::records
