#include "protocols/descriptor.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <fcntl.h>
#include <poll.h>
#include <sys/select.h>
#include <unistd.h>

namespace stillmark::protocols {

Readable wait_readable(int descriptor, std::chrono::steady_clock::time_point until) {
    for (;;) {
        const auto left =
            std::max(std::chrono::nanoseconds(until - std::chrono::steady_clock::now()), std::chrono::nanoseconds(0));
        const timespec patience{.tv_sec = left.count() / 1'000'000'000, .tv_nsec = left.count() % 1'000'000'000};
        pollfd watched{.fd = descriptor, .events = POLLIN, .revents = 0};
        const int ready = ppoll(&watched, 1, &patience, nullptr);
        if (ready == 0) return Readable::nothing;
        if (ready < 0 && errno == EINTR) continue;
        if (ready < 0 || (watched.revents & (POLLHUP | POLLERR | POLLNVAL)) != 0) return Readable::gone;
        return Readable::bytes;
    }
}

bool take_waiting(const Reads& reads, std::string& taken) {
    std::array<char, 256> chunk{};
    bool told_of_bytes = false;
    for (std::size_t total = 0; total < 4096;) {
        const ssize_t count = reads.read(chunk.data(), chunk.size());
        if (count < 0 && errno == EINTR) continue;
        if (count < 0) return errno == EAGAIN || errno == EWOULDBLOCK;
        if (count == 0) {
            // A terminal with nothing to read may answer zero bytes; so does a connection that was closed. poll()
            // tells: bytes that came just now can be read, the end of a connection reads as zero bytes again.
            const Readable now = reads.poll();
            if (now == Readable::nothing) return true;
            if (now == Readable::gone || told_of_bytes) return false;
            told_of_bytes = true;
            continue;
        }
        told_of_bytes = false;
        taken.append(chunk.data(), static_cast<std::size_t>(count));
        total += static_cast<std::size_t>(count);
    }
    return true;
}

bool take_waiting(int descriptor, std::string& taken) {
    return take_waiting({[descriptor](char* into, std::size_t size) { return ::read(descriptor, into, size); },
                         [descriptor] { return wait_readable(descriptor, {}); }},
                        taken);
}

int move_above_select(int descriptor) {
    const int moved = fcntl(descriptor, F_DUPFD_CLOEXEC, FD_SETSIZE);
    if (moved < 0) return descriptor;
    ::close(descriptor);
    return moved;
}

} // namespace stillmark::protocols
