#pragma once

#include "daemon/records/certificate.hpp"
#include "daemon/records/record_error.hpp"
#include "daemon/seal/key.hpp"

#include <map>
#include <string>

namespace stillmark::records {

/// Every document of one certificate, by its file's name: NUMBER.pdf, .xml, .json, .csv, -points.csv; signed also
/// .pdf.sig and .xml.sig, which are Ed25519 signatures over the bytes of the file (RFC 8032), 64 bytes.
using Documents = std::map<std::string, std::string>;

/// Makes them all, or none: what is wrong with any is an error. With a key they are signed, and the certificate's proof
/// is completed by what is printed of the digital one. The digital certificate is made first, because the printed one
/// carries it and its digest.
RecordResult<Documents> documents_of(Certificate& certificate, const seal::PrivateKey* key);

/// SHA-256 (hexadecimal) of what a certificate says, without who signed, when it was issued, and its proof: two drafts
/// that say the same have the same.
std::string content_digest(Certificate certificate);

/// Puts documents into a new folder, all of them or none: they are written beside it, forced to the disk, and the
/// folder gets its name last. A folder of that name is replaced.
RecordResult<void> write_folder(const std::string& path, const Documents& documents);

/// Gives a folder its final name. An error where that name is taken.
RecordResult<void> rename_folder(const std::string& from, const std::string& to);

} // namespace stillmark::records
