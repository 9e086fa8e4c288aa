#pragma once

#include "protocols/instant.hpp"

#include <cstddef>
#include <cstdint>
#include <vector>

namespace stillmark::acquisition {

/// When each channel of one bus is polled next. Every channel has a fixed grid of instants, offset + k * period on the
/// clock of Micros: polls do not drift however long exchanges take, and after a stall the slots that have passed are
/// skipped and counted, never made up in a burst.
/// Pure: the clock is passed in.
class PollSchedule {
  public:
    struct Grid {
        Micros period_us; ///< at least 1
        Micros offset_us; ///< any
    };
    /// The first slot of each channel is the first of its grid at or after `now_us`.
    PollSchedule(const std::vector<Grid>& grids, Micros now_us);

    struct Due {
        std::size_t channel; ///< index into the grids
        Micros at_us;
    };
    /// The earliest slot of all channels, the first channel of several. At least one channel.
    Due next() const;

    /// The channel was dealt with until `now_us`: its next slot is the first after that, and not before
    /// `not_before_us` where a pause is wanted. Slots that passed during the exchange or a stall count as skipped,
    /// those of a wanted pause do not. Returns how many were skipped.
    std::uint64_t done(std::size_t channel, Micros now_us, Micros not_before_us = 0);

    /// Ends a wanted pause: the next slot is the first at or after `now_us`, where it is not sooner already.
    void end_pause(std::size_t channel, Micros now_us);

  private:
    struct Channel {
        Grid grid;
        Micros due_us;
    };
    std::vector<Channel> channels_;
};

} // namespace stillmark::acquisition
