#include "daemon/gateway/listen_address.hpp"

#include <boost/asio/ip/address.hpp>
#include <fmt/format.h>

#include <charconv>
#include <cstdint>

namespace stillmark::gateway {

boost::system::result<boost::asio::ip::tcp::endpoint, std::string> read_listen_address(const std::string& text) {
    const auto colon = text.rfind(':');
    std::string host = text.substr(0, colon);
    const std::string digits = colon == std::string::npos ? "" : text.substr(colon + 1);
    const bool in_brackets = host.size() > 2 && host.front() == '[' && host.back() == ']';
    if (in_brackets) host = host.substr(1, host.size() - 2);
    std::uint16_t port = 0;
    const auto end = std::from_chars(digits.data(), digits.data() + digits.size(), port);
    boost::system::error_code error;
    const auto address = boost::asio::ip::make_address(host, error);
    if (error || address.is_v6() != in_brackets || digits.empty() || end.ec != std::errc() ||
        end.ptr != digits.data() + digits.size())
        return fmt::format("--http \"{}\": is no address with a port; give one such as 127.0.0.1:8788 or [::1]:8788, "
                           "with port 0 for any that is free",
                           text);
    return boost::asio::ip::tcp::endpoint(address, port);
}

} // namespace stillmark::gateway
