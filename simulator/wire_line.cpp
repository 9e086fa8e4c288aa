#include "simulator/mistake.hpp"
#include "simulator/wires.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <fcntl.h>
#include <filesystem>
#include <termios.h>
#include <unistd.h>

namespace stillmark::simulator {

namespace asio = boost::asio;
namespace fs = std::filesystem;

namespace {

using boost::system::error_code;
using Steady = std::chrono::steady_clock;

constexpr auto look_interval = std::chrono::milliseconds(10);

auto token(error_code& ec) {
    return asio::redirect_error(asio::use_awaitable, ec);
}

/// A serial line made of a pseudo-terminal. Bits take their time: a request is not whole before its last bit would have
/// been on the line, and no byte of an answer is written before its own stop bit would have ended.
struct Line {
    Line(asio::io_context& io, Rig& with, ServedBus& of) : rig(with), bus(of), master(io), timer(io) {
        character =
            std::chrono::nanoseconds(static_cast<std::int64_t>(1e9 * of.entry.bits_per_character / of.entry.baud));
        // Modbus over Serial Line V1.02, 2.5.1.1: 3.5 characters, 1.750 ms above 19200 Bd.
        silence = of.entry.baud > 19200 ? std::chrono::microseconds(1750) : character * 7 / 2;
    }
    ~Line() { unplug(); }
    Line(const Line&) = delete;
    Line& operator=(const Line&) = delete;

    void plug();
    void unplug();

    Rig& rig;
    ServedBus& bus;
    asio::posix::stream_descriptor master;
    asio::steady_timer timer;
    int slave = -1; ///< kept open, so that a service that closes its end does not end the line
    std::chrono::nanoseconds character{};
    std::chrono::nanoseconds silence{};
    Steady::time_point busy_until; ///< end of the last bit that travelled
};
using Shared = std::shared_ptr<Line>;

void Line::plug() {
    const int fd = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC | O_NONBLOCK);
    char path[128] = {};
    if (fd < 0 || grantpt(fd) != 0 || unlockpt(fd) != 0 || ptsname_r(fd, path, sizeof path) != 0)
        throw Mistake(fmt::format("{}: no pseudo-terminal can be had", bus.entry.name));
    master.assign(fd);
    master.non_blocking(true); // else read_some would wait where it should only look
    slave = open(path, O_RDWR | O_NOCTTY | O_CLOEXEC);
    termios raw{};
    if (slave < 0 || tcgetattr(slave, &raw) != 0)
        throw Mistake(fmt::format("{}: {} cannot be opened", bus.entry.name, path));
    cfmakeraw(&raw);
    tcsetattr(slave, TCSANOW, &raw);
    const fs::path link = bus.entry.device;
    std::error_code ec;
    fs::create_directories(link.parent_path(), ec);
    if (fs::is_symlink(link)) fs::remove(link, ec);
    fs::create_symlink(path, link, ec);
    if (ec) throw Mistake(fmt::format("{}: {} cannot be made: {}", bus.entry.name, link.string(), ec.message()));
    ++bus.counters.opened;
}

void Line::unplug() {
    if (slave < 0) return;
    std::error_code ignored;
    fs::remove(bus.entry.device, ignored);
    close(slave);
    slave = -1;
    error_code ec;
    master.close(ec);
}

asio::awaitable<void> wait_until(Line& line, Steady::time_point at) {
    if (at <= Steady::now()) co_return;
    error_code ec;
    line.timer.expires_at(at);
    co_await line.timer.async_wait(token(ec));
}

/// Takes in what has arrived and puts it on the line, one character after the other.
asio::awaitable<bool> take_in(Line& line, Bytes& to) {
    std::array<std::uint8_t, 512> buffer{};
    error_code ec;
    const auto size = co_await line.master.async_read_some(asio::buffer(buffer), token(ec));
    if (ec) co_return false;
    to.insert(to.end(), buffer.begin(), buffer.begin() + static_cast<std::ptrdiff_t>(size));
    line.busy_until = std::max(line.busy_until, Steady::now()) + line.character * static_cast<std::int64_t>(size);
    co_return true;
}

/// A serial frame: what comes until the line has been silent for 3.5 characters.
asio::awaitable<bool> receive_frame(Line& line, Bytes& frame) {
    frame.clear();
    const auto answered_until = line.busy_until;
    if (!co_await take_in(line, frame)) co_return false;
    const auto began = line.busy_until - line.character * static_cast<std::int64_t>(frame.size());
    if (answered_until != Steady::time_point{} && began < answered_until + line.silence)
        ++line.bus.counters.short_silences;
    for (;;) {
        const auto whole = line.busy_until + line.silence;
        co_await wait_until(line, whole);
        std::array<std::uint8_t, 512> buffer{};
        error_code ec;
        const auto more = line.master.read_some(asio::buffer(buffer), ec);
        if (ec == asio::error::would_block || ec == asio::error::try_again) co_return true;
        if (ec) co_return false;
        frame.insert(frame.end(), buffer.begin(), buffer.begin() + static_cast<std::ptrdiff_t>(more));
        line.busy_until += line.character * static_cast<std::int64_t>(more);
    }
}

asio::awaitable<bool> send(Line& line, const Outgoing& out, Steady::time_point from) {
    if (out.bytes.empty()) co_return true;
    from += std::chrono::microseconds(micros(out.late_s));
    const auto gap = std::chrono::microseconds(micros(out.byte_gap_s));
    // Groups of about a millisecond: each is written when its last bit would have been sent.
    const auto per_group =
        out.byte_gap_s > 0 ? 1 : std::max<std::int64_t>(1, std::chrono::milliseconds(1) / line.character);
    auto sent_until = std::max(from, line.busy_until);
    for (std::size_t at = 0; at < out.bytes.size();) {
        const auto count = std::min(out.bytes.size() - at, static_cast<std::size_t>(per_group));
        sent_until += line.character * static_cast<std::int64_t>(count);
        co_await wait_until(line, sent_until);
        error_code ec;
        co_await asio::async_write(line.master, asio::buffer(out.bytes.data() + at, count), token(ec));
        if (ec) co_return false;
        at += count;
        sent_until += gap;
    }
    line.busy_until = sent_until - gap;
    co_return true;
}

asio::awaitable<bool> answer_modbus(Line& line) {
    Bytes frame;
    if (!co_await receive_frame(line, frame)) co_return false;
    const auto request = read_serial_frame(frame);
    if (!request) {
        ++line.bus.counters.bad_requests;
        co_return true;
    }
    const auto* instrument = line.bus.with_server(line.rig.scenario(), request->server);
    if (instrument == nullptr) {
        ++line.bus.counters.strangers;
        co_return true;
    }
    ++line.bus.counters.requests;
    const auto turn_round =
        std::chrono::microseconds(micros(line.rig.scenario().instruments[*instrument].turn_round_s));
    const auto from = line.busy_until + std::max<std::chrono::nanoseconds>(line.silence, turn_round);
    co_await wait_until(line, from);
    const auto out = modbus_answer(line.rig, *instrument, request->server, request->pdu, now_us(), serial_frame, true);
    if (!out.bytes.empty()) ++line.bus.counters.answers;
    co_return co_await send(line, out, from);
}

asio::awaitable<bool> answer_text(Line& line, Bytes& kept) {
    const auto index = line.bus.instruments.front();
    const auto& entry = line.rig.scenario().instruments[index];
    const auto& terminator = entry.profile.terminator;
    std::string request;
    auto from = std::max(line.busy_until, Steady::now());
    if (entry.profile.request.empty()) {
        from += std::chrono::microseconds(micros(entry.talks_every_s));
    } else {
        auto end = kept.end();
        while ((end = std::search(kept.begin(), kept.end(), terminator.begin(), terminator.end())) == kept.end())
            if (kept.size() > 4096 || !co_await take_in(line, kept)) co_return false;
        request.assign(kept.begin(), end);
        kept.erase(kept.begin(), end + static_cast<std::ptrdiff_t>(terminator.size()));
        from = line.busy_until;
    }
    ++(entry.profile.knows(request) ? line.bus.counters.requests : line.bus.counters.bad_requests);
    from += std::chrono::microseconds(micros(entry.turn_round_s));
    co_await wait_until(line, from);
    const auto out = text_answer(line.rig, index, request, now_us());
    if (!out.bytes.empty()) ++line.bus.counters.answers;
    co_return co_await send(line, out, from);
}

asio::awaitable<void> serve(Shared line) {
    Bytes kept;
    bool going = !line->bus.instruments.empty();
    while (going) {
        if (line->bus.entry.modbus())
            going = co_await answer_modbus(*line);
        else
            going = co_await answer_text(*line, kept);
    }
}

/// Pulls and plugs the adapter as the faults say.
asio::awaitable<void> watch_adapter(asio::io_context& io, Rig& rig, ServedBus& bus, Shared line) {
    asio::steady_timer timer(io);
    for (;;) {
        timer.expires_after(look_interval);
        error_code ec;
        co_await timer.async_wait(token(ec));
        const bool unplugged = rig.disconnected(bus.entry, now_us());
        if (unplugged && line) {
            line->timer.cancel();
            line->unplug();
            line.reset();
        } else if (!unplugged && !line) {
            line = std::make_shared<Line>(io, rig, bus);
            line->plug();
            asio::co_spawn(io, serve(line), asio::detached);
        }
    }
}

} // namespace

void serve_line(asio::io_context& io, Rig& rig, ServedBus& bus) {
    auto line = std::make_shared<Line>(io, rig, bus);
    line->plug();
    asio::co_spawn(io, serve(line), asio::detached);
    asio::co_spawn(io, watch_adapter(io, rig, bus, line), asio::detached);
}

} // namespace stillmark::simulator
