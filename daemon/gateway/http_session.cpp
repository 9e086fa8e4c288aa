#include "daemon/gateway/http_session.hpp"

#include "daemon/gateway/live_session.hpp"

#include <boost/asio/awaitable.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/string_body.hpp>
#include <boost/beast/websocket/rfc6455.hpp>
#include <fmt/chrono.h>
#include <fmt/format.h>

#include <array>
#include <ctime>

namespace stillmark::gateway {

namespace asio = boost::asio;
namespace http = boost::beast::http;
using asio::awaitable;
using boost::system::error_code;

namespace {

constexpr std::size_t largest_buffer = 65'536;
constexpr std::size_t one_read = 4096;
/// A body in pieces, with what stands between them.
constexpr std::size_t largest_sent_body = HttpLimits::longest_body + HttpLimits::longest_body / 2;
constexpr std::size_t most_read_in_parting = 262'144;

/// What came of one request.
enum class Next { another, end, handed_over };

auto into(error_code& error) {
    return asio::redirect_error(asio::use_awaitable, error);
}

/// A connection's fields under small names; nothing where one that may stand once stands twice.
std::optional<HttpRequest> request_of(const http::request<http::string_body>& message, const std::string& from) {
    HttpRequest request;
    request.method = std::string(message.method_string());
    request.from = from;
    for (const auto& field : message) {
        const auto name = in_small_letters(field.name_string());
        const auto [place, first] = request.headers.emplace(name, std::string(field.value()));
        if (first) continue;
        for (const char* once : {"host", "origin", "content-type", "content-length"})
            if (name == once) return std::nullopt;
        place->second += (name == "cookie" ? "; " : ", ") + std::string(field.value());
    }
    request.body = message.body();
    return request;
}

/// Why bytes are no request, in words; nothing where the connection has simply ended.
std::optional<HttpAnswer> objection_to(const error_code& error) {
    if (error == http::error::header_limit)
        return problem(431, "too_large",
                       fmt::format("the head of a request has at most {} bytes", HttpLimits::longest_header));
    if (error == http::error::body_limit || error == http::error::buffer_overflow)
        return problem(413, "too_large",
                       fmt::format("the body of a request has at most {} bytes", HttpLimits::longest_body));
    if (error == http::error::end_of_stream || error == http::error::partial_message) return std::nullopt;
    if (error.category() == http::make_error_code(http::error::bad_method).category())
        return problem(400, "bad_request", fmt::format("this is no request of HTTP/1.1 ({})", error.message()));
    return std::nullopt;
}

} // namespace

std::string head_of(const HttpAnswer& answer, bool keep_alive) {
    std::string head = fmt::format("HTTP/1.1 {} {}\r\nDate: {:%a, %d %b %Y %H:%M:%S GMT}\r\n", answer.status,
                                   reason_of(answer.status), fmt::gmtime(std::time(nullptr)));
    if (answer.status != 304 && answer.status != 204)
        head += fmt::format("Content-Type: {}\r\nContent-Length: {}\r\n", answer.type, answer.bytes().size());
    bool cached = false;
    for (const auto& [name, value] : answer.headers) {
        head += fmt::format("{}: {}\r\n", name, value);
        cached = cached || name == "Cache-Control";
    }
    if (!cached) head += "Cache-Control: no-store\r\n";
    if (!keep_alive) head += "Connection: close\r\n";
    return head + "Content-Security-Policy: default-src 'self'; object-src 'none'; base-uri 'none'; "
                  "form-action 'self'; frame-ancestors 'none'\r\n"
                  "X-Content-Type-Options: nosniff\r\nReferrer-Policy: no-referrer\r\n"
                  "Cross-Origin-Resource-Policy: same-origin\r\nCross-Origin-Opener-Policy: same-origin\r\n\r\n";
}

struct HttpSession::Inside {
    Inside(asio::ip::tcp::socket socket, std::shared_ptr<HttpShared> all)
        : shared(std::move(all)), place(std::make_unique<Place>(shared)),
          wire(std::move(socket), shared->tls ? &*shared->tls : nullptr), buffer(largest_buffer) {
        error_code ignored;
        from = wire.socket().remote_endpoint(ignored).address().to_string();
    }

    using Parser = http::request_parser<http::string_body>;

    awaitable<void> serve();
    awaitable<Next> take_one();
    awaitable<bool> read(Parser& parser);
    awaitable<error_code> feed(Parser& parser, bool whole);
    awaitable<bool> tell(HttpAnswer answer, bool keep_alive, bool head_only);
    awaitable<HttpAnswer> wait_for(LaterAnswer later);
    awaitable<void> part();
    awaitable<Next> open_view(Parser& parser, LiveView view, bool keep_alive);

    /// What goes on now must be done by then. A reader that is late is told so, anything else is ended.
    void allow(Micros span_us, bool is_reading) {
        deadline_us = protocols::now_us() + span_us;
        reading = is_reading;
    }

    std::shared_ptr<HttpShared> shared;
    std::unique_ptr<Place> place;
    Wire wire;
    boost::beast::flat_buffer buffer;
    std::string from;
    Micros deadline_us = 0; ///< 0: none
    bool reading = false;
    bool late = false;
    bool closed = false;
    /// While the deciding thread is asked.
    std::weak_ptr<asio::steady_timer> waiting;
};

awaitable<void> HttpSession::Inside::serve() {
    error_code error;
    if (wire.tls() != nullptr) {
        allow(HttpLimits::request_us, false);
        co_await wire.tls()->async_handshake(asio::ssl::stream_base::server, into(error));
        if (error) co_return;
    }
    for (bool go_on = true; go_on && !closed;) {
        const Next next = co_await take_one();
        if (next == Next::handed_over) co_return;
        go_on = next == Next::another;
    }
    if (!closed) co_await part();
}

/// Reads on until the head, or all, is there. Counts the bytes as they come: the parser bounds a single line of the
/// head and the body's content, but neither how many lines there are nor what stands between the pieces of a body.
awaitable<error_code> HttpSession::Inside::feed(Parser& parser, bool whole) {
    const std::size_t most = whole ? largest_sent_body : HttpLimits::longest_header;
    std::size_t taken = 0;
    parser.eager(whole);
    while (whole ? !parser.is_done() : !parser.is_header_done()) {
        error_code error;
        std::size_t used = 0;
        if (buffer.size() > 0) {
            used = parser.put(buffer.data(), error);
            buffer.consume(used);
            taken += used;
            if (error && error != http::error::need_more) co_return error;
            // What the parser leaves to be read again with more of it counts too.
            if (taken > most || buffer.size() + one_read > largest_buffer)
                co_return whole ? http::error::body_limit : http::error::header_limit;
            if (!error && used > 0) continue;
            error = {};
        }
        const std::size_t came = co_await wire.async_read_some(buffer.prepare(one_read), into(error));
        if (error) co_return error;
        buffer.commit(came);
    }
    co_return error_code();
}

/// The next request, whole; false where there is none, which is then told.
awaitable<bool> HttpSession::Inside::read(Parser& parser) {
    error_code error;
    if (buffer.size() == 0) {
        allow(HttpLimits::idle_us, false);
        const std::size_t came = co_await wire.async_read_some(buffer.prepare(one_read), into(error));
        if (error) co_return false;
        buffer.commit(came);
    }
    allow(HttpLimits::request_us, true);
    error = co_await feed(parser, false);
    if (!error && !parser.is_done()) {
        if (parser.get()[http::field::expect] == "100-continue") {
            static constexpr std::string_view go_on = "HTTP/1.1 100 Continue\r\n\r\n";
            co_await asio::async_write(wire, asio::buffer(go_on), into(error));
        }
        if (!error) error = co_await feed(parser, true);
    }
    reading = false;
    if (!error) co_return true;
    if (closed) co_return false;
    auto objection = late ? problem(408, "too_slow", "a request is to arrive within 10 s") : objection_to(error);
    if (!objection) co_return false;
    if (late) ++shared->counts.too_slow;
    co_await tell(std::move(*objection), false, false);
    co_return false;
}

awaitable<Next> HttpSession::Inside::take_one() {
    Parser parser;
    parser.header_limit(HttpLimits::longest_header);
    parser.body_limit(HttpLimits::longest_body);
    const bool came = co_await read(parser);
    if (!came) co_return Next::end;
    const bool keep_alive = parser.keep_alive() && !shared->stopping;
    auto request = request_of(parser.get(), from);
    auto target = read_target(std::string_view(parser.get().target().data(), parser.get().target().size()));
    const bool head_only = parser.get().method() == http::verb::head;
    HttpAnswer answer;
    if (!request) {
        answer = problem(400, "bad_request", "a header stands twice that may stand once");
    } else if (!target) {
        answer = problem(400, "bad_request", "the path is none of this service; GET /api/openapi.json lists them");
    } else {
        request->target = std::move(*target);
        if (auto objection = shared->site.objection_to(*request, wants_own_page(*request))) {
            answer = std::move(*objection);
        } else {
            HttpOutcome outcome = route(*request, shared->ground);
            if (auto* view = std::get_if<LiveView>(&outcome)) {
                const Next next = co_await open_view(parser, *view, keep_alive);
                co_return next;
            }
            if (auto* later = std::get_if<LaterAnswer>(&outcome))
                answer = co_await wait_for(std::move(*later));
            else
                answer = std::move(std::get<HttpAnswer>(outcome));
        }
    }
    const bool told = co_await tell(std::move(answer), keep_alive, head_only);
    co_return told&& keep_alive ? Next::another : Next::end;
}

awaitable<Next> HttpSession::Inside::open_view(Parser& parser, LiveView view, bool keep_alive) {
    HttpAnswer refusal;
    if (!boost::beast::websocket::is_upgrade(parser.get())) {
        refusal = problem(426, "bad_request", "a live view is a WebSocket; ask for the upgrade");
        refusal.headers.emplace_back("Upgrade", "websocket");
    } else if (shared->counts.live_views >= HttpLimits::most_views) {
        refusal = problem(503, "too_many",
                          fmt::format("{} live views are open already; close one", shared->counts.live_views));
    } else if (buffer.size() > 0) {
        refusal = problem(400, "bad_request", "nothing may follow an upgrade before it is answered");
    } else {
        ++shared->counts.requests;
        ++shared->counts.live_views;
        ++shared->subscribers;
        const auto session = std::make_shared<LiveSession>(std::move(wire), std::move(place), shared);
        shared->views.insert(session);
        session->start(parser.release(), std::move(view));
        co_return Next::handed_over;
    }
    const bool told = co_await tell(std::move(refusal), keep_alive, false);
    co_return told&& keep_alive ? Next::another : Next::end;
}

awaitable<bool> HttpSession::Inside::tell(HttpAnswer answer, bool keep_alive, bool head_only) {
    ++shared->counts.requests;
    if (answer.status >= 400) ++shared->counts.refused_requests;
    allow(HttpLimits::answer_us, false);
    const std::string head = head_of(answer, keep_alive);
    const auto bytes = head_only || answer.status == 304 ? std::string_view() : answer.bytes();
    const std::array<asio::const_buffer, 2> pieces = {asio::buffer(head), asio::buffer(bytes)};
    error_code error;
    co_await asio::async_write(wire, pieces, into(error));
    co_return !error;
}

awaitable<HttpAnswer> HttpSession::Inside::wait_for(LaterAnswer later) {
    struct Given {
        explicit Given(asio::io_context& io) : timer(io) {}
        asio::steady_timer timer;
        std::optional<HttpAnswer> answer;
    };
    const auto given = std::make_shared<Given>(*shared->io);
    given->timer.expires_after(std::chrono::seconds(HttpLimits::longest_wait_s));
    waiting = std::shared_ptr<asio::steady_timer>(given, &given->timer);
    deadline_us = 0;
    later([io = shared->io, weak = std::weak_ptr(given)](HttpAnswer answer) {
        asio::post(*io, [weak, answer = std::move(answer)]() mutable {
            const auto here = weak.lock();
            if (!here) return;
            here->answer = std::move(answer);
            here->timer.cancel();
        });
    });
    error_code error;
    co_await given->timer.async_wait(into(error));
    if (given->answer) co_return std::move(*given->answer);
    co_return problem(504, "not_recorded",
                      "the service gave no answer in time; look at the present state before you press again");
}

/// Lets the other end read the last answer: a connection that is closed over unread bytes takes it away.
awaitable<void> HttpSession::Inside::part() {
    allow(HttpLimits::parting_us, false);
    error_code error;
    wire.socket().shutdown(Wire::Socket::shutdown_send, error);
    std::array<char, 4096> unread{};
    for (std::size_t sum = 0; !error && sum < most_read_in_parting;)
        sum += co_await wire.socket().async_read_some(asio::buffer(unread), into(error));
}

HttpSession::HttpSession(asio::ip::tcp::socket socket, std::shared_ptr<HttpShared> shared)
    : inside_(std::make_unique<Inside>(std::move(socket), std::move(shared))) {}

HttpSession::~HttpSession() = default;

void HttpSession::start() {
    inside_->shared->sessions.insert(shared_from_this());
    asio::co_spawn(*inside_->shared->io, inside_->serve(), [self = shared_from_this()](const std::exception_ptr&) {
        self->close();
        self->inside_->shared->sessions.erase(self);
    });
}

void HttpSession::check(Micros now_us) {
    auto& in = *inside_;
    if (in.deadline_us == 0 || now_us < in.deadline_us || in.closed) return;
    if (!in.reading || in.late) return close();
    in.late = true;
    in.deadline_us = now_us + HttpLimits::parting_us;
    error_code ignored;
    in.wire.socket().cancel(ignored);
}

void HttpSession::close() {
    auto& in = *inside_;
    if (in.closed || !in.place) return;
    in.closed = true;
    in.wire.close();
    if (const auto timer = in.waiting.lock()) timer->cancel();
}

} // namespace stillmark::gateway
