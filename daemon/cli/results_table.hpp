#pragma once

#include "daemon/cli/frame.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace stillmark::cli {

/// A run as text: its marks in tables, one an instrument in its own unit, the points that have no mark, and the float
/// intervals that the marks lie in; no line longer than `columns`. Reference and deviation carry the digits of their
/// uncertainty (JCGM 100:2008, 7.2.6).
std::vector<std::string> results_table(const Results& results, std::size_t columns);

} // namespace stillmark::cli
