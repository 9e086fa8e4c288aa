#pragma once

#include <nlohmann/json.hpp>

#include <functional>
#include <memory>
#include <optional>
#include <string>

namespace stillmark::gateway {

/// How the gateway reaches the deciding thread. Both are called on the gateway's thread and must return at once.
struct GatewayDoor {
    /// Answers a request; `reply` may be called on any thread, once.
    std::function<void(nlohmann::json request, std::function<void(nlohmann::json)> reply)> ask;
};

/// Serves clients on a Unix stream socket from its own thread: one JSON object a line each way. Bounded everywhere: 64
/// clients, 64 KiB a line, a slow client misses frames and, where even replies pile up, is cut off.
class LocalSocket {
  public:
    /// Says what is wrong with the path, or nothing. A socket file that nobody serves is replaced.
    static std::optional<std::string> objection_to(const std::string& path);

    LocalSocket(std::string path, GatewayDoor door);
    ~LocalSocket();
    /// Why nobody can connect, or nothing.
    std::optional<std::string> trouble() const;
    /// Closes every client and removes the socket file; replies that come later go nowhere.
    void stop();
    LocalSocket(const LocalSocket&) = delete;
    LocalSocket& operator=(const LocalSocket&) = delete;

    /// From any thread: a live frame, serialised once for everybody who subscribed.
    void publish(std::shared_ptr<const std::string> frame_line);
    /// From any thread: whether anybody would see a frame.
    bool has_subscribers() const;

    struct Server; ///< what the sockets need; its inside is the implementation's own

  private:
    std::unique_ptr<Server> server_;
};

} // namespace stillmark::gateway
