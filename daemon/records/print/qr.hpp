#pragma once

#include "daemon/records/certificate.hpp"
#include "daemon/records/print/strip.hpp"
#include "daemon/records/record_error.hpp"

#include <string>

namespace stillmark::records::print {

/// "stillmark 1 NUMBER SHA256": which digital certificate belongs to the number. The number is percent-encoded (RFC
/// 3986, 2.3: unreserved characters stay), so that it holds no blank.
std::string code_statement(const Certificate& certificate);

/// What the code on a signed certificate says: the statement, a blank and the laboratory's signature of the statement
/// in base64, so that paper alone proves who issued it.
std::string qr_text(const Certificate& certificate);

/// The code (ISO/IEC 18004, error correction M) with the quiet zone around it, each module at least 0.5 mm wide; the
/// strip is as wide as it is high. An error where the text is longer than a code can hold.
RecordResult<Strip> qr_code(const std::string& text);

} // namespace stillmark::records::print
