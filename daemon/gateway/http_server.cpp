#include "daemon/gateway/http_server.hpp"

#include "daemon/gateway/high_descriptor.hpp"
#include "daemon/gateway/http_session.hpp"
#include "daemon/gateway/listen_address.hpp"
#include "daemon/gateway/live_session.hpp"
#include "daemon/gateway/tls.hpp"

#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/thread_pool.hpp>
#include <boost/asio/write.hpp>
#include <fmt/format.h>

#include <pthread.h>
#include <sys/resource.h>
#include <thread>
#include <unistd.h>

namespace stillmark::gateway {

namespace asio = boost::asio;
using asio::ip::tcp;
using boost::system::error_code;
using nlohmann::json;

namespace {

constexpr auto check_period = std::chrono::milliseconds(200);
constexpr int longest_queue = 512;
constexpr int send_buffer = 256 * 1024;
/// More frames than this on their way to the gateway's thread mean that it is behind; it then gets fewer.
constexpr int most_frames_on_the_way = 4;
/// The threads that read the wire come first where the machine has too little for all.
constexpr int niceness = 10;
constexpr int niceness_of_pool = 15;
constexpr std::size_t pool_threads = 2;
constexpr int most_jobs = 32;

/// A connection beyond the limit, which is told so and closed.
struct TurnedAway {
    explicit TurnedAway(tcp::socket its_socket) : socket(std::move(its_socket)) {}
    tcp::socket socket;
    Micros since_us = protocols::now_us();
    std::array<char, 1024> unread{};
};

} // namespace

struct HttpServer::Server {
    Server(HttpOptions the_options, LogIn::Tell the_tell)
        : options(std::move(the_options)), tell(std::move(the_tell)), work(asio::make_work_guard(*shared->io)),
          acceptor(*shared->io), pause(*shared->io), sweep(*shared->io), rest(*shared->io) {}

    void accept();
    void take(tcp::socket socket);
    void turn_away(tcp::socket socket);
    void drain(const std::shared_ptr<TurnedAway>& away);
    void check_all();
    void ask_next();
    void run_on_pool(std::function<HttpAnswer()> job, std::function<void(HttpAnswer)> give);
    std::optional<std::string> open();
    std::optional<std::string> open_log_in(unsigned port);

    HttpOptions options;
    LogIn::Tell tell;
    HttpDoor door;
    std::optional<std::string> trouble;
    std::string url;
    std::shared_ptr<HttpShared> shared = std::make_shared<HttpShared>();
    asio::executor_work_guard<asio::io_context::executor_type> work;
    tcp::acceptor acceptor;
    asio::steady_timer pause;
    asio::steady_timer sweep;
    asio::steady_timer rest;
    Looks looks;
    std::set<std::shared_ptr<TurnedAway>> turned_away;
    std::atomic<int> frames_on_the_way{0};
    /// What replies hold on to, to know that the server is still there.
    std::shared_ptr<Server*> here = std::make_shared<Server*>(this);
    std::atomic<int> jobs{0};
    asio::thread_pool pool{pool_threads};
    std::unique_ptr<LogIn> log_in; ///< null where nobody has to log in
    std::jthread thread;
};

void HttpServer::Server::accept() {
    acceptor.async_accept([this](const error_code& error, tcp::socket socket) {
        if (error == asio::error::operation_aborted || shared->stopping) return;
        if (!error) take(std::move(socket));
        // A connection that went away while it waited is no shortage.
        if (!error || error == asio::error::connection_aborted) return accept();
        pause.expires_after(std::chrono::milliseconds(100));
        pause.async_wait([this](const error_code& cancelled) {
            if (!cancelled) accept();
        });
    });
}

void HttpServer::Server::take(tcp::socket socket) {
    if (shared->counts.connections >= HttpLimits::most_connections) return turn_away(std::move(socket));
    move_above_select(socket);
    error_code ignored;
    socket.set_option(tcp::no_delay(true), ignored);
    // What the kernel holds for a slow view is old when it is read.
    socket.set_option(asio::socket_base::send_buffer_size(send_buffer), ignored);
    ++shared->counts.accepted;
    std::make_shared<HttpSession>(std::move(socket), shared)->start();
}

void HttpServer::Server::turn_away(tcp::socket socket) {
    ++shared->counts.refused_connections;
    // Without a handshake there is nothing that the other end could read.
    if (shared->tls || turned_away.size() >= HttpLimits::most_turned_away) return;
    static const std::string words = [] {
        const auto answer = problem(
            503, "too_many",
            fmt::format("{} connections are open already; close one, then try again", HttpLimits::most_connections));
        return head_of(answer, false) + answer.body;
    }();
    move_above_select(socket);
    const auto away = std::make_shared<TurnedAway>(std::move(socket));
    turned_away.insert(away);
    asio::async_write(away->socket, asio::buffer(words), [this, away](const error_code& error, std::size_t) {
        error_code ignored;
        away->socket.shutdown(tcp::socket::shutdown_send, ignored);
        if (error)
            turned_away.erase(away);
        else
            drain(away);
    });
}

/// Reads what still comes, or the words would be taken away with it; the sweep ends it.
void HttpServer::Server::drain(const std::shared_ptr<TurnedAway>& away) {
    away->socket.async_read_some(asio::buffer(away->unread), [this, away](const error_code& error, std::size_t) {
        if (error)
            turned_away.erase(away);
        else
            drain(away);
    });
}

void HttpServer::Server::check_all() {
    const Micros now = protocols::now_us();
    if (log_in) log_in->check(now);
    for (const auto& session : std::set(shared->sessions))
        session->check(now);
    for (const auto& view : std::set(shared->views))
        view->check(now);
    for (const auto& away : turned_away) {
        error_code ignored;
        if (now - away->since_us > HttpLimits::parting_us) away->socket.close(ignored);
    }
    sweep.expires_after(check_period);
    sweep.async_wait([this](const error_code& error) {
        if (!error && !shared->stopping) check_all();
    });
}

void HttpServer::Server::ask_next() {
    const Micros now = protocols::now_us();
    const json* request = looks.next(now);
    if (request == nullptr) {
        if (!looks.any_waiting() || looks.under_way()) return;
        rest.expires_after(std::chrono::microseconds(std::max<Micros>(looks.rests_until_us() - now, 100)));
        rest.async_wait([this](const error_code& error) {
            if (!error) ask_next();
        });
        return;
    }
    door.socket.ask(*request, [io = shared->io, weak = std::weak_ptr(here)](json reply) {
        asio::post(*io, [weak, reply = std::move(reply)]() mutable {
            const auto server = weak.lock();
            if (!server) return;
            (*server)->looks.replied(std::move(reply), protocols::now_us());
            (*server)->ask_next();
        });
    });
}

void HttpServer::Server::run_on_pool(std::function<HttpAnswer()> job, std::function<void(HttpAnswer)> give) {
    if (jobs.fetch_add(1) >= most_jobs) {
        --jobs;
        return give(problem(503, "too_many", "too much is being looked up already; ask again in a second"));
    }
    asio::post(pool, [this, job = std::move(job), give = std::move(give)] {
        ::setpriority(PRIO_PROCESS, static_cast<id_t>(::gettid()), niceness_of_pool);
        auto answer = job();
        --jobs;
        give(std::move(answer));
    });
}

std::optional<std::string> HttpServer::Server::open() {
    const auto address = read_listen_address(options.address);
    if (!address) return address.error();
    if (options.certificate.empty() != options.key.empty())
        return "--tls-certificate and --tls-key belong together; give both, or neither";
    if (!address->address().is_loopback() && (options.certificate.empty() || options.users.empty()))
        return fmt::format("--http {}: other machines could reach that; it needs TLS and users (--tls-certificate, "
                           "--tls-key, --users). Without them use 127.0.0.1",
                           options.address);
    if (!options.certificate.empty()) {
        shared->tls.emplace(asio::ssl::context::tls_server);
        if (auto wrong = set_up_tls(*shared->tls, options.certificate, options.key)) return wrong;
    }
    error_code error;
    acceptor.open(address->protocol(), error);
    if (!error) acceptor.set_option(tcp::acceptor::reuse_address(true), error);
    if (!error) acceptor.bind(*address, error);
    if (!error) acceptor.listen(longest_queue, error);
    if (error)
        return fmt::format("--http {}: nobody can be served there ({}); use another port, or 0 for any that is free",
                           options.address, error.message());
    move_above_select(acceptor);
    const auto end = acceptor.local_endpoint(error);
    url = fmt::format("{}://{}:{}/", shared->tls ? "https" : "http",
                      end.address().is_v6() ? "[" + end.address().to_string() + "]" : end.address().to_string(),
                      end.port());
    return open_log_in(end.port());
}

std::optional<std::string> HttpServer::Server::open_log_in(unsigned port) {
    if (options.users.empty()) return std::nullopt;
    auto users = people::load_users(options.users);
    if (!users) return "--users " + users.error().message;
    if (users->list.empty())
        return fmt::format("--users {0}: nobody stands in it; say: stillmark users {0} add NAME --role administrator",
                           options.users);
    people::Workers workers;
    workers.on_pool = [this](std::function<void()> job) {
        asio::post(pool, [job = std::move(job)] {
            ::setpriority(PRIO_PROCESS, static_cast<id_t>(::gettid()), niceness_of_pool);
            job();
        });
    };
    workers.back = [io = shared->io](std::function<void()> then) { asio::post(*io, std::move(then)); };
    log_in = std::make_unique<LogIn>(options.users, std::move(*users), std::move(workers), tell, port,
                                     shared->tls.has_value());
    return std::nullopt;
}

HttpServer::HttpServer(HttpOptions options, LogIn::Tell tell)
    : server_(std::make_unique<Server>(std::move(options), std::move(tell))) {
    server_->trouble = server_->open();
}

void HttpServer::serve(HttpDoor door) {
    auto& server = *server_;
    if (server.trouble || server.thread.joinable()) return;
    server.door = std::move(door);
    auto& shared = *server.shared;
    shared.site = {{}, shared.tls.has_value()};
    for (const auto& name : server.options.names)
        shared.site.names.push_back(in_small_letters(name));
    shared.ground.log_in = server.log_in.get();
    shared.ground.counts = &shared.counts;
    shared.ground.change = server.door.socket.ask;
    shared.ground.on_deciding_thread = server.door.on_deciding_thread;
    shared.ground.journal_path = server.door.journal_path;
    shared.ground.records_folder = server.door.records_folder;
    shared.ground.on_pool = [&server](std::function<HttpAnswer()> job, std::function<void(HttpAnswer)> give) {
        server.run_on_pool(std::move(job), std::move(give));
    };
    shared.ground.look = [&server](json request, const std::function<void(const LookReply&)>& reply) {
        if (!server.looks.add(std::move(request), reply)) return reply(nullptr);
        server.ask_next();
    };
    server.accept();
    server.check_all();
    server.thread = std::jthread([&server] {
        ::pthread_setname_np(::pthread_self(), "gateway");
        ::setpriority(PRIO_PROCESS, static_cast<id_t>(::gettid()), niceness);
        server.shared->io->run();
    });
}

HttpServer::~HttpServer() {
    stop();
}

std::optional<std::string> HttpServer::trouble() const {
    return server_->trouble;
}

const std::string& HttpServer::url() const {
    return server_->url;
}

void HttpServer::stop() {
    if (!server_->thread.joinable()) return;
    // The thread ends by itself when every conversation has come to its end, so that none is torn down half-way.
    asio::post(*server_->shared->io, [&server = *server_] {
        server.shared->stopping = true;
        error_code ignored;
        server.acceptor.close(ignored);
        server.pause.cancel();
        server.sweep.cancel();
        server.rest.cancel();
        for (const auto& session : std::set(server.shared->sessions))
            session->close();
        for (const auto& view : std::set(server.shared->views))
            view->close();
        for (const auto& away : server.turned_away)
            away->socket.close(ignored);
        server.work.reset();
    });
    server_->thread.join();
    server_->pool.join();
    server_->here.reset();
}

void HttpServer::publish(std::shared_ptr<const std::string> frame_line) {
    auto& server = *server_;
    if (server.frames_on_the_way.fetch_add(1) >= most_frames_on_the_way) {
        --server.frames_on_the_way;
        return;
    }
    asio::post(*server.shared->io, [&server, frame = std::move(frame_line)] {
        --server.frames_on_the_way;
        const Micros now = protocols::now_us();
        for (const auto& view : server.shared->views)
            view->on_frame(frame, now);
    });
}

bool HttpServer::has_subscribers() const {
    return server_->shared->subscribers > 0;
}

} // namespace stillmark::gateway
