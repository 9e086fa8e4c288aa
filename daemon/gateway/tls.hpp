#pragma once

#include <boost/asio/ssl/context.hpp>

#include <optional>
#include <string>

namespace stillmark::gateway {

/// TLS 1.2 and 1.3 with this certificate. Says what is wrong with the files, or nothing.
std::optional<std::string> set_up_tls(boost::asio::ssl::context& tls, const std::string& certificate_file,
                                      const std::string& key_file);

} // namespace stillmark::gateway
