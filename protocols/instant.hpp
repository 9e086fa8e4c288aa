#pragma once

#include <cstdint>

namespace stillmark {

/// An instant or a span in whole microseconds. Instants count on CLOCK_BOOTTIME: it is steady, and unlike the
/// plain steady clock it goes on while a lid is closed, so that no float and no window is stretched by a sleep.
using Micros = std::int64_t;

namespace protocols {

/// The instant now, microseconds of CLOCK_BOOTTIME.
Micros now_us();

} // namespace protocols
} // namespace stillmark
