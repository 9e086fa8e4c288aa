#pragma once

#include "daemon/gateway/http_routes.hpp"
#include "daemon/gateway/local_socket.hpp"

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::gateway {

struct HttpOptions {
    std::string address;     ///< an address and a port, as "127.0.0.1:8788" or "[::1]:8788"; port 0 takes a free one
    std::string certificate; ///< a file with the chain in PEM, or empty: no TLS
    std::string key;         ///< its private key in PEM
    std::vector<std::string> names; ///< by which browsers reach this service, beside its addresses and `localhost`
    std::string users;              ///< the file of those who may log in, or empty: nobody has to
};

/// How the server reaches the rest of the program.
struct HttpDoor {
    /// As of the local socket.
    GatewayDoor socket;
    /// Calls back on the deciding thread; must return at once.
    std::function<void(std::function<void(const decider::Decider&)> look)> on_deciding_thread;
    /// What is asked of the journal goes to the file itself, on a thread beside the deciding one.
    std::string journal_path;
    /// Where the certificates' documents are; read on that thread too.
    std::string records_folder;
};

/// Serves the console and the API from its own thread. Bounded everywhere (`HttpLimits`); what is too much is refused,
/// and readings go on.
class HttpServer {
  public:
    /// Takes the address, so that what is wrong with it is known before anything else begins.
    explicit HttpServer(
        HttpOptions options, LogIn::Tell tell = [](bool, const std::string&) {});
    ~HttpServer();
    HttpServer(const HttpServer&) = delete;
    HttpServer& operator=(const HttpServer&) = delete;

    /// Why nobody can connect, or nothing.
    std::optional<std::string> trouble() const;
    /// Where the page is, as a browser takes it: with the port that was really taken.
    const std::string& url() const;
    /// Begins to answer.
    void serve(HttpDoor door);
    /// Closes every connection; replies that come later go nowhere.
    void stop();

    /// From any thread: a live frame, serialised once for every view.
    void publish(std::shared_ptr<const std::string> frame_line);
    /// From any thread: whether anybody would see a frame.
    bool has_subscribers() const;

    struct Server; ///< what the connections need; its inside is the implementation's own

  private:
    std::unique_ptr<Server> server_;
};

} // namespace stillmark::gateway
