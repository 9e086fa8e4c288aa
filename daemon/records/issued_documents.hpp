#pragma once

#include "daemon/records/record_error.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::records {

// What stands in the folder of the records: a folder a certificate, NUMBER for signed documents, NUMBER-draft-EDITION
// for a draft's, NUMBER.unrecorded for signed ones until their signature is on record. It is read without a journal, so
// that a journal can be held against it.

/// One folder there.
struct CertificateFolder {
    std::string name;         ///< of the folder
    std::string number;       ///< of the certificate
    std::int64_t edition = 0; ///< of a draft; 0: signed
    bool unrecorded = false;
    bool has_documents = false; ///< false: the name alone says so

    bool is_signed() const { return edition == 0; }
};

/// What the folder of this name holds, which is that of a certificate where documents of its number are in it.
CertificateFolder folder_named(const std::string& records, const std::string& name);

/// Every folder of certificates, by name; none where the folder of the records is not there yet. Names that begin with
/// a point are passed over: they are being written.
RecordResult<std::vector<CertificateFolder>> certificate_folders(const std::string& records);

/// Names of folders that write_folder began and never named, because its program ended.
std::vector<std::string> half_written_folders(const std::string& records);

/// SHA-256 (hexadecimal) of both documents that are signed.
struct DocumentDigests {
    std::string pdf_sha256;
    std::string xml_sha256;
    bool operator==(const DocumentDigests&) const = default;
};
RecordResult<DocumentDigests> digests_of(const std::string& records, const CertificateFolder& folder);

/// What a digital certificate says of itself, read back out of it.
struct DigitalStatement {
    std::string number;
    std::string replaces; ///< number of the certificate that it amends; empty: none
    std::int64_t journal_number = 0;
    std::string journal_digest; ///< hexadecimal
};
RecordResult<DigitalStatement> statement_of(const std::string& xml);

/// A whole document, at most 64 MiB; nothing where it cannot be read.
std::optional<std::string> document_at(const std::string& path);

/// The path of a document of that folder: ".xml", ".pdf", ".xml.sig".
std::string document_path(const std::string& records, const CertificateFolder& folder, const std::string& ending);

} // namespace stillmark::records
