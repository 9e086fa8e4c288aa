#pragma once

#include "daemon/acquisition/stillness.hpp"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

namespace stillmark::acquisition {

/// Collects the one window that a mark is measured over: the first W seconds of readings from an instant that was fixed
/// before any of them came, so that nobody, and no luck, chooses among windows. Good and bad readings are collected
/// alike; measure_window judges them.
class WindowCollector {
  public:
    /// Readings stamped before `not_before_us` do not belong to the window.
    WindowCollector(Micros not_before_us, const StillnessLimits& limits);

    /// Takes the next reading with its sequence number, both in rising order. The window starts with the first reading
    /// that belongs to it and is complete with the first one at or after start + W, which is its last.
    /// True once complete; later readings change nothing.
    bool take(std::uint64_t number, const TimedValue& reading);

    /// Gives up what was collected and waits for a new start.
    void begin_again(Micros not_before_us);

    bool complete() const { return complete_; }
    /// More readings came than a window can hold (sixteen times the planned rate): the window can never be complete.
    bool overflowed() const { return overflowed_; }
    /// 0 to 1: how much of W has been collected.
    double progress() const;

    /// Of the readings collected so far; meaningful where there is one.
    std::uint64_t first_number() const { return first_number_; }
    std::uint64_t last_number() const { return last_number_; }
    Micros from_us() const { return readings_.empty() ? 0 : readings_.front().at_us; }
    Micros to_us() const { return readings_.empty() ? 0 : readings_.back().at_us; }
    const std::vector<TimedValue>& readings() const { return readings_; }

  private:
    Micros not_before_us_;
    Micros window_us_;
    std::size_t most_;
    std::vector<TimedValue> readings_;
    std::uint64_t first_number_ = 0;
    std::uint64_t last_number_ = 0;
    bool complete_ = false;
    bool overflowed_ = false;
};

} // namespace stillmark::acquisition
