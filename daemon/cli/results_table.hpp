#pragma once

#include "daemon/cli/frame.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace stillmark::cli {

/// The marks of a run as tables, one an instrument in its own unit, then the float intervals that they lie in; no line
/// longer than `columns`. Reference and deviation carry the digits of their uncertainty (JCGM 100:2008, 7.2.6).
std::vector<std::string> results_table(const std::vector<Mark>& marks, std::size_t columns);

} // namespace stillmark::cli
