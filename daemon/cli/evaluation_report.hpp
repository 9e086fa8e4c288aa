#pragma once

#include "daemon/metrology/evaluation/evaluation.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace stillmark::cli {

/// An evaluation as lines for a person, none longer than `columns`. Its numbers are times `scale` in `unit` (empty:
/// unknown).
std::vector<std::string> evaluation_lines(const metrology::Evaluation& evaluation, const std::string& unit,
                                          double scale, std::size_t columns);

} // namespace stillmark::cli
