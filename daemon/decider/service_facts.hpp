#pragma once

#include "daemon/bench/commands.hpp"
#include "daemon/bench/state.hpp"

namespace stillmark::decider {

/// What a service that starts has to put on record: itself, an open float that nobody watched, and the bench where it
/// is new. Refused where a run is open that began with another revision of the bench file, unless that run is ended.
bench::Decision first_facts(const bench::State& recovered, const bench::BenchFile& bench, bool end_run);

/// This service: boot, build, compiler, libm, processor.
bench::ServiceStarted this_service();

} // namespace stillmark::decider
