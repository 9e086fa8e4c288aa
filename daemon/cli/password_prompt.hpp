#pragma once

#include <optional>
#include <string>

namespace stillmark::cli {

/// A new password: on a terminal asked for twice and not shown; otherwise the first line of standard input, so that a
/// script can give one without its standing in the list of processes. Nothing, and `trouble` says why, where none came.
std::optional<std::string> ask_new_password(const std::string& for_whom, std::string& trouble);

} // namespace stillmark::cli
