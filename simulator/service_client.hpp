#pragma once

#include "simulator/instant.hpp"

#include <boost/asio.hpp>
#include <nlohmann/json.hpp>

#include <condition_variable>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>

namespace stillmark::simulator {

/// A line-by-line connection to the service's local socket, as DEVELOPERS.md "The local socket" describes it.
class ServiceConnection {
  public:
    /// Nothing where nobody listens there.
    static std::unique_ptr<ServiceConnection> open(const std::string& path);
    ~ServiceConnection();
    ServiceConnection(const ServiceConnection&) = delete;
    ServiceConnection& operator=(const ServiceConnection&) = delete;

    bool send(const nlohmann::json& request);
    /// The next line, or nothing where the connection ended, the line is no JSON, or `within_ms` passed.
    std::optional<nlohmann::json> receive(int within_ms);
    bool ended() const { return ended_; }

  private:
    explicit ServiceConnection(int descriptor) : descriptor_(descriptor) {}
    int descriptor_;
    std::string kept_;
    bool ended_ = false;
};

/// Asks and waits for the answer; reconnects when the service came back.
class ServiceCommands {
  public:
    /// `reply_within_s`: how long one reply is waited for.
    ServiceCommands(std::string path, double reply_within_s)
        : path_(std::move(path)), reply_within_s_(reply_within_s) {}
    /// The reply; `{"ok": false, "code": "unreachable", ...}` where none came in time.
    nlohmann::json ask(nlohmann::json request);

  private:
    std::string path_;
    double reply_within_s_;
    std::unique_ptr<ServiceConnection> connection_;
    int last_id_ = 0;
};

/// Follows the service's frames on its own thread, over restarts of the service.
class FrameStream {
  public:
    explicit FrameStream(std::string path);
    /// The newest frame after number `seen` (which it replaces), or nothing when `within_ms` passed without one.
    std::optional<nlohmann::json> newer(long& seen, int within_ms);

  private:
    void follow(const std::stop_token& stop);
    std::string path_;
    std::mutex mutex_;
    std::condition_variable arrived_;
    nlohmann::json latest_;
    long number_ = 0;
    std::jthread thread_;
};

} // namespace stillmark::simulator
