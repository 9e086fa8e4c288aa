#pragma once

#include <cstdint>

namespace stillmark::simulator {

/// Microseconds of CLOCK_BOOTTIME, the clock that the service's instants count on.
using Micros = std::int64_t;
Micros now_us();

/// A span of seconds as microseconds.
constexpr Micros micros(double seconds) {
    return static_cast<Micros>(seconds * 1e6);
}

} // namespace stillmark::simulator
