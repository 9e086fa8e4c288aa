#pragma once

#include "protocols/modbus_link.hpp"

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>

#include <chrono>

namespace stillmark::protocols {

/// How long one try to connect may take.
constexpr std::chrono::milliseconds connect_patience{1000};

/// A connected socket without delay of small packets, or `link_down` with why, for the caller to name
/// the place. A host given as a name is looked up by the
/// system's resolver, which keeps its own time.
Result<boost::asio::ip::tcp::socket> connect(boost::asio::io_context& io, const TcpSettings& settings);

} // namespace stillmark::protocols
