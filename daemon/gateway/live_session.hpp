#pragma once

#include "daemon/gateway/http_shared.hpp"
#include "daemon/gateway/wire.hpp"

#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/http/message.hpp>
#include <boost/beast/http/string_body.hpp>
#include <boost/beast/websocket/stream.hpp>

#include <deque>
#include <memory>
#include <string>

namespace stillmark::gateway {

/// One live view: a WebSocket over which frames go out and nothing comes in. A slow one misses frames; one that takes
/// nothing for a while is dropped.
class LiveSession : public std::enable_shared_from_this<LiveSession> {
  public:
    using Request = boost::beast::http::request<boost::beast::http::string_body>;
    using Frame = std::shared_ptr<const std::string>;

    LiveSession(Wire wire, std::unique_ptr<Place> place, std::shared_ptr<HttpShared> shared);

    void start(Request request, LiveView view);
    void on_frame(const Frame& frame, Micros now_us);
    void check(Micros now_us);
    void close();

  private:
    void read();
    void write();
    void say_goodbye(boost::beast::websocket::close_code code, const char* why);

    boost::beast::websocket::stream<Wire> socket_;
    std::unique_ptr<Place> place_;
    std::shared_ptr<HttpShared> shared_;
    Request request_;
    boost::beast::flat_buffer incoming_;
    std::deque<Frame> waiting_;
    Frame outgoing_;
    bool open_ = false;
    bool ended_ = false;
    bool parting_ = false;
    Micros began_us_; ///< the handshake, or the write that is under way, or the farewell
    std::function<bool()> goes_on_;
    Micros period_us_ = 0;
    Micros due_us_ = 0;
};

} // namespace stillmark::gateway
