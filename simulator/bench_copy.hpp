#pragma once

#include <string>

namespace stillmark::simulator {

/// Copies a bench file into a folder with every port replaced by one that is free now, comments and all, so that runs
/// side by side do not meet. Gives the copy's path. Throws Mistake.
std::string copy_bench_with_free_ports(const std::string& bench, const std::string& folder);

} // namespace stillmark::simulator
