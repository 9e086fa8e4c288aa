#include "simulator/service_client.hpp"

#include "simulator/answer_reading.hpp"

#include <fmt/format.h>

#include <array>
#include <chrono>
#include <cstring>
#include <poll.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

namespace stillmark::simulator {

namespace {

constexpr std::size_t longest_line = 1U << 22U;

} // namespace

std::unique_ptr<ServiceConnection> ServiceConnection::open(const std::string& path) {
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    if (path.size() >= sizeof address.sun_path) return nullptr;
    std::memcpy(address.sun_path, path.c_str(), path.size() + 1);
    const int descriptor = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (descriptor < 0) return nullptr;
    if (connect(descriptor, reinterpret_cast<const sockaddr*>(&address), sizeof address) != 0) {
        ::close(descriptor);
        return nullptr;
    }
    return std::unique_ptr<ServiceConnection>(new ServiceConnection(descriptor));
}

ServiceConnection::~ServiceConnection() {
    ::close(descriptor_);
}

bool ServiceConnection::send(const nlohmann::json& request) {
    const std::string line = request.dump() + "\n";
    std::size_t sent = 0;
    while (sent < line.size()) {
        const auto more = ::send(descriptor_, line.data() + sent, line.size() - sent, MSG_NOSIGNAL);
        if (more <= 0) {
            ended_ = true;
            return false;
        }
        sent += static_cast<std::size_t>(more);
    }
    return true;
}

std::optional<nlohmann::json> ServiceConnection::receive(int within_ms) {
    const Micros until = now_us() + Micros{within_ms} * 1000;
    for (;;) {
        if (const auto end = kept_.find('\n'); end != std::string::npos) {
            auto line = nlohmann::json::parse(kept_.substr(0, end), nullptr, false);
            kept_.erase(0, end + 1);
            if (!line.is_discarded()) return line;
            ended_ = true;
        }
        const Micros left_us = until - now_us();
        if (ended_ || left_us <= 0 || kept_.size() > longest_line) return std::nullopt;
        pollfd waiting{descriptor_, POLLIN, 0};
        if (poll(&waiting, 1, static_cast<int>(left_us / 1000) + 1) <= 0) continue;
        std::array<char, 65536> buffer{};
        const auto size = recv(descriptor_, buffer.data(), buffer.size(), 0);
        if (size <= 0)
            ended_ = true;
        else
            kept_.append(buffer.data(), static_cast<std::size_t>(size));
    }
}

nlohmann::json ServiceCommands::ask(nlohmann::json request) {
    for (int attempt = 0; attempt < 2; ++attempt) {
        if (!connection_ || connection_->ended()) connection_ = ServiceConnection::open(path_);
        if (!connection_) break;
        request["id"] = ++last_id_;
        if (!connection_->send(request)) continue; // it was restarted since the last request
        const Micros until = now_us() + static_cast<Micros>(reply_within_s_ * 1e6);
        while (const auto reply = connection_->receive(static_cast<int>((until - now_us()) / 1000)))
            if (whole_in(*reply, "id", -1) == last_id_) return *reply;
        if (!connection_->ended()) break;
    }
    connection_.reset();
    return {{"ok", false}, {"code", "unreachable"}, {"error", fmt::format("the service at {} does not answer", path_)}};
}

FrameStream::FrameStream(std::string path)
    : path_(std::move(path)), thread_([this](const std::stop_token& stop) { follow(stop); }) {}

void FrameStream::follow(const std::stop_token& stop) {
    while (!stop.stop_requested()) {
        const auto connection = ServiceConnection::open(path_);
        if (!connection || !connection->send({{"id", 1}, {"do", "subscribe"}, {"at_most_hz", 20}})) {
            std::this_thread::sleep_for(std::chrono::milliseconds(100));
            continue;
        }
        while (!stop.stop_requested() && !connection->ended()) {
            auto line = connection->receive(200);
            if (!line || !line->contains("frame")) continue;
            const std::scoped_lock lock(mutex_);
            latest_ = std::move((*line)["frame"]);
            ++number_;
            arrived_.notify_all();
        }
    }
}

std::optional<nlohmann::json> FrameStream::newer(long& seen, int within_ms) {
    std::unique_lock lock(mutex_);
    if (!arrived_.wait_for(lock, std::chrono::milliseconds(within_ms), [&] { return number_ > seen; }))
        return std::nullopt;
    seen = number_;
    return latest_;
}

} // namespace stillmark::simulator
