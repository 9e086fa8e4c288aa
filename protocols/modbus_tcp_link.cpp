#include "protocols/back_off.hpp"
#include "protocols/descriptor.hpp"
#include "protocols/modbus_answer.hpp"
#include "protocols/modbus_context.hpp"
#include "protocols/tcp_connection.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <fcntl.h>
#include <optional>
#include <unistd.h>

namespace stillmark::protocols {
namespace {

using Clock = std::chrono::steady_clock;
using Frame = std::array<std::uint8_t, MODBUS_TCP_MAX_ADU_LENGTH>;

constexpr std::size_t header_bytes = 7;    ///< transaction, protocol, length, unit
constexpr std::uint8_t nothing_yet = 0xFF; ///< transactions stay below 0x8000, so that no answer begins with this
constexpr int transactions = 0x8000;
/// A peer that lost its power leaves a connection on which nothing ever comes.
constexpr int most_silences = 3;

class TcpLink final : public ModbusLink {
  public:
    explicit TcpLink(const TcpSettings& settings)
        : settings_(settings), where_(fmt::format("{}:{}", settings.host, settings.port)) {}
    ~TcpLink() override { close(); }
    TcpLink(const TcpLink&) = delete;
    TcpLink& operator=(const TcpLink&) = delete;

    Result<RegisterReply> read(const RegisterRequest& request, std::chrono::milliseconds deadline) override;

  private:
    std::optional<Failure> open();
    Result<RegisterReply> exchange(const RegisterRequest& request, std::chrono::milliseconds deadline);
    Result<std::vector<std::uint16_t>> judge(const Frame& answer, std::size_t length, const RegisterRequest& request);
    int receive(Frame& answer, Clock::time_point until);
    Failure why_nothing(int error, const RegisterRequest& request, const Frame& answer);
    Failure lost(const std::string& what);
    void answered();
    void close();

    TcpSettings settings_;
    std::string where_;
    ModbusContext context_;
    bool open_ = false;
    bool proven_ = false; ///< this connection has carried an answer
    int silences_ = 0;    ///< requests in a row that nobody answered
    BackOff back_off_;
    std::string why_down_;
    std::uint16_t transaction_ = 0;
    std::optional<int> other_number_; ///< of an answer that came while this request waited
};

Failure TcpLink::lost(const std::string& what) {
    close();
    why_down_ = fmt::format("{}: {}", where_, what);
    back_off_.failed(Clock::now());
    return {Fault::link_down, why_down_};
}

void TcpLink::close() {
    if (open_) modbus_close(context_.get());
    open_ = false;
    proven_ = false;
    silences_ = 0;
    context_.reset();
}

// libmodbus' own connecting call watches the new descriptor with select() before anyone can look at its number.
std::optional<Failure> TcpLink::open() {
    if (open_) return std::nullopt;
    if (!back_off_.may_try(Clock::now())) return Failure{Fault::link_down, why_down_};
    boost::asio::io_context io(1);
    auto socket = connect(io, settings_);
    if (socket.has_error()) return lost(socket.error().detail);
    boost::system::error_code error;
    const int descriptor = socket->release(error);
    if (error) return lost(error.message());
    context_.reset(modbus_new_tcp(nullptr, MODBUS_TCP_DEFAULT_PORT));
    if (context_ == nullptr || !can_be_selected(descriptor) ||
        fcntl(descriptor, F_SETFL, fcntl(descriptor, F_GETFL) | O_NONBLOCK) != 0) {
        ::close(descriptor);
        return lost(
            fmt::format("descriptor {} is beyond what select() can watch; fewer files must be open", descriptor));
    }
    modbus_set_error_recovery(context_.get(), MODBUS_ERROR_RECOVERY_NONE);
    modbus_set_socket(context_.get(), descriptor);
    open_ = true;
    return std::nullopt;
}

Failure TcpLink::why_nothing(int error, const RegisterRequest& request, const Frame& answer) {
    switch (error) {
    case ETIMEDOUT:
        if (answer[0] == nothing_yet && other_number_) {
            return {Fault::bad_frame, fmt::format("{}: an answer to request {} instead of {}, and no other", where_,
                                                  *other_number_, transaction_)};
        }
        if (answer[0] == nothing_yet) {
            return {Fault::silent, fmt::format("{}: server {} does not answer", where_, request.server)};
        }
        return {Fault::bad_frame, fmt::format("{}: the answer broke off", where_)};
    case EMBBADDATA:
        return {Fault::bad_frame, fmt::format("{}: an answer longer than any frame", where_)};
    case EAGAIN:
        return {Fault::silent, fmt::format("{}: the connection takes no bytes", where_)};
    default:
        return {Fault::link_down, fmt::format("{}: {}", where_, modbus_strerror(error))};
    }
}

Result<std::vector<std::uint16_t>> TcpLink::judge(const Frame& answer, std::size_t length,
                                                  const RegisterRequest& request) {
    const auto bad = [this](const std::string& what) {
        return Failure{Fault::bad_frame, fmt::format("{}: {}", where_, what)};
    };
    const auto word = [&answer](std::size_t at) { return answer[at] << 8 | answer[at + 1]; };
    if (word(0) != transaction_)
        return bad(fmt::format("an answer to request {} instead of {}", word(0), transaction_));
    if (word(2) != 0) return bad(fmt::format("an answer in protocol {} instead of 0", word(2)));
    if (static_cast<std::size_t>(word(4)) != length - 6) {
        return bad(fmt::format("an answer that calls itself {} bytes long and has {}", word(4), length - 6));
    }
    if (answer[6] != request.server) {
        return bad(fmt::format("an answer of server {} instead of {}", answer[6], request.server));
    }
    auto registers = registers_in({answer.data() + header_bytes, length - header_bytes}, request);
    if (registers.has_error()) {
        return Failure{registers.error().fault, fmt::format("{}: {}", where_, registers.error().detail)};
    }
    return registers;
}

// A late answer carries the number of its own request, and the one asked for may follow it.
int TcpLink::receive(Frame& answer, Clock::time_point until) {
    other_number_.reset();
    for (;;) {
        answer.fill(nothing_yet);
        set_patience(context_.get(), until - Clock::now());
        const int length = modbus_receive_confirmation(context_.get(), answer.data());
        const int number = answer[0] << 8 | answer[1];
        const int age = (transaction_ - number + transactions) % transactions;
        const bool late = length > 0 && number < transactions && age > 0 && age < transactions / 2;
        if (!late) return length;
        other_number_ = number;
    }
}

// The header is written here: libmodbus 3.1.6 sends a raw request without a transaction number, and its reading call
// does not look at the unit that answered.
Result<RegisterReply> TcpLink::exchange(const RegisterRequest& request, std::chrono::milliseconds deadline) {
    transaction_ = static_cast<std::uint16_t>((transaction_ + 1) % transactions);
    std::array<std::uint8_t, 12> frame{
        static_cast<std::uint8_t>(transaction_ >> 8), static_cast<std::uint8_t>(transaction_ & 0xFF), 0, 0, 0, 6,
        static_cast<std::uint8_t>(request.server)};
    const auto pdu = request_pdu(request);
    std::copy(pdu.begin(), pdu.end(), frame.begin() + header_bytes);

    Frame answer;
    RegisterReply reply;
    const auto until = Clock::now() + deadline;
    reply.before_us = now_us();
    const ssize_t sent = ::send(modbus_get_socket(context_.get()), frame.data(), frame.size(), MSG_NOSIGNAL);
    const int length = sent < 0 ? -1 : receive(answer, until);
    const int error = errno;
    reply.after_us = now_us();

    if (length < 0) return why_nothing(error, request, answer);
    auto registers = judge(answer, static_cast<std::size_t>(length), request);
    if (registers.has_error()) return registers.error();
    reply.registers = std::move(*registers);
    return reply;
}

void TcpLink::answered() {
    proven_ = true;
    silences_ = 0;
    back_off_.answered();
}

Result<RegisterReply> TcpLink::read(const RegisterRequest& request, std::chrono::milliseconds deadline) {
    if (const std::string no = objection_to(request, 0, 255); !no.empty()) return Failure{Fault::unsupported, no};
    if (const auto down = open()) return *down;
    const bool had_worked = proven_;
    auto reply = exchange(request, deadline);
    if (reply.has_error() && reply.error().fault == Fault::link_down && had_worked) {
        // A server may close an idle connection: that is found only by asking, and costs no reading.
        close();
        if (const auto down = open()) return *down;
        reply = exchange(request, deadline);
    }
    if (reply.has_value()) {
        answered();
        return reply;
    }
    // A whole answer to an earlier request leaves the stream as sound as silence does.
    const bool stream_is_sound = reply.error().fault == Fault::bad_frame && other_number_ && open_;
    switch (stream_is_sound ? Fault::silent : reply.error().fault) {
    case Fault::refused:
    case Fault::unsupported:
        answered();
        break;
    case Fault::silent:
        if (++silences_ >= most_silences) close();
        break;
    case Fault::bad_frame:
        close();
        break; // where one frame ends and the next begins is no longer known
    case Fault::link_down:
        close();
        why_down_ = reply.error().detail;
        back_off_.failed(Clock::now());
        break;
    }
    return reply;
}

} // namespace

std::unique_ptr<ModbusLink> make_modbus_tcp_link(const TcpSettings& settings) {
    return std::make_unique<TcpLink>(settings);
}

} // namespace stillmark::protocols
