#include "daemon/cli/line_socket.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <stdexcept>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>
#include <utility>

namespace stillmark::cli {

namespace {

std::string reason(int error) {
    switch (error) {
    case ENOENT:
        return "there is no such socket; is stillmarkd running?";
    case ECONNREFUSED:
        return "nobody listens there; is stillmarkd running?";
    case EACCES:
        return "no permission; is this user in the service's group?";
    case EAGAIN:
        return "the service has too many clients waiting";
    case ENOTSOCK:
        return "this is no socket";
    default:
        return std::strerror(error);
    }
}

} // namespace

void throw_exception_from_error(const Trouble& trouble, const boost::source_location&) {
    throw std::runtime_error(trouble.message);
}

Outcome<LineSocket> LineSocket::connect(const std::string& path) {
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    if (path.empty() || path.size() >= sizeof(address.sun_path))
        return Trouble{fmt::format("socket {}: a path of 1 to {} bytes is needed", path, sizeof(address.sun_path) - 1)};
    std::memcpy(address.sun_path, path.data(), path.size());
    const int descriptor = ::socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (descriptor < 0) return Trouble{fmt::format("socket {}: {}", path, std::strerror(errno))};
    LineSocket connected(descriptor);
    if (::connect(descriptor, reinterpret_cast<const sockaddr*>(&address), sizeof(address)) != 0)
        return Trouble{fmt::format("socket {}: {}", path, reason(errno))};
    return connected;
}

LineSocket::LineSocket(int descriptor) : descriptor_(descriptor) {}

LineSocket::LineSocket(LineSocket&& other) noexcept
    : descriptor_(std::exchange(other.descriptor_, -1)), unsent_(std::move(other.unsent_)),
      received_(std::move(other.received_)), taken_(other.taken_), searched_(other.searched_) {}

LineSocket& LineSocket::operator=(LineSocket&& other) noexcept {
    std::swap(descriptor_, other.descriptor_);
    std::swap(unsent_, other.unsent_);
    std::swap(received_, other.received_);
    std::swap(taken_, other.taken_);
    std::swap(searched_, other.searched_);
    return *this;
}

LineSocket::~LineSocket() {
    if (descriptor_ >= 0) ::close(descriptor_);
}

std::optional<Trouble> LineSocket::send(std::string_view line) {
    unsent_.append(line);
    unsent_.push_back('\n');
    return write_some();
}

std::optional<Trouble> LineSocket::write_some() {
    while (!unsent_.empty()) {
        const ssize_t sent = ::send(descriptor_, unsent_.data(), unsent_.size(), MSG_NOSIGNAL | MSG_DONTWAIT);
        if (sent > 0) {
            unsent_.erase(0, static_cast<std::size_t>(sent));
        } else if (errno == EAGAIN || errno == EWOULDBLOCK) {
            return std::nullopt;
        } else if (errno != EINTR) {
            return Trouble{fmt::format("the service closed the connection ({})", std::strerror(errno))};
        }
    }
    return std::nullopt;
}

std::optional<Trouble> LineSocket::pump() {
    if (auto trouble = write_some()) return trouble;
    if (taken_ > 0) {
        received_.erase(0, taken_);
        searched_ -= taken_;
        taken_ = 0;
    }
    std::array<char, 65536> piece{};
    // Bounded, so that a service which sends without end cannot keep a view from its keys.
    for (int pieces = 0; pieces < 64; ++pieces) {
        const ssize_t got = ::recv(descriptor_, piece.data(), piece.size(), MSG_DONTWAIT);
        if (got > 0) {
            received_.append(piece.data(), static_cast<std::size_t>(got));
        } else if (got == 0) {
            return Trouble{"the service closed the connection"};
        } else if (errno == EAGAIN || errno == EWOULDBLOCK) {
            break;
        } else if (errno != EINTR) {
            return Trouble{fmt::format("the connection to the service broke ({})", std::strerror(errno))};
        }
    }
    // The end of a line that is too long may have come with it; it is handed out no more than its beginning.
    if (received_.size() - taken_ > longest_line &&
        std::min(received_.find('\n', taken_), received_.size()) - taken_ > longest_line) {
        received_.resize(taken_);
        searched_ = taken_;
        return Trouble{fmt::format("a line of over {} MiB came; this is no stillmarkd", longest_line >> 20U)};
    }
    return std::nullopt;
}

std::optional<std::string> LineSocket::take_line() {
    const std::size_t end = received_.find('\n', searched_);
    if (end == std::string::npos) {
        searched_ = received_.size();
        return std::nullopt;
    }
    std::string line = received_.substr(taken_, end - taken_);
    taken_ = searched_ = end + 1;
    return line;
}

} // namespace stillmark::cli
