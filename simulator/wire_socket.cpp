#include "simulator/mistake.hpp"
#include "simulator/wires.hpp"

#include <fmt/format.h>

#include <chrono>
#include <set>

namespace stillmark::simulator {

namespace asio = boost::asio;
using asio::ip::tcp;

namespace {

using boost::system::error_code;
using Socket = std::shared_ptr<tcp::socket>;

/// How often a bus looks whether it is unplugged.
constexpr auto look_interval = std::chrono::milliseconds(10);

auto token(error_code& ec) {
    return asio::redirect_error(asio::use_awaitable, ec);
}

asio::awaitable<void> pause(double seconds) {
    if (seconds <= 0) co_return;
    asio::steady_timer timer(co_await asio::this_coro::executor, std::chrono::microseconds(micros(seconds)));
    error_code ec;
    co_await timer.async_wait(token(ec));
}

/// False where the other side is gone.
asio::awaitable<bool> send(tcp::socket& socket, const Outgoing& out) {
    error_code ec;
    co_await pause(out.late_s);
    if (out.byte_gap_s <= 0) {
        co_await asio::async_write(socket, asio::buffer(out.bytes), token(ec));
        co_return !ec;
    }
    for (const auto& byte : out.bytes) {
        co_await asio::async_write(socket, asio::buffer(&byte, 1), token(ec));
        if (ec) co_return false;
        co_await pause(out.byte_gap_s);
    }
    co_return true;
}

struct SocketBus {
    Rig& rig;
    ServedBus& bus;
    tcp::acceptor acceptor;
    tcp::endpoint at;
    std::set<Socket> sessions;
};
using Shared = std::shared_ptr<SocketBus>;

asio::awaitable<bool> answer_modbus(SocketBus& on, tcp::socket& socket) {
    error_code ec;
    Bytes header(7);
    co_await asio::async_read(socket, asio::buffer(header), token(ec));
    if (ec) co_return false;
    const auto word = [&](std::size_t at) { return static_cast<std::uint16_t>(header[at] << 8U | header[at + 1]); };
    const auto length = word(4);
    // A header that is none leaves no way to find the next one (Modbus Messaging on TCP/IP V1.0b, 4.4.2.2): close.
    if (word(2) != 0 || length < 2 || length > 254) {
        ++on.bus.counters.bad_requests;
        co_return false;
    }
    Bytes pdu(length - 1U);
    co_await asio::async_read(socket, asio::buffer(pdu), token(ec));
    if (ec) co_return false;
    const auto transaction = word(0);
    const auto server = header[6];
    const auto framed = [&](std::uint8_t unit, const Bytes& body) { return tcp_frame(transaction, unit, body); };
    const auto* instrument = on.bus.with_server(on.rig.scenario(), server);
    Outgoing out;
    if (instrument == nullptr) {
        ++on.bus.counters.strangers;
        out.bytes = framed(server, exception_answer(pdu[0], static_cast<std::uint8_t>(ModbusException::no_path)));
    } else {
        ++on.bus.counters.requests;
        co_await pause(on.rig.scenario().instruments[*instrument].turn_round_s);
        out = modbus_answer(on.rig, *instrument, server, pdu, now_us(), framed, false);
    }
    if (!out.bytes.empty()) ++on.bus.counters.answers;
    co_return co_await send(socket, out);
}

asio::awaitable<bool> answer_text(SocketBus& on, tcp::socket& socket, std::string& kept, std::size_t instrument) {
    const auto& entry = on.rig.scenario().instruments[instrument];
    std::string request;
    if (entry.profile.request.empty()) {
        co_await pause(entry.talks_every_s);
    } else {
        error_code ec;
        const auto size = co_await asio::async_read_until(socket, asio::dynamic_buffer(kept, 4096),
                                                          entry.profile.terminator, token(ec));
        if (ec) co_return false;
        request = kept.substr(0, size - entry.profile.terminator.size());
        kept.erase(0, size);
    }
    ++(entry.profile.knows(request) ? on.bus.counters.requests : on.bus.counters.bad_requests);
    co_await pause(entry.turn_round_s);
    const auto out = text_answer(on.rig, instrument, request, now_us());
    if (!out.bytes.empty()) ++on.bus.counters.answers;
    co_return co_await send(socket, out);
}

asio::awaitable<void> serve_session(Shared on, Socket socket) {
    std::string kept;
    bool going = true;
    while (going) {
        if (on->bus.entry.modbus())
            going = co_await answer_modbus(*on, *socket);
        else
            going =
                !on->bus.instruments.empty() && co_await answer_text(*on, *socket, kept, on->bus.instruments.front());
    }
    error_code ec;
    socket->close(ec);
    on->sessions.erase(socket);
}

bool listen(SocketBus& on) {
    error_code ec;
    on.acceptor.open(on.at.protocol(), ec);
    if (!ec) on.acceptor.set_option(tcp::acceptor::reuse_address(true), ec);
    if (!ec) on.acceptor.bind(on.at, ec);
    if (!ec) on.acceptor.listen(asio::socket_base::max_listen_connections, ec);
    if (ec) {
        error_code ignored;
        on.acceptor.close(ignored);
    }
    return !ec;
}

asio::awaitable<void> accept_sessions(Shared on) {
    for (;;) {
        error_code ec;
        auto socket = std::make_shared<tcp::socket>(co_await on->acceptor.async_accept(token(ec)));
        if (ec) co_return;
        socket->set_option(tcp::no_delay(true), ec);
        ++on->bus.counters.opened;
        on->sessions.insert(socket);
        asio::co_spawn(on->acceptor.get_executor(), serve_session(on, socket), asio::detached);
    }
}

/// Pulls and plugs the cable as the faults say.
asio::awaitable<void> watch_cable(Shared on) {
    asio::steady_timer timer(co_await asio::this_coro::executor);
    for (;;) {
        timer.expires_after(look_interval);
        error_code ec;
        co_await timer.async_wait(token(ec));
        const bool unplugged = on->rig.disconnected(on->bus.entry, now_us());
        if (unplugged && on->acceptor.is_open()) {
            on->acceptor.close(ec);
            for (const auto& socket : on->sessions)
                socket->close(ec);
        } else if (!unplugged && !on->acceptor.is_open() && listen(*on)) {
            asio::co_spawn(on->acceptor.get_executor(), accept_sessions(on), asio::detached);
        }
    }
}

} // namespace

void serve_socket(asio::io_context& io, Rig& rig, ServedBus& bus) {
    const auto host = bus.entry.host == "localhost" ? "127.0.0.1" : bus.entry.host;
    auto on = std::make_shared<SocketBus>(SocketBus{
        rig, bus, tcp::acceptor(io), {asio::ip::make_address(host), static_cast<std::uint16_t>(bus.entry.port)}, {}});
    if (!listen(*on))
        throw Mistake(fmt::format("{}: port {} of {} cannot be had; is another program there?", bus.entry.name,
                                  bus.entry.port, host));
    asio::co_spawn(io, accept_sessions(on), asio::detached);
    asio::co_spawn(io, watch_cable(on), asio::detached);
}

} // namespace stillmark::simulator
