#pragma once

#include "daemon/records/record_error.hpp"

#include <string>

namespace stillmark::records {

struct AttachedFile {
    std::string name;
    std::string bytes;
};

/// The one file that a printed certificate carries. An error where the bytes are no PDF, or carry none or several.
RecordResult<AttachedFile> attached_to(const std::string& pdf);

} // namespace stillmark::records
