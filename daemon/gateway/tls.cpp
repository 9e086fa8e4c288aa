#include "daemon/gateway/tls.hpp"

#include <boost/system/error_code.hpp>
#include <fmt/format.h>

#include <openssl/ssl.h>

namespace stillmark::gateway {

namespace ssl = boost::asio::ssl;
using boost::system::error_code;

std::optional<std::string> set_up_tls(ssl::context& tls, const std::string& certificate_file,
                                      const std::string& key_file) {
    error_code error;
    tls.set_options(ssl::context::default_workarounds | ssl::context::no_sslv2 | ssl::context::no_sslv3 |
                        ssl::context::no_tlsv1 | ssl::context::no_tlsv1_1,
                    error);
    SSL_CTX_set_min_proto_version(tls.native_handle(), TLS1_2_VERSION);
    SSL_CTX_set_options(tls.native_handle(), SSL_OP_NO_RENEGOTIATION);
    tls.use_certificate_chain_file(certificate_file, error);
    if (error)
        return fmt::format(
            "--tls-certificate {}: cannot be read as a certificate ({}); give a file in PEM, the server's "
            "own certificate first",
            certificate_file, error.message());
    // A key behind a password would ask a terminal that is not there.
    tls.set_password_callback([](std::size_t, ssl::context::password_purpose) { return std::string(); }, error);
    tls.use_private_key_file(key_file, ssl::context::pem, error);
    if (error)
        return fmt::format("--tls-key {}: cannot be read as a key without a password that fits the certificate ({}); "
                           "give a file in PEM",
                           key_file, error.message());
    if (SSL_CTX_check_private_key(tls.native_handle()) != 1)
        return fmt::format("--tls-key {}: is not the key of {}", key_file, certificate_file);
    return std::nullopt;
}

} // namespace stillmark::gateway
