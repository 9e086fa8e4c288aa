#pragma once

#include "drivers/profile.hpp"

#include <cstdint>
#include <span>
#include <utility>

namespace stillmark::drivers {

/// Registers that a number takes: 1, 2 or 4.
int words_of(NumberType type);

/// The bits of a number of `registers.size()` words (1 to 4) that travel in this order, put right.
std::uint64_t bits_in(std::span<const std::uint16_t> registers, ByteOrder order);

/// The least and greatest raw number that a sentinel of this type may name. For a float: the whole numbers that it
/// holds exactly.
std::pair<std::int64_t, std::int64_t> raw_limits(NumberType type);

} // namespace stillmark::drivers
