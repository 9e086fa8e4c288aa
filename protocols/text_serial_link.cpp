#include "protocols/exclusive_port.hpp"
#include "protocols/serial_line.hpp"
#include "protocols/text_stream_link.hpp"

#include <boost/asio/serial_port.hpp>

namespace stillmark::protocols {
namespace {

using Port = boost::asio::serial_port;

/// A port and the lock on it, which goes with it.
class OwnedPort : public Port {
  public:
    OwnedPort(Port port, ExclusivePort owned) : Port(std::move(port)), owned_(std::move(owned)) {}

  private:
    ExclusivePort owned_;
};

class SerialDoor {
  public:
    using Stream = OwnedPort;
    static constexpr bool reconnects = false;

    explicit SerialDoor(SerialSettings settings)
        : settings_(std::move(settings)), objection_(objection_to(settings_)) {}

    std::string where() const { return settings_.device; }
    std::string objection() const { return objection_; }
    std::chrono::nanoseconds time_to_send(std::size_t characters) const {
        return line_time(settings_, static_cast<int>(characters));
    }
    std::chrono::nanoseconds soonest_answer(std::size_t request, std::size_t answer) const {
        return protocols::soonest_answer(settings_, std::chrono::nanoseconds(0), request, answer);
    }
    /// A read of zero bytes shows as the end, whether the adapter is gone or only silent.
    bool still_there(Stream& port) const { return !unplugged(port.native_handle()); }

    Result<Stream> open(boost::asio::io_context& io) const {
        const auto down = [](const std::string& why) { return Failure{Fault::link_down, why}; };
        const SerialSettings taken = as_taken_by_device(settings_);
        auto owned = ExclusivePort::take(taken.device);
        if (owned.has_error()) return owned.error();
        Port port(io);
        boost::system::error_code error;
        port.open(taken.device, error);
        const auto set = [&port, &error](const auto& option) {
            if (!error) port.set_option(option, error);
        };
        set(Port::baud_rate(static_cast<unsigned>(taken.baud)));
        set(Port::character_size(static_cast<unsigned>(taken.data_bits)));
        set(Port::stop_bits(taken.stop_bits == 2 ? Port::stop_bits::two : Port::stop_bits::one));
        set(Port::parity(taken.parity == Parity::none   ? Port::parity::none
                         : taken.parity == Parity::even ? Port::parity::even
                                                        : Port::parity::odd));
        set(Port::flow_control(Port::flow_control::none));
        if (error) return down(error.message());
        if (const std::string refused = setting_not_taken(port.native_handle(), taken); !refused.empty()) {
            return down(refused);
        }
        owned->keep_others_out();
        return Stream(std::move(port), std::move(*owned));
    }

  private:
    SerialSettings settings_;
    std::string objection_;
};

} // namespace

std::unique_ptr<TextLink> make_text_serial_link(const SerialSettings& settings, const std::string& terminator) {
    return std::make_unique<TextStreamLink<SerialDoor>>(SerialDoor(settings), terminator);
}

} // namespace stillmark::protocols
