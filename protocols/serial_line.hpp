#pragma once

#include "protocols/modbus_link.hpp"

#include <chrono>
#include <string>
#include <sys/stat.h>

namespace stillmark::protocols {

/// The silence that parts two RTU frames: 3.5 characters of 11 bits, whatever the settings, and 1.75 ms above
/// 19200 baud. Modbus over Serial Line V1.02, 2.5.1.1.
std::chrono::nanoseconds frame_silence(int baud);

/// How long `characters` take on the line, with start, parity and stop bits.
std::chrono::nanoseconds line_time(const SerialSettings& settings, int characters);

/// Whether a device is a pseudo-terminal, which has no wire.
bool is_pseudo_terminal(const struct stat& about);

/// The least time from the beginning of a request to the end of its answer: both on the line and `silence` between
/// them, less a twentieth for the clocks of both ends. 0 on a pseudo-terminal, which has no wire, unless `paced` says
/// otherwise.
std::chrono::nanoseconds soonest_answer(const SerialSettings& settings, std::chrono::nanoseconds silence,
                                        std::size_t request_characters, std::size_t answer_characters);

/// The settings as the device can take them. A pseudo-terminal has no wire: it keeps neither parity nor 7 bits, and
/// setting them fails where nothing else changes, as after a program that was killed and started again.
SerialSettings as_taken_by_device(SerialSettings settings);

/// Empty where the open terminal really runs at these settings; drivers may take others without a word.
std::string setting_not_taken(int terminal, const SerialSettings& settings);

/// Whether the adapter behind an open terminal was pulled out: a read of zero bytes alone does not tell.
bool unplugged(int terminal);

} // namespace stillmark::protocols
