#pragma once

#include "daemon/cli/verify_documents.hpp"
#include "daemon/journal/compare.hpp"
#include "daemon/journal/verify.hpp"

#include <optional>
#include <string>

namespace stillmark::cli {

/// What `stillmark verify` found of a journal, and what it was asked.
struct VerifyReport {
    std::string file;
    std::string other; ///< what it was compared with
    journal::Anchors anchors;
    journal::Verification told;
    std::optional<journal::Comparison> comparison;
    DocumentsBeside beside{};
};

/// Everything that was asked is answered with yes.
bool is_as_written(const VerifyReport& report);
std::string report_text(const VerifyReport& report);
std::string report_json(const VerifyReport& report);

} // namespace stillmark::cli
