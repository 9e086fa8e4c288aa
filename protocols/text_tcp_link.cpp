#include "protocols/tcp_connection.hpp"
#include "protocols/text_stream_link.hpp"

namespace stillmark::protocols {
namespace {

using boost::asio::ip::tcp;

class TcpDoor {
  public:
    using Stream = tcp::socket;
    static constexpr bool reconnects = true;

    explicit TcpDoor(TcpSettings settings) : settings_(std::move(settings)) {}

    std::string where() const { return fmt::format("{}:{}", settings_.host, settings_.port); }
    std::string objection() const { return {}; }
    std::chrono::nanoseconds time_to_send(std::size_t) const { return std::chrono::nanoseconds(0); }
    std::chrono::nanoseconds soonest_answer(std::size_t, std::size_t) const { return std::chrono::nanoseconds(0); }
    bool still_there(Stream&) const { return false; }

    Result<Stream> open(boost::asio::io_context& io) const {
        auto socket = connect(io, settings_);
        if (socket.has_error()) return socket;
        boost::system::error_code error;
        const auto protocol = socket->local_endpoint(error).protocol();
        if (error) return Failure{Fault::link_down, error.message()};
        const int descriptor = socket->release(error);
        if (error) return Failure{Fault::link_down, error.message()};
        Stream moved(io);
        moved.assign(protocol, move_above_select(descriptor), error);
        if (error) return Failure{Fault::link_down, error.message()};
        moved.non_blocking(true, error);
        if (error) return Failure{Fault::link_down, error.message()};
        return moved;
    }

  private:
    TcpSettings settings_;
};

} // namespace

std::unique_ptr<TextLink> make_text_tcp_link(const TcpSettings& settings, const std::string& terminator) {
    return std::make_unique<TextStreamLink<TcpDoor>>(TcpDoor(settings), terminator);
}

} // namespace stillmark::protocols
