#pragma once

#include <boost/asio/ip/tcp.hpp>
#include <boost/system/result.hpp>

#include <string>

namespace stillmark::gateway {

/// Reads an address and a port, as "127.0.0.1:8788" or "[::1]:8788"; otherwise says what would do.
boost::system::result<boost::asio::ip::tcp::endpoint, std::string> read_listen_address(const std::string& text);

} // namespace stillmark::gateway
