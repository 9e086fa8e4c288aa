#pragma once

#include "daemon/cli/checked_json.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace stillmark::cli {

/// An evaluation, as decider::evaluation_json writes it, as lines for a person, none longer than `columns`. Its numbers
/// are in `unit` (empty: unknown). What is not as the contract says is told in `objection` and left out.
std::vector<std::string> evaluation_lines(const Json& evaluation, const std::string& unit, std::size_t columns,
                                          std::string& objection);

} // namespace stillmark::cli
