#pragma once

#include "daemon/gateway/http_shared.hpp"
#include "daemon/gateway/wire.hpp"

#include <memory>

namespace stillmark::gateway {

/// One connection over which requests come, one after the other.
class HttpSession : public std::enable_shared_from_this<HttpSession> {
  public:
    HttpSession(boost::asio::ip::tcp::socket socket, std::shared_ptr<HttpShared> shared);
    ~HttpSession();
    HttpSession(const HttpSession&) = delete;
    HttpSession& operator=(const HttpSession&) = delete;

    void start();
    /// Ends what takes too long; called a few times a second.
    void check(Micros now_us);
    void close();

    struct Inside; ///< what the conversation needs; its inside is the implementation's own

  private:
    std::unique_ptr<Inside> inside_;
};

/// The whole text of an answer's head, up to the empty line.
std::string head_of(const HttpAnswer& answer, bool keep_alive);

} // namespace stillmark::gateway
