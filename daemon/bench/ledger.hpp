#pragma once

#include "daemon/bench/state.hpp"

namespace stillmark::bench {

/// How long a float may count after one sighting: half the band over the fall rate at that pressure, the time that the
/// piston turns freely, and the laboratory's own limit; the least of them. Seconds.
/// The fall rate is taken as proportional to the pressure (annular flow of a liquid through the gap).
double longest_float_s(const BalanceRange& range, double pressure_pa);

/// True where the open interval is of the range and load that the step plans.
bool float_agrees(const State& state, const Step& step);

/// True where the stated load is the one that the step plans.
bool load_agrees(const State& state, const Step& step);

// The facts of the float ledger, folded. Each returns what people must be told.
std::vector<Tell> fold(State& state, Micros at_us, const LoadStated& fact);
std::vector<Tell> fold(State& state, Micros at_us, const LineVented& fact);
std::vector<Tell> fold(State& state, Micros at_us, const FloatConfirmed& fact);
std::vector<Tell> fold(State& state, Micros at_us, const FloatSighted& fact);
std::vector<Tell> fold(State& state, Micros at_us, const FloatLost& fact);
std::vector<Tell> fold(State& state, Micros at_us, const FloatExpired& fact);
std::vector<Tell> fold(State& state, Micros at_us, const FloatUnknown& fact);

/// Ends the open interval because a person moved on; marks without a later sighting are unbracketed.
void move_on(State& state, Micros at_us);

} // namespace stillmark::bench
