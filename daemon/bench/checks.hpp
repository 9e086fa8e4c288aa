#pragma once

#include "daemon/acquisition/stillness.hpp"
#include "daemon/bench/commands.hpp"

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace stillmark::bench {

// Checks before a run: warm-up, level, purge, leak, zeros, preloads. Each is held against a limit of the bench file and
// recorded with its result. One that fails holds the run: it is done again, or somebody goes on with a reason.

/// What still lacks a good result at a check.
struct CheckNeed {
    std::optional<std::size_t> channel; ///< none: one result for the whole bench
    bool by_readings = false;           ///< else a person states it
};
/// In the order in which a person is asked; empty where the step is no check or everything is there.
std::vector<CheckNeed> open_needs(const Run& run, const Step& step);

/// The latest result of this step, or nothing.
const CheckResult* latest_check(const Run& run, std::size_t step);
/// A result of this step that failed, that no later one replaced and that nobody went on after; the latest such one.
const CheckResult* standing_failure(const Run& run, std::size_t step);

/// "at most 0.05 bar within 60 s": the limit of a check in words.
std::string limit_words(const BenchFile& bench, CheckKind kind);

/// What a person answers to the present check. Without a value the readings are asked: a leak, zeros.
struct CheckAnswer {
    std::string value;   ///< with its unit: "20 min", "0.3 mrad", "2.5 turns", "0.4 bar"
    std::string channel; ///< whose zero it is
};
Decision answer_check(const State& state, const Press& press, std::int64_t step, const CheckAnswer& answer);
/// Goes on after a check that failed; the reason stays on record.
Decision waive_check(const State& state, const Press& press, std::int64_t step, const std::string& reason);

/// One reading with its number in the one order.
struct NumberedReading {
    std::uint64_t number = 0;
    acquisition::TimedValue value;
};

/// The channels that the present check watches, and the time whose readings count.
struct CheckWatch {
    std::vector<std::size_t> channels;
    Micros from_us = 0;
    Micros to_us = 0;
};
/// Nothing where no check is being watched.
std::optional<CheckWatch> check_watch(const State& state);

/// The result of the present check for one channel, from the readings of its time in order; only while one is watched
/// (check_watch). Value and limit are in Pa: of a leak the fall within the watch, of a zero what the instrument shows
/// less what its head lets expect. Spoiled or missing readings do not pass; the words say why.
CheckRecorded judge_check(const State& state, std::size_t channel, std::span<const NumberedReading> readings);

/// What the hold of a preload came to, as its time has passed: it failed where the readings `seen` then contradict
/// that the load still floats. Only at the step of such a hold.
CheckRecorded preload_held(const State& state, std::span<const SeenReading> seen, Micros now_us);
/// Whether the hold of the present step failed since it began, and waits to be held again or gone on after.
bool preload_failed(const Run& run);

// Folded as facts of a run.
std::vector<Tell> fold(State& state, Micros at_us, const CheckBegun& fact);
std::vector<Tell> fold(State& state, Micros at_us, const CheckRecorded& fact);
std::vector<Tell> fold(State& state, Micros at_us, const CheckWaived& fact);

} // namespace stillmark::bench
