#pragma once

#include "daemon/bench/state.hpp"
#include "daemon/records/certificate.hpp"

#include <cstddef>
#include <vector>

namespace stillmark::records {

/// The presses that stood against the readings and that results of this instrument rest on: the confirmation and the
/// looks of a float with a mark that counts, the opened line of a zero, an entry. Each with what an instrument showed,
/// the certificate's own where it is one of them, and the reason.
std::vector<Overridden> overruled_readings(const bench::State& state, const bench::Run& run, std::size_t channel);

} // namespace stillmark::records
