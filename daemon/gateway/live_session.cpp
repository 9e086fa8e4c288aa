#include "daemon/gateway/live_session.hpp"

#include <boost/asio/buffer.hpp>
#include <boost/asio/post.hpp>
#include <boost/beast/websocket.hpp>

#include <algorithm>

namespace stillmark::gateway {

namespace beast = boost::beast;
namespace websocket = boost::beast::websocket;
using boost::system::error_code;

namespace {

constexpr std::size_t longest_message = 1024;

} // namespace

LiveSession::LiveSession(Wire wire, std::unique_ptr<Place> place, std::shared_ptr<HttpShared> shared)
    : socket_(std::move(wire)), place_(std::move(place)), shared_(std::move(shared)), incoming_(longest_message),
      began_us_(protocols::now_us()) {
    socket_.read_message_max(longest_message);
    // A frame goes out as one piece, from the bytes that all views share.
    socket_.auto_fragment(false);
    socket_.text(true);
    socket_.set_option(websocket::stream_base::decorator(
        [](websocket::response_type& response) { response.erase(beast::http::field::server); }));
}

void LiveSession::start(Request request, LiveView view) {
    period_us_ = 1'000'000 / view.at_most_hz;
    goes_on_ = std::move(view.goes_on);
    request_ = std::move(request);
    socket_.async_accept(request_, [self = shared_from_this()](const error_code& error) {
        if (error) return self->close();
        self->request_ = {};
        self->open_ = true;
        self->read();
    });
}

void LiveSession::read() {
    socket_.async_read(incoming_, [self = shared_from_this()](const error_code& error, std::size_t) {
        if (error) return self->close();
        self->say_goodbye(websocket::close_code::policy_error, "a live view only tells; send nothing");
    });
}

void LiveSession::say_goodbye(websocket::close_code code, const char* why) {
    if (ended_ || parting_) return;
    parting_ = true;
    began_us_ = protocols::now_us();
    waiting_.clear();
    socket_.async_close(websocket::close_reason(code, why),
                        [self = shared_from_this()](const error_code&) { self->close(); });
}

void LiveSession::on_frame(const Frame& frame, Micros now_us) {
    // A frame that comes a moment early is due, and one that came late does not make the next come early.
    constexpr Micros a_moment_us = 10'000;
    if (!open_ || ended_ || parting_ || now_us < due_us_ - a_moment_us) return;
    due_us_ = std::max(due_us_, now_us - period_us_) + period_us_;
    if (waiting_.size() == HttpLimits::most_waiting_frames) {
        // The newest are what a person wants to see.
        waiting_.pop_front();
        ++shared_->counts.frames_missed;
    }
    waiting_.push_back(frame);
    write();
}

void LiveSession::write() {
    if (outgoing_ || waiting_.empty() || ended_ || parting_) return;
    outgoing_ = std::move(waiting_.front());
    waiting_.pop_front();
    began_us_ = protocols::now_us();
    socket_.async_write(boost::asio::buffer(*outgoing_),
                        [self = shared_from_this()](const error_code& error, std::size_t) {
                            self->outgoing_.reset();
                            if (error) return self->close();
                            ++self->shared_->counts.frames_sent;
                            self->write();
                        });
}

void LiveSession::check(Micros now_us) {
    if (ended_) return;
    const bool stuck = outgoing_ && now_us - began_us_ > HttpLimits::view_stuck_us;
    const bool no_handshake = !open_ && now_us - began_us_ > HttpLimits::request_us;
    const bool no_farewell = parting_ && now_us - began_us_ > HttpLimits::parting_us;
    if (stuck) ++shared_->counts.slow_views_dropped;
    if (stuck || no_handshake || no_farewell) return close();
    if (open_ && goes_on_ && !goes_on_())
        say_goodbye(websocket::close_code::policy_error, "this session is over; log in again");
}

void LiveSession::close() {
    if (ended_) return;
    ended_ = true;
    socket_.next_layer().close();
    place_.reset();
    --shared_->subscribers;
    --shared_->counts.live_views;
    shared_->views.erase(shared_from_this());
}

} // namespace stillmark::gateway
