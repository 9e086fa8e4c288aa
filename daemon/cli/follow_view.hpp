#pragma once

#include "daemon/cli/follow_state.hpp"
#include "daemon/cli/frame_view.hpp"

#include <cstddef>
#include <vector>

namespace stillmark::cli {

constexpr std::size_t least_columns = 80;
constexpr std::size_t least_rows = 24;

/// The whole screen: exactly `rows` lines of at most `columns`. A pure function; DEVELOPERS.md "The live view".
std::vector<Line> render(const FollowState& state, std::size_t columns, std::size_t rows, Micros now_us);

/// What `stillmark status` prints: the same pieces, as many lines as they need.
std::vector<Line> describe(const Frame& frame, std::size_t columns, Micros now_us);

} // namespace stillmark::cli
