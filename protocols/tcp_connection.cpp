#include "protocols/tcp_connection.hpp"

#include <boost/asio/connect.hpp>

#include <netinet/tcp.h>
#include <sys/socket.h>

namespace stillmark::protocols {

using boost::asio::ip::tcp;

namespace {

// Where nothing is ever sent, a peer that lost its power is told from a silent one only by the system's own probes:
// 5 s of quiet, then three a second apart. A kernel that refuses leaves the connection as good as it was.
void watch_for_dead_peer(int descriptor) {
    const auto set = [descriptor](int level, int option, int value) {
        setsockopt(descriptor, level, option, &value, sizeof value);
    };
    set(SOL_SOCKET, SO_KEEPALIVE, 1);
    set(IPPROTO_TCP, TCP_KEEPIDLE, 5);
    set(IPPROTO_TCP, TCP_KEEPINTVL, 1);
    set(IPPROTO_TCP, TCP_KEEPCNT, 3);
}

} // namespace

Result<tcp::socket> connect(boost::asio::io_context& io, const TcpSettings& settings) {
    const auto down = [](const std::string& why) { return Failure{Fault::link_down, why}; };
    boost::system::error_code error;
    tcp::resolver resolver(io);
    const auto addresses =
        resolver.resolve(settings.host, std::to_string(settings.port), tcp::resolver::numeric_service, error);
    if (error) return down(error.message());

    tcp::socket socket(io);
    bool connected = false;
    boost::asio::async_connect(socket, addresses,
                               [&connected, &error](const boost::system::error_code& result, const tcp::endpoint&) {
                                   error = result;
                                   connected = !result;
                               });
    io.restart();
    io.run_for(connect_patience);
    if (!io.stopped()) {
        boost::system::error_code ignored;
        socket.close(ignored);
        io.run();
        return down("no connection within 1 s");
    }
    if (!connected) return down(error.message());
    socket.set_option(tcp::no_delay(true), error);
    if (error) return down(error.message());
    watch_for_dead_peer(socket.native_handle());
    return socket;
}

} // namespace stillmark::protocols
