#pragma once

#include "daemon/gateway/http_routes.hpp"
#include "daemon/gateway/same_site.hpp"
#include "protocols/instant.hpp"

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ssl/context.hpp>

#include <atomic>
#include <memory>
#include <optional>
#include <set>

namespace stillmark::gateway {

/// The limits of the server; the page and the man page name them.
struct HttpLimits {
    static constexpr std::size_t most_connections = 256;
    /// Fewer, so that presses get through however many look on.
    static constexpr std::size_t most_views = 192;
    /// How many connections beyond the limit are told so at a time; more are closed at once.
    static constexpr std::size_t most_turned_away = 64;
    static constexpr std::uint32_t longest_header = 8192;
    static constexpr std::uint64_t longest_body = 65'536;
    static constexpr Micros request_us = 10'000'000; ///< for a request to arrive
    static constexpr Micros idle_us = 60'000'000;    ///< between two requests
    static constexpr Micros answer_us = 30'000'000;  ///< for an answer to be taken
    static constexpr Micros parting_us = 1'000'000;  ///< for the last words of a connection
    static constexpr Micros view_stuck_us = 5'000'000;
    static constexpr std::size_t most_waiting_frames = 8;
    static constexpr int longest_wait_s = 10; ///< for the deciding thread's reply
};

class HttpSession;
class LiveSession;

/// What the connections of one server share, on the gateway's thread.
struct HttpShared {
    /// Shared, because a reply may still be held by the deciding thread when the server is gone.
    std::shared_ptr<boost::asio::io_context> io = std::make_shared<boost::asio::io_context>(1);
    HttpGround ground;
    SameSite site;
    HttpCounts counts;
    std::optional<boost::asio::ssl::context> tls;
    std::set<std::shared_ptr<HttpSession>> sessions;
    std::set<std::shared_ptr<LiveSession>> views;
    std::atomic<std::size_t> subscribers{0};
    bool stopping = false;
};

/// One place among the connections, held as long as one is open.
class Place {
  public:
    explicit Place(std::shared_ptr<HttpShared> shared) : shared_(std::move(shared)) { ++shared_->counts.connections; }
    ~Place() { --shared_->counts.connections; }
    Place(const Place&) = delete;
    Place& operator=(const Place&) = delete;

  private:
    std::shared_ptr<HttpShared> shared_;
};

} // namespace stillmark::gateway
