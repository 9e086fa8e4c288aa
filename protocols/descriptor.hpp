#pragma once

#include <chrono>
#include <cstddef>
#include <functional>
#include <string>

namespace stillmark::protocols {

enum class Readable { nothing /* time ran out */, bytes, gone /* hung up */ };

/// Waits until bytes can be read, until the other end is gone, or until the instant.
Readable wait_readable(int descriptor, std::chrono::steady_clock::time_point until);

/// Reads away what waits in a non-blocking descriptor (at most 4096 bytes) and appends it to `taken`.
/// False where the other end is gone.
bool take_waiting(int descriptor, std::string& taken);

/// The same over any source: `read` as read(2), `poll` whether bytes can be read now.
struct Reads {
    std::function<std::ptrdiff_t(char* into, std::size_t size)> read;
    std::function<Readable()> poll;
};
bool take_waiting(const Reads& reads, std::string& taken);

/// A duplicate above what select() can watch, so that the low numbers stay for Modbus links; the same descriptor
/// where the process may not have so many.
int move_above_select(int descriptor);

} // namespace stillmark::protocols
