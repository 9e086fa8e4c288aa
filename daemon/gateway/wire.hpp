#pragma once

#include <boost/asio/async_result.hpp>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/ssl/context.hpp>
#include <boost/asio/ssl/stream.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core/role.hpp>

#include <memory>
#include <utility>

namespace stillmark::gateway {

/// One connection, with or without TLS: decided when it is made, so that what stands above it is compiled once.
class Wire {
  public:
    using Socket = boost::asio::ip::tcp::socket;
    using executor_type = Socket::executor_type;

    Wire(Socket socket, boost::asio::ssl::context* tls) : socket_(std::make_unique<Socket>(std::move(socket))) {
        if (tls != nullptr) tls_ = std::make_unique<boost::asio::ssl::stream<Socket&>>(*socket_, *tls);
    }

    executor_type get_executor() { return socket_->get_executor(); }
    Socket& socket() { return *socket_; }
    boost::asio::ssl::stream<Socket&>* tls() { return tls_.get(); }
    void close() {
        boost::system::error_code ignored;
        socket_->close(ignored);
    }

    template <class Buffers, class Token>
    auto async_read_some(const Buffers& buffers, Token&& token) {
        return boost::asio::async_initiate<Token, void(boost::system::error_code, std::size_t)>(
            [this](auto handler, const Buffers& into) {
                if (tls_)
                    tls_->async_read_some(into, std::move(handler));
                else
                    socket_->async_read_some(into, std::move(handler));
            },
            token, buffers);
    }

    template <class Buffers, class Token>
    auto async_write_some(const Buffers& buffers, Token&& token) {
        return boost::asio::async_initiate<Token, void(boost::system::error_code, std::size_t)>(
            [this](auto handler, const Buffers& from) {
                if (tls_)
                    tls_->async_write_some(from, std::move(handler));
                else
                    socket_->async_write_some(from, std::move(handler));
            },
            token, buffers);
    }

  private:
    std::unique_ptr<Socket> socket_;
    std::unique_ptr<boost::asio::ssl::stream<Socket&>> tls_;
};

/// How a WebSocket ends on this connection (Beast finds these by name): the last words are written, then it is closed.
inline void beast_close_socket(Wire& wire) {
    wire.close();
}
inline void teardown(boost::beast::role_type, Wire& wire, boost::system::error_code& error) {
    error = {};
    wire.close();
}
template <class Handler>
void async_teardown(boost::beast::role_type, Wire& wire, Handler&& handler) {
    boost::system::error_code ignored;
    wire.socket().shutdown(Wire::Socket::shutdown_send, ignored);
    boost::asio::post(wire.get_executor(),
                      [handler = std::forward<Handler>(handler)]() mutable { handler(boost::system::error_code()); });
}

} // namespace stillmark::gateway
