#pragma once

#include "daemon/records/certificate.hpp"
#include "daemon/records/record_error.hpp"

#include <cstdint>
#include <string>

namespace stillmark::records::print {

/// What a document says of itself to programs.
struct About {
    std::string title;
    std::string author;
    std::string creator; ///< program and its version
    std::int64_t made_utc_us = 0;
    Language language = Language::english;
};

/// A file that goes with the document.
struct Attachment {
    std::string name;
    std::string bytes;
    std::string description;
};

/// Makes of a plain PDF one for the archive, to the rules of ISO 19005-3 (PDF/A-3), level B: metadata, colour space,
/// identifier, and the attachment, where it is not empty, as data that belongs to the document (AFRelationship Data).
/// The same input gives the same bytes.
RecordResult<std::string> archived(const std::string& plain_pdf, const About& about, const Attachment& attachment);

/// The metadata that it holds (XMP, ISO 16684-1).
std::string xmp_of(const About& about);

} // namespace stillmark::records::print
