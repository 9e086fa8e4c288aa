#include "protocols/back_off.hpp"
#include "protocols/bus_silence.hpp"
#include "protocols/descriptor.hpp"
#include "protocols/exclusive_port.hpp"
#include "protocols/modbus_answer.hpp"
#include "protocols/modbus_context.hpp"
#include "protocols/owed_answers.hpp"
#include "protocols/serial_line.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <optional>
#include <set>
#include <utility>
#include <vector>

namespace stillmark::protocols {
namespace {

using Clock = std::chrono::steady_clock;
using Frame = std::array<std::uint8_t, MODBUS_RTU_MAX_ADU_LENGTH>;

constexpr int request_characters = 8;    ///< address, function, address, count, checksum
constexpr std::uint8_t no_server = 0xFF; ///< what no answer can begin with
constexpr int most_counted = 125;        ///< registers of one answer; Modbus Application Protocol V1.1b3, 6.3
constexpr std::size_t probe_lengths = 8; ///< so many counts are taken in turn

class OpenLine final : public ListenedLine {
  public:
    explicit OpenLine(int descriptor) : descriptor_(descriptor) {}
    Clock::time_point now() const override { return Clock::now(); }
    Readable wait(Clock::time_point until) override { return wait_readable(descriptor_, until); }
    bool take(std::string& taken) override { return take_waiting(descriptor_, taken); }

  private:
    int descriptor_;
};

/// What is known of one server.
struct Server {
    OwedAnswers owed;
    bool synchronised = true; ///< no answer to an earlier request can come any more
    bool proven = false;      ///< it has answered with registers
    std::uint64_t doubts = 0;
    std::set<std::uint16_t> counts; ///< what readings are asked with
    std::optional<RegisterRequest> latest;
    std::set<std::pair<RegisterKind, std::uint16_t>> as_asked; ///< where it takes no other count than the profile's
    std::size_t turn = 0;
};

class RtuLink final : public ModbusLink {
  public:
    explicit RtuLink(const SerialSettings& settings)
        : settings_(settings), objection_(objection_to(settings)),
          silence_(objection_.empty() ? frame_silence(settings.baud) : std::chrono::nanoseconds(0)) {}
    ~RtuLink() override { close(); }
    RtuLink(const RtuLink&) = delete;
    RtuLink& operator=(const RtuLink&) = delete;

    Result<RegisterReply> read(const RegisterRequest& request, std::chrono::milliseconds deadline) override;
    std::uint64_t doubts(int server) const override { return servers_[static_cast<std::size_t>(server)].doubts; }

  private:
    std::optional<Failure> open();
    std::optional<Failure> wait_for_turn();
    std::optional<Failure> synchronise(const RegisterRequest& request, std::chrono::milliseconds deadline);
    RegisterRequest probe_for(Server& server, const RegisterRequest& request) const;
    RegisterRequest of_another_length(const Server& server, const RegisterRequest& request) const;
    Result<RegisterReply> ask(const RegisterRequest& request, std::chrono::milliseconds deadline);
    Result<RegisterReply> exchange(const RegisterRequest& request, bool probe, std::chrono::milliseconds deadline);
    int receive(Frame& answer, Clock::time_point until);
    OwedAnswers::Whose settle(const RtuFrame& frame, bool may_be_own);
    Failure why_nothing(int error, const RegisterRequest& request, const Frame& answer);
    Failure why_late(const RegisterRequest& request) const;
    Failure lost(const std::string& what);
    Server& server_of(const RegisterRequest& request) { return servers_[static_cast<std::size_t>(request.server)]; }
    int descriptor() const { return modbus_get_socket(context_.get()); }
    void close();

    SerialSettings settings_;
    std::string objection_;
    std::chrono::nanoseconds silence_;
    ModbusContext context_;
    bool open_ = false;
    std::optional<ExclusivePort> port_;
    BackOff back_off_;
    std::string why_down_;
    Clock::time_point last_byte_{};        ///< last activity on the bus that this end knows of
    Clock::time_point quarantine_until_{}; ///< no request before: a late answer may still come
    std::size_t last_server_ = 0;
    std::array<Server, 256> servers_;
};

Failure RtuLink::lost(const std::string& what) {
    close();
    why_down_ = fmt::format("{}: {}", settings_.device, what);
    back_off_.failed(Clock::now());
    return {Fault::link_down, why_down_};
}

// A replugged adapter gets its old name back only after the old descriptor is let go.
void RtuLink::close() {
    port_.reset();
    if (open_) modbus_close(context_.get());
    open_ = false;
    context_.reset();
}

std::optional<Failure> RtuLink::open() {
    if (open_) return std::nullopt;
    if (!back_off_.may_try(Clock::now())) return Failure{Fault::link_down, why_down_};
    const SerialSettings taken = as_taken_by_device(settings_);
    const char parity = taken.parity == Parity::none ? 'N' : taken.parity == Parity::even ? 'E' : 'O';
    auto port = ExclusivePort::take(taken.device);
    if (port.has_error()) return lost(port.error().detail);
    port_ = std::move(*port);
    context_.reset(modbus_new_rtu(taken.device.c_str(), taken.baud, parity, taken.data_bits, taken.stop_bits));
    if (context_ == nullptr) return lost(modbus_strerror(errno));
    modbus_set_error_recovery(context_.get(), MODBUS_ERROR_RECOVERY_NONE);
    if (modbus_connect(context_.get()) != 0) return lost(modbus_strerror(errno));
    open_ = true;
    if (!can_be_selected(descriptor())) {
        return lost(
            fmt::format("descriptor {} is beyond what select() can watch; fewer files must be open", descriptor()));
    }
    if (const std::string refused = setting_not_taken(descriptor(), taken); !refused.empty()) {
        return lost(refused);
    }
    port_->keep_others_out();
    // What is owed stays owed: an answer may wait in an adapter or a terminal server that is opened again.
    last_byte_ = Clock::now();
    quarantine_until_ = {};
    return std::nullopt;
}

// Before every request the bus has been silent for 3.5 characters and nothing waits unread: a byte that is here now
// answers something older. After a failure this also sits out the quarantine.
std::optional<Failure> RtuLink::wait_for_turn() {
    OpenLine line(descriptor());
    const auto found = await_silence(line, {last_byte_, silence_, quarantine_until_});
    if (found.has_error()) {
        if (found.error().fault == Fault::link_down) return lost(found.error().detail);
        last_byte_ = Clock::now();
        return Failure{found.error().fault, fmt::format("{}: {}", settings_.device, found.error().detail)};
    }
    last_byte_ = found->last_byte;
    const std::vector<std::uint8_t> stray(found->stray.begin(), found->stray.end());
    for (const RtuFrame& frame : whole_frames_in(stray))
        settle(frame, true);
    return std::nullopt;
}

// Ends the debt that a frame pays. One that nothing is owed for makes the latest reply of its server doubtful: the
// frame may be what had been asked then.
OwedAnswers::Whose RtuLink::settle(const RtuFrame& frame, bool may_be_own) {
    Server& server = servers_[frame.server];
    const int function = frame.pdu[0] & 0x7F;
    const bool exception = (frame.pdu[0] & 0x80) != 0;
    // A server that answered a reading before does not call its registers illegal.
    const bool of_probes = exception && server.proven && (frame.pdu[1] == 2 || frame.pdu[1] == 3);
    bool of_probe = false;
    const auto whose = server.owed.came(
        [&](const OwedAnswers::Request& one) {
            const bool fits =
                one.kind == function && (exception ? one.probe || !of_probes : one.length == frame.pdu[1]);
            if (fits) of_probe = one.probe;
            return fits;
        },
        may_be_own);
    if (whose == OwedAnswers::Whose::nobody) {
        // One of a length that no reading has is a probe's again, and stands for no reading.
        Server& doubted = server.latest ? server : servers_[last_server_];
        const bool as_long_as_a_reading =
            !exception && doubted.counts.contains(static_cast<std::uint16_t>(frame.pdu[1] / 2));
        if (!as_long_as_a_reading) return whose;
        ++doubted.doubts;
        doubted.synchronised = false;
    } else if (of_probe && !server.owed.owes_reading()) {
        server.synchronised = true;
    }
    return whose;
}

Failure RtuLink::why_nothing(int error, const RegisterRequest& request, const Frame& answer) {
    const auto sent = request_pdu(request);
    if (answer[0] == request.server && std::equal(sent.begin(), sent.end() - 1, answer.begin() + 1)) {
        return {Fault::bad_frame,
                fmt::format("{}: the line echoes what is sent; turn the adapter's local echo off", settings_.device)};
    }
    switch (error) {
    case ETIMEDOUT:
        if (answer[0] == no_server) {
            return {Fault::silent, fmt::format("{}: server {} does not answer", settings_.device, request.server)};
        }
        return {Fault::bad_frame, fmt::format("{}: the answer broke off", settings_.device)};
    case EMBBADCRC:
        return {Fault::bad_frame, fmt::format("{}: an answer with a bad checksum", settings_.device)};
    case EMBBADDATA:
        return {Fault::bad_frame, fmt::format("{}: an answer longer than any frame", settings_.device)};
    case EAGAIN:
        return {Fault::silent, fmt::format("{}: the line takes no bytes", settings_.device)};
    default:
        break;
    }
    // Zero bytes show as a reset of the connection, whether the adapter is gone or only silent.
    if (error == ECONNRESET && !unplugged(descriptor())) {
        return {Fault::silent, fmt::format("{}: server {} does not answer", settings_.device, request.server)};
    }
    return lost(modbus_strerror(error));
}

Failure RtuLink::why_late(const RegisterRequest& request) const {
    const auto& owed = servers_[static_cast<std::size_t>(request.server)].owed;
    const std::string what =
        owed.behind() >= OwedAnswers::stays_behind
            ? fmt::format("server {} stays one answer behind: each answer belongs to the request before",
                          request.server)
            : fmt::format("a late answer of server {} came before the one asked for", request.server);
    return {Fault::bad_frame, fmt::format("{}: {}", settings_.device, what)};
}

int RtuLink::receive(Frame& answer, Clock::time_point until) {
    answer.fill(no_server);
    set_patience(context_.get(), until - Clock::now());
    const int length = modbus_receive_confirmation(context_.get(), answer.data());
    last_byte_ = Clock::now();
    return length;
}

Result<RegisterReply> RtuLink::exchange(const RegisterRequest& request, bool probe,
                                        std::chrono::milliseconds deadline) {
    std::array<std::uint8_t, 6> raw{static_cast<std::uint8_t>(request.server)};
    const auto pdu = request_pdu(request);
    std::copy(pdu.begin(), pdu.end(), raw.begin() + 1);
    modbus_set_slave(context_.get(), request.server);
    // The call that sends returns when the kernel has the bytes; the deadline begins when the line has carried them.
    const auto patience = line_time(settings_, request_characters) + deadline;
    set_patience(context_.get(), patience);

    RegisterReply reply;
    const auto sent_at = Clock::now();
    server_of(request).owed.sent(pdu[0], 2 * request.count, probe, sent_at);
    last_server_ = static_cast<std::size_t>(request.server);
    reply.before_us = now_us();
    int length = modbus_send_raw_request(context_.get(), raw.data(), static_cast<int>(raw.size()));
    Frame answer;
    answer.fill(no_server);
    bool late = false;
    std::optional<Failure> foreign;
    while (length > 0) {
        length = receive(answer, sent_at + patience);
        const int error = errno;
        reply.after_us = now_us();
        if (length < 0) {
            errno = error;
            break;
        }
        // Of another server libmodbus gives no length and looks at no checksum.
        const auto frames = whole_frames_in(answer);
        const auto took = last_byte_ - sent_at;
        const auto soonest = soonest_answer(settings_, silence_, request_characters, static_cast<std::size_t>(length));
        if (length == 0 || answer[0] != request.server) {
            if (!frames.empty() && frames.front().server == answer[0]) settle(frames.front(), true);
            foreign = Failure{Fault::bad_frame, fmt::format("{}: an answer of server {} instead of {}",
                                                            settings_.device, answer[0], request.server)};
            length = 1;
            continue;
        }
        // The checksum's two bytes have been checked by libmodbus.
        const std::span<const std::uint8_t> told(answer.data() + 1, static_cast<std::size_t>(length) - 3);
        const auto whose =
            told.size() < 2 || frames.empty() ? OwedAnswers::Whose::nobody : settle(frames.front(), took >= soonest);
        if (whose == OwedAnswers::Whose::older || took < soonest) {
            late = true;
            continue;
        }
        auto registers = registers_in(told, request);
        if (registers.has_error()) {
            return Failure{registers.error().fault, fmt::format("{}: {}", settings_.device, registers.error().detail)};
        }
        server_of(request).proven = true;
        reply.registers = std::move(*registers);
        return reply;
    }
    const int error = errno;
    if (late && error == ETIMEDOUT && answer[0] == no_server) return why_late(request);
    if (foreign && error == ETIMEDOUT && answer[0] == no_server) return *foreign;
    return why_nothing(error, request, answer);
}

// One of a few counts that no reading is asked with, one that nothing is owed for where there is any: fewer registers
// first, for the profile names those.
RegisterRequest RtuLink::probe_for(Server& server, const RegisterRequest& request) const {
    std::vector<RegisterRequest> probes;
    const auto offer = [&](int count) {
        RegisterRequest probe = request;
        probe.count = static_cast<std::uint16_t>(count);
        if (probes.size() < probe_lengths && !server.counts.contains(probe.count) &&
            objection_to(probe, 1, 247).empty())
            probes.push_back(probe);
    };
    for (int count = request.count - 1; count > 0; --count)
        offer(count);
    for (int count = request.count + 1; count <= most_counted; ++count)
        offer(count);
    for (const RegisterRequest& probe : probes) {
        const auto same = [&probe](const OwedAnswers::Request& one) { return one.length == 2 * probe.count; };
        if (!server.owed.any(same)) return probe;
    }
    return probes.empty() ? request : probes[server.turn++ % probes.size()];
}

// After a silence no answer is a reading before a probe was answered. A server that answers no other count than the
// profile's is asked twice, once nothing can be late any more, and its first answer is dropped.
std::optional<Failure> RtuLink::synchronise(const RegisterRequest& request, std::chrono::milliseconds deadline) {
    Server& server = server_of(request);
    const auto patience = std::max<std::chrono::nanoseconds>(longest_lateness, 3 * deadline);
    const bool given_up = server.owed.forget_before(Clock::now() - patience) && !server.owed.owes_reading();
    const RegisterRequest probe = given_up ? request : probe_for(server, request);
    const auto reply = exchange(probe, !given_up, deadline);
    if (reply.has_value() && given_up) server.synchronised = true;
    if (server.synchronised) return wait_for_turn();
    if (reply.has_error()) return reply.error();
    return why_late(request);
}

// An answer to the other register of two that are asked for in turn must not fit.
RegisterRequest RtuLink::of_another_length(const Server& server, const RegisterRequest& request) const {
    RegisterRequest asked = request;
    const bool same_length = server.latest && server.latest->count == request.count &&
                             (server.latest->address != request.address || server.latest->kind != request.kind);
    if (!same_length || server.as_asked.contains({request.kind, request.address})) return asked;
    ++asked.count;
    return objection_to(asked, 1, 247).empty() ? asked : request;
}

// Asks for a register more where the one before had the same length, and as it is where the server refuses that.
Result<RegisterReply> RtuLink::ask(const RegisterRequest& request, std::chrono::milliseconds deadline) {
    Server& server = server_of(request);
    const RegisterRequest asked = of_another_length(server, request);
    server.counts.insert(asked.count);
    auto reply = exchange(asked, false, deadline);
    if (asked.count != request.count && reply.has_error() && reply.error().fault != Fault::silent &&
        reply.error().fault != Fault::link_down) {
        server.as_asked.insert({request.kind, request.address});
        if (reply.error().fault != Fault::bad_frame) {
            if (const auto busy = wait_for_turn()) return *busy;
            server.counts.insert(request.count);
            reply = exchange(request, false, deadline);
        }
    }
    server.latest = asked;
    if (reply.has_value()) reply->registers.resize(request.count);
    return reply;
}

Result<RegisterReply> RtuLink::read(const RegisterRequest& request, std::chrono::milliseconds deadline) {
    if (!objection_.empty()) return Failure{Fault::unsupported, objection_};
    if (const std::string no = objection_to(request, 1, 247); !no.empty()) return Failure{Fault::unsupported, no};
    if (const auto down = open()) return *down;
    if (const auto busy = wait_for_turn()) return *busy;
    Server& server = server_of(request);
    server.counts.insert(request.count);
    Result<RegisterReply> reply = Failure{Fault::bad_frame, {}};
    const auto unsynchronised = server.synchronised ? std::nullopt : synchronise(request, deadline);
    if (unsynchronised)
        reply = *unsynchronised;
    else if (!server.synchronised)
        reply = why_late(request); // a stray frame came right behind the probe's
    else
        reply = ask(request, deadline);
    const bool trusted =
        reply.has_value() || reply.error().fault == Fault::refused || reply.error().fault == Fault::unsupported;
    if (!trusted && open_) {
        server.synchronised = false;
        quarantine_until_ = Clock::now() + deadline;
    } else if (open_) {
        back_off_.answered();
    }
    return reply;
}

} // namespace

std::unique_ptr<ModbusLink> make_modbus_rtu_link(const SerialSettings& settings) {
    return std::make_unique<RtuLink>(settings);
}

} // namespace stillmark::protocols
