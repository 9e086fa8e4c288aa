#pragma once

#include "daemon/bench/seen_reading.hpp"
#include "daemon/bench/state.hpp"

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace stillmark::bench {

// What a person states is held against the readings. It stays the person's word: readings that contradict it ask for a
// second press with a reason, and the reason is kept.

/// One instrument that contradicts what was stated; Pa.
struct Contradiction {
    std::size_t channel = 0;
    double shows_pa = 0;
    double expected_pa = 0;
    double far_pa = 0; ///< more than so far from what is expected contradicts
};

/// How far a reading lies from an expected pressure before it contradicts, Pa: more than five times the instrument's
/// permissible error, and more than 2 % of the expected pressure. Without a permissible error, at no pressure: 2 % of
/// the span. Source: the project's own rule, DEVELOPERS.md "Presses and readings".
double far_pa(const Instrument& instrument, double expected_pa);

/// What contradicts that the line is without pressure, or open to air: every instrument that reads far above or below
/// it. One is enough: the cost of another look is small, that of a joint opened under pressure is not.
std::vector<Contradiction> contradict_no_pressure(const State& state, std::span<const SeenReading> seen);

/// What contradicts that this load floats in this range: those that read far from its pressure, where they are more
/// than half of those that read.
std::vector<Contradiction> contradict_float(const State& state, std::span<const SeenReading> seen, std::size_t range,
                                            const std::vector<std::size_t>& discs);

/// Whether an entry for an instrument that a person reads lies far from the pressure that it is exposed to: of both its
/// readings the one that is farther off. Nothing where neither is, or no pressure is known.
std::optional<Contradiction> contradict_entry(const State& state, std::size_t channel, const ReadingEntered& entry);

/// "10.02": a pressure in the unit of the instrument's results, to its resolution.
std::string pressure_number(const Instrument& instrument, double pressure_pa);
/// "10.02 bar": a pressure as the instrument's results give it, to its resolution.
std::string pressure_words(const Instrument& instrument, double pressure_pa);

/// "A shows 0.02 bar where 10.00 bar is expected (more than 0.50 bar off); B ...".
std::string words(const BenchFile& bench, std::span<const Contradiction> all);

std::vector<Tell> fold(State& state, Micros at_us, const ReadingsOverruled& fact);

} // namespace stillmark::bench
