#pragma once

#include "daemon/acquisition/stillness.hpp"
#include "daemon/bench/approach.hpp"
#include "daemon/bench/state.hpp"
#include "daemon/metrology/reference_pressure.hpp"

#include <optional>
#include <span>
#include <string>

namespace stillmark::bench {

/// That a channel may open a window for a mark now, and from when on readings belong to it.
struct WindowPermit {
    Micros not_before_us = 0;
    std::int64_t interval = 0;
    std::size_t visit = 0;
};

/// The permit, or nothing and `why` in words for a person. `now_us` decides whether stated surroundings still hold.
/// Not before: confirmation + settle guard + latency (+ the sequence's wait), and stillness reached.
std::optional<WindowPermit> window_permit(const State& state, std::size_t channel, Micros now_us, std::string& why);

/// True while a window that was opened may go on: same float interval, channel neither moving nor faulty nor silent.
bool window_may_go_on(const State& state, std::size_t channel, const WindowPermit& permit);

/// A window as it was collected, numbered in the one order.
struct Window {
    std::uint64_t first = 0;
    std::uint64_t last = 0;
    Micros largest_timing_us = 0;
    std::span<const acquisition::TimedValue> readings;
};

/// The reference pressure for the open float interval as one instrument sees it.
metrology::ReferencePressure reference_for(const State& state, const FloatInterval& interval,
                                           const Instrument& instrument);

/// The reference at one instrument while the line is open to air: the air and the line, nothing of the balance.
metrology::ReferencePressure reference_vented(const State& state, const Instrument& instrument);

/// The watch over the approach to the current point for one channel, or nothing where no point is being approached.
std::optional<ApproachWatch> approach_watch(const State& state, std::size_t channel);

/// Measures a window afresh and makes the mark of it, or says why there is none (a fact too). Pure: replay calls it
/// with the journalled readings and must get the same mark to the last bit.
Fact judge_window(const State& state, std::size_t channel, const Window& window, const ApproachWatch& approach);

/// The mark of the entry that a person just made for an instrument without a wire, or why there is none.
Fact judge_entry(const State& state, std::size_t channel, const ReadingEntered& entry);

} // namespace stillmark::bench
