#pragma once

#include "daemon/records/certificate.hpp"
#include "daemon/records/record_error.hpp"

#include <string>

namespace stillmark::records {

/// The printed certificate: the bytes of a PDF, A4, in the language of the certificate, with the digital certificate
/// `xml` attached as NUMBER.xml where it is not empty. The same certificate gives the same bytes on the same computer:
/// all that stands in it is from the certificate, and no clock is asked. Writes no file; reads the logo.
RecordResult<std::string> pdf_of(const Certificate& certificate, const std::string& xml);

} // namespace stillmark::records
