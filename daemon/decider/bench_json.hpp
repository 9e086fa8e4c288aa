#pragma once

#include "daemon/bench/bench_file.hpp"

#include <nlohmann/json.hpp>

namespace stillmark::decider {

/// What a client must know of the bench beside its frames: ranges, discs with their masses, instruments, sequences,
/// limits. The keys stand in the API's description.
nlohmann::json bench_json(const bench::BenchFile& bench);

} // namespace stillmark::decider
