#pragma once

#include <cmath>
#include <cstdint>

namespace stillmark {

/// An instant or a span in whole microseconds. Instants count on CLOCK_BOOTTIME: it is steady, and unlike the
/// plain steady clock it goes on while a lid is closed, so that no float and no window is stretched by a sleep.
using Micros = std::int64_t;

/// A span of seconds, to the nearest microsecond.
inline Micros micros(double seconds) {
    return std::llround(seconds * 1e6);
}

namespace protocols {

/// The instant now, microseconds of CLOCK_BOOTTIME.
Micros now_us();

} // namespace protocols
} // namespace stillmark
