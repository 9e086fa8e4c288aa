#pragma once

#include <boost/system/error_code.hpp>

#include <fcntl.h>

namespace stillmark::gateway {

/// Buses need the descriptors below 1024 (libmodbus waits with select); a socket of a client moves above them. Where
/// the limit of open files is lower, it stays; then nothing is gained and nothing lost.
template <class Socket>
void move_above_select(Socket& socket) {
    boost::system::error_code ignored;
    const auto end = socket.local_endpoint(ignored);
    const int high = ::fcntl(socket.native_handle(), F_DUPFD_CLOEXEC, 1024);
    if (high < 0) return;
    socket.close(ignored);
    socket.assign(end.protocol(), high, ignored);
}

} // namespace stillmark::gateway
