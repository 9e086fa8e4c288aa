#pragma once

#include "daemon/bench/event.hpp"
#include "daemon/journal/verify.hpp"
#include "daemon/records/issued_documents.hpp"

#include <map>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::cli {

/// The certificates that a journal knows as signed.
struct IssuedInJournal {
    std::map<std::string, bench::CertificateSigned> signatures; ///< by number
    std::map<std::string, std::string> amended_by;              ///< number of the amendment by that of the amended one
};
journal::JournalResult<IssuedInJournal> issued_in(const std::string& journal);

/// A signed certificate as its folder has it.
struct DocumentBeside {
    records::CertificateFolder folder;
    std::string path; ///< of the folder
    records::DocumentDigests digests;
    records::DigitalStatement said;
};

/// The signed certificates beside a journal: each prints a number and digest of it, and so is an anchor outside of it.
struct DocumentsBeside {
    std::vector<DocumentBeside> documents;
    std::vector<std::string> findings;       ///< what is wrong with them or with what the journal says of them
    std::vector<std::string> without_folder; ///< numbers that the journal knows as signed and that are not there
    bool any() const { return !documents.empty() || !findings.empty(); }
    std::vector<journal::PrintedDigest> anchors() const;
};

/// Reads them; where keys are given, one that none of them signed is a finding and no anchor. Read before the journal
/// is, so that a service that works meanwhile makes no difference.
DocumentsBeside documents_beside(const std::string& records, const std::vector<seal::PublicKey>& keys);

/// Holds them against the signatures on record. `last` is the journal's last number: what rests on a later one has its
/// finding already.
journal::JournalResult<void> compare_with_journal(DocumentsBeside& beside, const std::string& journal,
                                                  std::int64_t last);

/// The certificate that amends this one, by the signed documents in the same folder of records; nothing where none is
/// signed with one of the keys.
std::optional<std::string> amended_beside(const std::string& records, const std::string& number,
                                          const std::vector<seal::PublicKey>& keys);

} // namespace stillmark::cli
