#include "protocols/back_off.hpp"
#include "protocols/bus_silence.hpp"
#include "protocols/descriptor.hpp"
#include "protocols/modbus_answer.hpp"
#include "protocols/modbus_context.hpp"
#include "protocols/serial_line.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <optional>

namespace stillmark::protocols {
namespace {

using Clock = std::chrono::steady_clock;
using Frame = std::array<std::uint8_t, MODBUS_RTU_MAX_ADU_LENGTH>;

constexpr int request_characters = 8;      ///< address, function, address, count, checksum
constexpr std::size_t shortest_answer = 5; ///< an exception
constexpr std::uint8_t no_server = 0xFF;   ///< what no answer can begin with

class OpenLine final : public ListenedLine {
  public:
    explicit OpenLine(int descriptor) : descriptor_(descriptor) {}
    Clock::time_point now() const override { return Clock::now(); }
    Readable wait(Clock::time_point until) override { return wait_readable(descriptor_, until); }
    bool take(std::string& taken) override { return take_waiting(descriptor_, taken); }

  private:
    int descriptor_;
};

class RtuLink final : public ModbusLink {
  public:
    explicit RtuLink(const SerialSettings& settings)
        : settings_(settings), objection_(objection_to(settings)),
          silence_(objection_.empty() ? frame_silence(settings.baud) : std::chrono::nanoseconds(0)) {}

    Result<RegisterReply> read(const RegisterRequest& request, std::chrono::milliseconds deadline) override;

  private:
    std::optional<Failure> open();
    std::optional<Failure> wait_for_turn(std::size_t server);
    Result<RegisterReply> exchange(const RegisterRequest& request, std::chrono::milliseconds deadline);
    std::optional<Failure> await_debt(const RegisterRequest& request, Clock::time_point until);
    Failure why_nothing(int error, const RegisterRequest& request, const Frame& answer);
    Failure lost(const std::string& what);
    int descriptor() const { return modbus_get_socket(context_.get()); }
    void close();

    SerialSettings settings_;
    std::string objection_;
    std::chrono::nanoseconds silence_;
    ModbusContext context_;
    bool open_ = false;
    BackOff back_off_;
    std::string why_down_;
    Clock::time_point last_byte_{};        ///< last activity on the bus that this end knows of
    Clock::time_point quarantine_until_{}; ///< no request before: a late answer may still come
    std::size_t last_server_ = 0;
    std::array<int, 256> owed_{}; ///< by server: answers to earlier requests that never came
};

Failure RtuLink::lost(const std::string& what) {
    close();
    why_down_ = fmt::format("{}: {}", settings_.device, what);
    back_off_.failed(Clock::now());
    return {Fault::link_down, why_down_};
}

// A replugged adapter gets its old name back only after the old descriptor is let go.
void RtuLink::close() {
    if (open_) modbus_close(context_.get());
    open_ = false;
    context_.reset();
}

std::optional<Failure> RtuLink::open() {
    if (open_) return std::nullopt;
    if (!back_off_.may_try(Clock::now())) return Failure{Fault::link_down, why_down_};
    const SerialSettings taken = as_taken_by_device(settings_);
    const char parity = taken.parity == Parity::none ? 'N' : taken.parity == Parity::even ? 'E' : 'O';
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
    last_byte_ = Clock::now();
    quarantine_until_ = {};
    owed_.fill(0);
    return std::nullopt;
}

// Before every request the bus has been silent for 3.5 characters and nothing waits unread: a byte that is here now
// answers something older. After a failure this also sits out the quarantine.
std::optional<Failure> RtuLink::wait_for_turn(std::size_t server) {
    const bool after_failure = Clock::now() < quarantine_until_;
    OpenLine line(descriptor());
    const auto found = await_silence(line, {last_byte_, silence_, quarantine_until_});
    if (found.has_error()) {
        if (found.error().fault == Fault::link_down) return lost(found.error().detail);
        last_byte_ = Clock::now();
        return Failure{found.error().fault, fmt::format("{}: {}", settings_.device, found.error().detail)};
    }
    last_byte_ = found->last_byte;
    if (after_failure) modbus_flush(context_.get());
    // The last server asked has answered after all.
    if (int& owed = owed_[last_server_]; found->stray.size() >= shortest_answer && owed > 0) --owed;
    last_server_ = server;
    return std::nullopt;
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

// An answer that never came may be on its way still, and then the true one follows it. Where two come within the time
// of three answers, the first was late.
std::optional<Failure> RtuLink::await_debt(const RegisterRequest& request, Clock::time_point until) {
    int& owed = owed_[static_cast<std::size_t>(request.server)];
    if (owed == 0) return std::nullopt;
    if (wait_readable(descriptor(), until) != Readable::nothing) {
        return Failure{Fault::bad_frame, fmt::format("{}: a late answer of server {} came before the one asked for",
                                                     settings_.device, request.server)};
    }
    owed = 0;
    return std::nullopt;
}

Result<RegisterReply> RtuLink::exchange(const RegisterRequest& request, std::chrono::milliseconds deadline) {
    std::array<std::uint8_t, 6> raw{static_cast<std::uint8_t>(request.server)};
    const auto pdu = request_pdu(request);
    std::copy(pdu.begin(), pdu.end(), raw.begin() + 1);
    modbus_set_slave(context_.get(), request.server);
    // The call that sends returns when the kernel has the bytes; the deadline begins when the line has carried them.
    const auto patience = line_time(settings_, request_characters) + deadline;
    set_patience(context_.get(), patience);

    Frame answer;
    answer.fill(no_server);
    RegisterReply reply;
    const auto sent_at = Clock::now();
    reply.before_us = now_us();
    int length = modbus_send_raw_request(context_.get(), raw.data(), static_cast<int>(raw.size()));
    if (length > 0) length = modbus_receive_confirmation(context_.get(), answer.data());
    const int error = errno;
    reply.after_us = now_us();
    last_byte_ = Clock::now();

    if (length < 0) return why_nothing(error, request, answer);
    if (length == 0 || answer[0] != request.server) {
        return Failure{Fault::bad_frame, fmt::format("{}: an answer of server {} instead of {}", settings_.device,
                                                     answer[0], request.server)};
    }
    // The checksum's two bytes have been checked by libmodbus.
    auto registers = registers_in({answer.data() + 1, static_cast<std::size_t>(length) - 3}, request);
    if (registers.has_error()) {
        return Failure{registers.error().fault, fmt::format("{}: {}", settings_.device, registers.error().detail)};
    }
    if (const auto late = await_debt(request, sent_at + 3 * patience)) return *late;
    reply.registers = std::move(*registers);
    return reply;
}

Result<RegisterReply> RtuLink::read(const RegisterRequest& request, std::chrono::milliseconds deadline) {
    if (!objection_.empty()) return Failure{Fault::unsupported, objection_};
    if (const std::string no = objection_to(request, 1, 247); !no.empty()) return Failure{Fault::unsupported, no};
    if (const auto down = open()) return *down;
    if (const auto busy = wait_for_turn(static_cast<std::size_t>(request.server))) return *busy;
    auto reply = exchange(request, deadline);
    const bool doubtful =
        reply.has_error() && (reply.error().fault == Fault::silent || reply.error().fault == Fault::bad_frame);
    if (doubtful) {
        if (reply.error().fault == Fault::silent) ++owed_[static_cast<std::size_t>(request.server)];
        modbus_flush(context_.get());
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
