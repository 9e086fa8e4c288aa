#include "daemon/gateway/local_socket.hpp"

#include "daemon/gateway/high_descriptor.hpp"
#include "daemon/gateway/request_keys.hpp"
#include "daemon/gateway/requests.hpp"
#include "protocols/instant.hpp"

#include <boost/asio/io_context.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/write.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <deque>
#include <filesystem>
#include <set>
#include <sys/stat.h>
#include <sys/un.h>
#include <thread>
#include <unistd.h>

namespace stillmark::gateway {

namespace asio = boost::asio;
using boost::system::error_code;
using Protocol = asio::local::stream_protocol;
using nlohmann::json;

namespace {

constexpr std::size_t longest_line = 65536;
constexpr std::size_t most_clients = 64;
constexpr std::size_t most_waiting_replies = 256;

class Session;

} // namespace

struct LocalSocket::Server {
    Server(std::string socket_path, GatewayDoor gateway_door)
        : path(std::move(socket_path)), door(std::move(gateway_door)), work(asio::make_work_guard(*io)), acceptor(*io),
          pause(*io) {}

    void accept();

    std::string path;
    std::optional<std::string> trouble;
    GatewayDoor door;
    /// Shared, because a reply may still be held by the deciding thread when the server is gone.
    std::shared_ptr<asio::io_context> io = std::make_shared<asio::io_context>(1);
    asio::executor_work_guard<asio::io_context::executor_type> work;
    Protocol::acceptor acceptor;
    asio::steady_timer pause;
    std::set<std::shared_ptr<Session>> sessions;
    std::atomic<std::size_t> subscribers{0};
    std::jthread thread;
};

namespace {

class Session : public std::enable_shared_from_this<Session> {
  public:
    Session(Protocol::socket socket, LocalSocket::Server& server) : socket_(std::move(socket)), server_(server) {}

    void read() {
        asio::async_read_until(
            socket_, asio::dynamic_buffer(incoming_, longest_line), '\n',
            [self = shared_from_this()](const error_code& error, std::size_t length) { self->on_read(error, length); });
    }

    void on_frame(const std::shared_ptr<const std::string>& frame) {
        if (!subscribed_) return;
        const Micros now = protocols::now_us();
        if (now - last_frame_us_ < frame_pause_us_) return;
        last_frame_us_ = now;
        // A slow client sees the newest frame when it comes to it, not every frame late.
        waiting_frame_ = frame;
        write();
    }

    void say(const json& reply) {
        if (closed_) return;
        replies_.push_back(
            std::make_shared<const std::string>(reply.dump(-1, ' ', false, json::error_handler_t::replace) + "\n"));
        if (replies_.size() > most_waiting_replies) return close();
        write();
    }

    void close() {
        if (closed_) return;
        closed_ = true;
        if (subscribed_) --server_.subscribers;
        error_code ignored;
        socket_.close(ignored);
        server_.sessions.erase(shared_from_this());
    }

  private:
    void on_read(const error_code& error, std::size_t length) {
        if (error == asio::error::not_found) {
            say(malformed(nullptr, fmt::format("a line is longer than {} bytes; this connection ends", longest_line)));
            closing_ = true;
            return;
        }
        if (error || closed_) return close();
        const std::string line = incoming_.substr(0, length - 1);
        incoming_.erase(0, length);
        take(line);
        if (!closed_) read();
    }

    void take(const std::string& line) {
        const auto request = parse_request(line);
        if (!request) return say(malformed(nullptr, "this is not a JSON object on one line"));
        if (const auto what = request->find("do"); what != request->end() && *what == "subscribe")
            return subscribe(*request);
        // The reply may come when this client, or the whole server, is gone.
        server_.door.ask(*request, [io = server_.io, weak = weak_from_this()](const json& reply) {
            asio::post(*io, [weak, reply] {
                if (const auto self = weak.lock()) self->say(reply);
            });
        });
    }

    void subscribe(const json& request) {
        const json id = request.contains("id") ? request["id"] : json(nullptr);
        Keys keys(request);
        const std::int64_t at_most_hz = keys.number_or("at_most_hz", 10);
        if (!keys.wrong().empty()) return say(malformed(id, keys.wrong()));
        if (at_most_hz < 1 || at_most_hz > 20)
            return say(malformed(id, "\"at_most_hz\" is a whole number from 1 to 20"));
        // A little less than the period, or a frame that comes a moment early is dropped for a whole one.
        frame_pause_us_ = 1'000'000 / at_most_hz - 10'000;
        if (!subscribed_) ++server_.subscribers;
        subscribed_ = true;
        say({{"id", id}, {"ok", true}});
    }

    void write() {
        if (writing_ || closed_) return;
        if (!replies_.empty()) {
            outgoing_ = replies_.front();
            replies_.pop_front();
        } else if (waiting_frame_) {
            outgoing_ = std::move(waiting_frame_);
            waiting_frame_.reset();
        } else {
            if (closing_) close();
            return;
        }
        writing_ = true;
        asio::async_write(socket_, asio::buffer(*outgoing_),
                          [self = shared_from_this()](const error_code& error, std::size_t) {
                              self->writing_ = false;
                              if (error) return self->close();
                              self->write();
                          });
    }

    Protocol::socket socket_;
    LocalSocket::Server& server_;
    std::string incoming_;
    std::deque<std::shared_ptr<const std::string>> replies_;
    std::shared_ptr<const std::string> waiting_frame_;
    std::shared_ptr<const std::string> outgoing_;
    bool writing_ = false;
    bool closed_ = false;
    bool closing_ = false;
    bool subscribed_ = false;
    Micros frame_pause_us_ = 0;
    Micros last_frame_us_ = 0;
};

} // namespace

void LocalSocket::Server::accept() {
    acceptor.async_accept([this](const error_code& error, Protocol::socket socket) {
        if (error == asio::error::operation_aborted) return;
        if (!error && sessions.size() < most_clients) {
            move_above_select(socket);
            const auto session = std::make_shared<Session>(std::move(socket), *this);
            sessions.insert(session);
            session->read();
        }
        if (!error) return accept();
        // Out of descriptors and the like: not at once again.
        pause.expires_after(std::chrono::milliseconds(100));
        pause.async_wait([this](const error_code& cancelled) {
            if (!cancelled) accept();
        });
    });
}

std::optional<std::string> LocalSocket::objection_to(const std::string& path) {
    if (path.size() >= sizeof(sockaddr_un::sun_path))
        return fmt::format("{}: a socket's path has at most {} bytes; use a shorter one", path,
                           sizeof(sockaddr_un::sun_path) - 1);
    std::error_code error;
    const auto folder = std::filesystem::absolute(path, error).parent_path();
    if (!std::filesystem::is_directory(folder, error))
        return fmt::format("{}: the folder {} does not exist; make it", path, folder.string());
    if (::access(folder.c_str(), W_OK) != 0)
        return fmt::format("{}: nothing can be made in the folder {}; check who may write there", path,
                           folder.string());
    const auto status = std::filesystem::symlink_status(path, error);
    if (!std::filesystem::exists(status)) return std::nullopt;
    if (!std::filesystem::is_socket(status))
        return fmt::format("{}: stands there and is no socket; use another path", path);
    asio::io_context io;
    Protocol::socket probe(io);
    error_code refused;
    probe.connect(Protocol::endpoint(path), refused);
    if (!refused) return fmt::format("{}: another service answers there; stop it, or use another path", path);
    return std::nullopt;
}

LocalSocket::LocalSocket(std::string path, GatewayDoor door)
    : server_(std::make_unique<Server>(std::move(path), std::move(door))) {
    auto& server = *server_;
    ::unlink(server.path.c_str());
    error_code error;
    server.acceptor.open(Protocol(), error);
    // Whoever may write to the socket may state a load: the owner and the group.
    const mode_t mask = ::umask(0117);
    if (!error) server.acceptor.bind(Protocol::endpoint(server.path), error);
    ::umask(mask);
    if (!error) server.acceptor.listen(16, error);
    if (error) {
        server.trouble =
            fmt::format("{}: no socket can be made there ({}); check the folder's permissions, or use another path",
                        server.path, error.message());
        return;
    }
    server.accept();
    server.thread = std::jthread([&server] { server.io->run(); });
}

LocalSocket::~LocalSocket() {
    stop();
}

std::optional<std::string> LocalSocket::trouble() const {
    return server_->trouble;
}

void LocalSocket::stop() {
    if (!server_->thread.joinable()) return;
    asio::post(*server_->io, [&server = *server_] {
        error_code ignored;
        server.acceptor.close(ignored);
        server.pause.cancel();
        for (const auto& session : std::set(server.sessions))
            session->close();
        server.work.reset();
        server.io->stop();
    });
    server_->thread.join();
    ::unlink(server_->path.c_str());
}

void LocalSocket::publish(std::shared_ptr<const std::string> frame_line) {
    asio::post(*server_->io, [&server = *server_, frame = std::move(frame_line)] {
        for (const auto& session : std::set(server.sessions))
            session->on_frame(frame);
    });
}

bool LocalSocket::has_subscribers() const {
    return server_->subscribers > 0;
}

} // namespace stillmark::gateway
