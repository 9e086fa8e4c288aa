#pragma once

#include "daemon/bench/certificates.hpp"
#include "daemon/metrology/evaluation/evaluation.hpp"
#include "daemon/records/certificate.hpp"
#include "daemon/records/record_error.hpp"

namespace stillmark::records {

/// What a draft says, from the fold of the journal: pure, the same state gives the same certificate. Marks that do not
/// count are named and left out. An error where a run, or the instrument in it, is not there.
RecordResult<Certificate> content_of(const bench::State& state, const bench::CertificateDrafted& draft);

/// The same with what lacks for a signature in `lacking`, for which the installed fonts count too (gates.hpp).
RecordResult<Certificate> certificate_of(const bench::State& state, const bench::CertificateDrafted& draft);

/// One point of an evaluation as documents show it: `scale` units of the certificate for one of the evaluation; `rule`
/// has its figures in the certificate's unit, and `otherwise` says how fine figures are where no uncertainty is known.
Summary summary_of(const metrology::PointEvaluation& point, const std::optional<metrology::DecisionRule>& rule,
                   double scale, double otherwise);

/// The rule of a finding with its standard where the edition was read; how else a rule is known is no matter of the
/// customer's.
metrology::Sentence rule_words(const metrology::RuleFinding& finding);

/// A certificate with the reviewer's name under it.
void put_signature(Certificate& certificate, const bench::CertificateSigned& signature);

} // namespace stillmark::records
