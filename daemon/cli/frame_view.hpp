#pragma once

#include "daemon/cli/frame.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace stillmark::cli {

/// One line of a screen. Weight never carries a meaning that the words do not.
struct Line {
    enum class Weight { plain, bold, reverse };
    std::string text;
    Weight weight = Weight::plain;
};

/// How far a frame can be taken for the present.
struct Present {
    Micros now_us = 0;
    bool connected = true;
};

/// True where the frame tells of now: the service is there and its last frame is not over a second old.
bool is_live(const Frame& frame, const Present& present);
/// How long ago the channel's last reading was taken, or nothing where none is known.
std::optional<Micros> since_reading_us(const Channel& channel, const Frame& frame, const Present& present);
/// True where the channel's value may be shown as its reading now.
bool is_fresh(const Channel& channel, const Frame& frame, const Present& present);

// Pieces of a screen, each a pure function of the frame; every line fits into `columns` (80 or more).

std::vector<Line> header_lines(const Frame& frame, std::size_t columns);
std::vector<Line> title_lines(const Frame& frame, std::size_t columns);
/// What to do, numbered; in more than one column where more than `rows` would be needed.
std::vector<Line> instruction_lines(const Frame& frame, std::size_t columns, std::size_t rows);
std::vector<Line> caution_lines(const Frame& frame, std::size_t columns);
std::vector<Line> waiting_lines(const Frame& frame, std::size_t columns);
std::vector<Line> float_lines(const Frame& frame, const Present& present, std::size_t columns);
std::vector<Line> load_lines(const Frame& frame, std::size_t columns);
/// A heading, then one line a channel.
std::vector<Line> channel_lines(const Frame& frame, const Present& present, std::size_t columns);
/// The channels from the index `first` on, counted by their state: "and 6 more channels: 4 still, 2 settling".
std::string rest_of_channels(const Frame& frame, const Present& present, std::size_t first);
/// The latest fault of each channel that had one: kind, count, age, and what the wire gave.
std::vector<Line> fault_lines(const Frame& frame, const Present& present, std::size_t columns);
/// Ranges of the balance in poor health.
std::vector<Line> health_lines(const Frame& frame, std::size_t columns);
std::vector<Line> not_still_lines(const Frame& frame, const Present& present, std::size_t columns);
/// The last marks, the latest first, one line each.
std::vector<Line> mark_lines(const Frame& frame, std::size_t columns);
/// In place of the step, while an instrument reads above the lowest rating on the bench.
std::vector<Line> over_pressure_lines(const Frame& frame, std::size_t columns);
std::vector<Line> advice_lines(const Frame& frame, std::size_t columns);

} // namespace stillmark::cli
