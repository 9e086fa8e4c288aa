#pragma once

#include "daemon/records/print/strip.hpp"
#include "daemon/records/record_error.hpp"

#include <string>

namespace stillmark::records::print {

/// The laboratory's logo, as large as fits into the room without changing its sides' ratio; at the right end of it. An
/// error where the file is none that can be read, no PNG, or larger than a logo is.
RecordResult<Strip> logo(const std::string& path, double width, double height);

} // namespace stillmark::records::print
