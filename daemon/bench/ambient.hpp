#pragma once

#include "daemon/bench/state.hpp"

#include <string>
#include <vector>

namespace stillmark::bench {

// The ambient pressure as a reference: who counts from it, and whether the barometer's reading still holds for them.

/// Whether the reference of this instrument is made with the ambient pressure: where it and the line, vented or under
/// the balance's pressure, are counted from different things.
bool rests_on_ambient(const BenchFile& bench, const Instrument& instrument, bool vented);
/// Whether any mark that this channel owes in the run is.
bool rests_on_ambient(const Run& run, std::size_t channel);

/// Whether the barometer was read, and not longer ago than the bench file lets its reading count.
bool barometer_is_current(const State& state, Micros now_us);

/// Why the ambient pressure holds a mark (or a zero) of this instrument back, in words that say what to do; empty where
/// it does not, and where the instrument does not count from it.
std::string ambient_obstacle(const State& state, const Instrument& instrument, bool vented, Micros now_us);

/// The surroundings that the running run needs to be entered now, by their keys in the command `surroundings`: all of
/// them where they are too old, the air pressure where an instrument of the run counts from it.
std::vector<std::string> surroundings_asked(const State& state, Micros now_us);

} // namespace stillmark::bench
