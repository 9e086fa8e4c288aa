#pragma once

#include "daemon/bench/seen_reading.hpp"
#include "daemon/bench/state.hpp"

#include <cstddef>
#include <optional>
#include <span>

namespace stillmark::bench {

/// A suspicion that the load on the head is another than the one stated for the open float interval, from readings at
/// rest; or nothing. An instrument is expected to be off as it was at the nearest pressure whose mark in this run
/// stands bracketed, to half its permissible error; before any such mark, by no more than its permissible error.
std::optional<WrongLoadSuspected> suspect_wrong_load(const State& state, std::span<const SeenReading> readings);

/// The suspicion that the open float interval is none any more, with ranked reasons, where all readings drift together.
LossSuspected suspect_loss(const State& state, std::span<const SeenReading> readings, Micros now_us);

std::vector<Tell> fold(State& state, Micros at_us, const LossSuspected& fact);
std::vector<Tell> fold(State& state, Micros at_us, const WrongLoadSuspected& fact);

/// The latest suspicion of the open float interval's load, or nothing.
const Suspicion* load_suspicion(const State& state);
/// The latest suspicion of the open float itself, or nothing.
const Suspicion* float_suspicion(const State& state);

} // namespace stillmark::bench
