#include "daemon/acquisition/poll_schedule.hpp"

#include <algorithm>

namespace stillmark::acquisition {

namespace {

/// The first instant of the grid at or after `from_us`.
Micros slot_from(const PollSchedule::Grid& grid, Micros from_us) {
    const Micros into = (from_us - grid.offset_us) % grid.period_us;
    if (into == 0) return from_us;
    return from_us - into + (into > 0 ? grid.period_us : 0);
}

} // namespace

PollSchedule::PollSchedule(const std::vector<Grid>& grids, Micros now_us) {
    channels_.reserve(grids.size());
    for (const Grid& grid : grids)
        channels_.push_back({grid, slot_from(grid, now_us)});
}

PollSchedule::Due PollSchedule::next() const {
    const auto earliest =
        std::min_element(channels_.begin(), channels_.end(),
                         [](const Channel& left, const Channel& right) { return left.due_us < right.due_us; });
    return {static_cast<std::size_t>(earliest - channels_.begin()), earliest->due_us};
}

std::uint64_t PollSchedule::done(std::size_t channel, Micros now_us, Micros not_before_us) {
    Channel& polled = channels_[channel];
    const Micros past = std::max(now_us, polled.due_us) + 1;
    const Micros earliest = slot_from(polled.grid, past);
    const Micros skipped = (earliest - polled.due_us) / polled.grid.period_us - 1;
    polled.due_us = std::max(earliest, slot_from(polled.grid, not_before_us));
    return static_cast<std::uint64_t>(skipped);
}

void PollSchedule::end_pause(std::size_t channel, Micros now_us) {
    Channel& polled = channels_[channel];
    polled.due_us = std::min(polled.due_us, slot_from(polled.grid, now_us));
}

} // namespace stillmark::acquisition
