#pragma once

#include "daemon/bench/state.hpp"

namespace stillmark::bench {

// The facts of a run, folded. `number` is the event's place in the one order.
std::vector<Tell> fold(State& state, Micros at_us, const RunStarted& fact);
std::vector<Tell> fold(State& state, Micros at_us, const RunStopped& fact);
std::vector<Tell> fold(State& state, Micros at_us, const RunFinished& fact);

std::vector<Tell> fold(State& state, Micros at_us, std::uint64_t number, const VisitReopened& fact);

/// The first step of a visit (its load, or where the load stays its raising), where it may still be done again: no
/// later visit has had its float confirmed, and nothing was turned over since. The rule: a point is redone only while
/// no instrument has passed it.
std::optional<std::size_t> reopening_step(const Run& run, std::size_t visit);

/// Moves the run on after a fact: forward where a step is fulfilled, back where what it stood on is gone.
void settle(State& state, Micros at_us, std::uint64_t number);

/// Moves the run on where the fact is the one that the step waits for.
void answer(State& state, Micros at_us, std::uint64_t number, const Fact& fact);

/// True where every channel that takes part has a mark that stands for this visit.
bool visit_complete(const State& state, const Run& run, std::size_t visit);

} // namespace stillmark::bench
