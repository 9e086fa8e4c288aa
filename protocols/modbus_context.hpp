#pragma once

#include <modbus/modbus.h>

#include <chrono>
#include <cstdint>
#include <memory>
#include <sys/select.h>

namespace stillmark::protocols {

struct FreeContext {
    void operator()(modbus_t* context) const { modbus_free(context); }
};
using ModbusContext = std::unique_ptr<modbus_t, FreeContext>;

/// libmodbus waits with select(), which ends the whole process on a descriptor of FD_SETSIZE (1024) or more.
inline bool can_be_selected(int descriptor) {
    return descriptor >= 0 && descriptor < FD_SETSIZE;
}

/// Lets the whole answer take at most `patience`. With a byte timeout of its own each later byte would begin a new
/// wait; without one libmodbus lets select() count the one time down. Its own recovery sleeps and loops inside the call
/// and stays off.
inline void set_patience(modbus_t* context, std::chrono::nanoseconds patience) {
    const auto us = std::max<std::int64_t>(patience.count() / 1000, 1);
    modbus_set_response_timeout(context, static_cast<std::uint32_t>(us / 1'000'000),
                                static_cast<std::uint32_t>(us % 1'000'000));
    modbus_set_byte_timeout(context, 0, 0);
}

} // namespace stillmark::protocols
