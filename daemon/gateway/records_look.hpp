#pragma once

#include "daemon/bench/numbering.hpp"
#include "daemon/bench/state.hpp"
#include "daemon/journal/memory.hpp"
#include "daemon/records/issued_documents.hpp"

#include <cstdint>
#include <set>
#include <string>
#include <vector>

namespace stillmark::gateway {

/// Something about the folder of the certificates that people must know. The folder is left as it is.
struct RecordsFinding {
    enum class Code : std::uint8_t {
        unknown_signed,   ///< signed documents that the journal does not know: it is older than they are
        unknown_draft,    ///< a draft that the journal does not know
        other_content,    ///< a signed certificate's folder holds other documents than those that were signed
        not_in_place,     ///< signed, and its documents cannot get their name
        missing,          ///< signed, and there are no documents
        memory_unreadable ///< nothing gets a number until it can be read
    };
    Code code = Code::unknown_signed;
    std::string certificate; ///< its number; empty: it is about no single one
    std::string place;       ///< folder or file
    std::string detail;      ///< what was found there: the system's reason, or the number that an unknown one amends
    bool operator==(const RecordsFinding&) const = default;
};
const char* word(RecordsFinding::Code code);
/// Place, finding, remedy.
std::string words_of(const RecordsFinding& finding);

/// What a look at the folder needs. A copy of the journal's state, because the look is taken on another thread.
struct RecordsLookRequest {
    std::string folder;
    std::string memory; ///< path of the memory file
    std::string journal;
    std::vector<bench::RecordedCertificate> certificates;
    bench::RecordSettings settings;
    Micros utc_us = 0;
    std::set<std::string> busy;  ///< certificates that are being signed now
    bool journal_failed = false; ///< what it will hold is not known now, so nothing is removed
    bool at_start = false;       ///< nothing is being written: what a former service left half written is removed
    bool compare_all = false; ///< the documents of all signed certificates with their SHA-256; otherwise those of ...
    std::set<std::string> compare; ///< ... these
};

struct RecordsLook {
    bench::NumbersOutside outside;
    std::vector<RecordsFinding> findings;
    std::vector<std::string> done; ///< what was put in place or cleaned up, a sentence each
};

/// Holds the folder against the journal and completes what was left half done: signed documents get their name; those
/// whose signature never came on record are removed, where the number and digest that they carry are this journal's.
/// What is of another journal stays. Then the memory file is raised to the highest numbers that were seen.
RecordsLook look_at_records(const RecordsLookRequest& request);

/// Whether a folder holds the documents that this signature is of: both that are signed, by their SHA-256.
bool holds_what_was_signed(const std::string& records, const records::CertificateFolder& folder,
                           const bench::CertificateSigned& signature);

/// The highest count of each series, of what the journal knows and what is known outside.
journal::HighestNumbers highest_numbers(const std::vector<bench::RecordedCertificate>& certificates,
                                        const bench::RecordSettings& settings, Micros utc_us,
                                        const std::set<std::string>& outside);

} // namespace stillmark::gateway
