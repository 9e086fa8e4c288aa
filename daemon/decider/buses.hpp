#pragma once

#include "daemon/acquisition/bus_thread.hpp"
#include "daemon/bench/bench_file.hpp"

#include <vector>

namespace stillmark::decider {

/// A plan for every bus that has instruments: its link, a driver for each instrument, polls spread over the period.
/// A serial device is looked up beside the bench file where its path is relative.
std::vector<acquisition::BusPlan> bus_plans(const bench::BenchFile& bench);

} // namespace stillmark::decider
