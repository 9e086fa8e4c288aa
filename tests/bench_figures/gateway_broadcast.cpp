// CPU of the console's live views: 100 WebSocket clients at 20 frames a second, 64 channels a frame, against a bare
// Beast server that broadcasts a ready text. Goal: at most 2 times its CPU for each frame that came: on a busy machine
// either leaves some out. The clients are a process of their own.
#include "daemon/gateway/http_server.hpp"

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/write.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/websocket.hpp>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <chrono>
#include <csignal>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <functional>
#include <memory>
#include <string>
#include <sys/epoll.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <thread>
#include <unistd.h>
#include <vector>

namespace {

namespace asio = boost::asio;
namespace websocket = boost::beast::websocket;
using asio::ip::tcp;
using boost::system::error_code;
using nlohmann::json;
using Clock = std::chrono::steady_clock;
using Frame = std::shared_ptr<const std::string>;

constexpr int clients = 100;
constexpr int channels = 64;
constexpr auto period = std::chrono::milliseconds(50);
constexpr int frames_a_turn = 120;
constexpr int turns = 4;

json frame_of_many(int number) {
    json list = json::array();
    for (int i = 0; i < channels; ++i)
        list.push_back({{"name", fmt::format("transmitter {}", i)},
                        {"unit", "bar"},
                        {"value", 40.0 + 0.001 * i + 1e-6 * number},
                        {"shown", "40.012"},
                        {"age_us", 12345},
                        {"status", "good"},
                        {"stillness", "settling"},
                        {"progress", 0.4375},
                        {"expected_s", 2.125},
                        {"why", "the drift bound"},
                        {"manual", false},
                        {"mark", "waiting"},
                        {"poll_us", 100000},
                        {"window", nullptr},
                        {"approach", nullptr},
                        {"division", nullptr},
                        {"parts", nullptr}});
    return {{"frame", {{"at_us", number}, {"bench", "64 channels"}, {"journal", "recording"}, {"channels", list}}}};
}

Frame text_of(const json& frame) {
    return std::make_shared<const std::string>(frame.dump() + "\n");
}

/// The plainest server that does it: accepts, and writes the same bytes to everybody at each beat.
class BareServer {
  public:
    BareServer() : acceptor_(io_, tcp::endpoint(asio::ip::address_v4::loopback(), 0)) {
        accept();
        thread_ = std::jthread([this] { io_.run(); });
    }
    ~BareServer() {
        io_.stop();
        thread_.join();
    }
    BareServer(const BareServer&) = delete;
    BareServer& operator=(const BareServer&) = delete;
    unsigned short port() { return acceptor_.local_endpoint().port(); }
    void publish(Frame frame) {
        asio::post(io_, [this, frame = std::move(frame)] {
            for (const auto& one : sessions_)
                one->write(frame);
        });
    }

  private:
    struct Session : std::enable_shared_from_this<Session> {
        explicit Session(tcp::socket its_socket) : socket(std::move(its_socket)) {
            socket.auto_fragment(false);
            socket.text(true);
        }
        void start() {
            socket.async_accept([self = shared_from_this()](const error_code& error) {
                self->open = !error;
                if (!error) self->read();
            });
        }
        void read() {
            socket.async_read(incoming, [self = shared_from_this()](const error_code& error, std::size_t) {
                self->open = self->open && !error;
            });
        }
        void write(const Frame& frame) {
            if (!open || outgoing) return;
            outgoing = frame;
            socket.async_write(asio::buffer(*outgoing),
                               [self = shared_from_this()](const error_code& error, std::size_t) {
                                   self->outgoing.reset();
                                   self->open = self->open && !error;
                               });
        }
        websocket::stream<tcp::socket> socket;
        boost::beast::flat_buffer incoming;
        Frame outgoing;
        bool open = false;
    };

    void accept() {
        acceptor_.async_accept([this](const error_code& error, tcp::socket socket) {
            if (error) return;
            error_code ignored;
            socket.set_option(tcp::no_delay(true), ignored);
            sessions_.push_back(std::make_shared<Session>(std::move(socket)));
            sessions_.back()->start();
            accept();
        });
    }

    asio::io_context io_{1};
    tcp::acceptor acceptor_;
    std::vector<std::shared_ptr<Session>> sessions_;
    std::jthread thread_;
};

/// Reads what comes and counts the bytes, as a process of its own; says it is ready with one byte, and ends with a
/// count when told to stop by the end of the pipe.
[[noreturn]] void be_clients(unsigned short port, int go, int said) {
    asio::io_context io;
    const int queue = ::epoll_create1(EPOLL_CLOEXEC);
    std::vector<tcp::socket> sockets;
    const std::string hello = fmt::format("GET /api/live?hz=20 HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nUpgrade: websocket\r\n"
                                          "Connection: Upgrade\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n"
                                          "Sec-WebSocket-Version: 13\r\n\r\n",
                                          port);
    for (int i = 0; i < clients; ++i) {
        sockets.emplace_back(io);
        sockets.back().connect({asio::ip::address_v4::loopback(), port});
        asio::write(sockets.back(), asio::buffer(hello));
        epoll_event event{};
        event.events = EPOLLIN;
        event.data.fd = sockets.back().native_handle();
        ::epoll_ctl(queue, EPOLL_CTL_ADD, event.data.fd, &event);
    }
    epoll_event stop{};
    stop.events = EPOLLIN;
    stop.data.fd = go;
    ::epoll_ctl(queue, EPOLL_CTL_ADD, go, &stop);
    bool ready = ::write(said, "r", 1) == 1;
    std::uint64_t bytes = 0;
    std::vector<char> space(256 * 1024);
    std::array<epoll_event, 128> events{};
    while (ready) {
        const int count = ::epoll_wait(queue, events.data(), static_cast<int>(events.size()), 10'000);
        if (count <= 0) break;
        for (int i = 0; i < count && ready; ++i) {
            const int descriptor = events[static_cast<std::size_t>(i)].data.fd;
            const auto got = ::read(descriptor, space.data(), space.size());
            if (got > 0) bytes += static_cast<std::uint64_t>(got);
            if (got <= 0) ready = false;
        }
    }
    const bool told = ::write(said, &bytes, sizeof bytes) == sizeof bytes;
    std::_Exit(told ? 0 : 1);
}

double cpu_s() {
    rusage use{};
    ::getrusage(RUSAGE_SELF, &use);
    const auto seconds = [](const timeval& t) {
        return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
    };
    return seconds(use.ru_utime) + seconds(use.ru_stime);
}

struct Turn {
    double cpu_percent; ///< of a core
    double delivered;   ///< frames that arrived over frames that were due
    double cpu_us;      ///< for each frame that arrived at one client
};

/// One turn: clients connect to the port, then `publish` is called at each beat.
Turn measure(unsigned short port, const std::function<Frame(int)>& next, const std::function<void(Frame)>& publish) {
    std::array<int, 2> go{}, said{};
    if (::pipe(go.data()) != 0 || ::pipe(said.data()) != 0) std::abort();
    const pid_t child = ::fork();
    if (child == 0) {
        ::close(go[1]);
        be_clients(port, go[0], said[1]);
    }
    char ready = 0;
    if (::read(said[0], &ready, 1) != 1) std::abort();
    std::this_thread::sleep_for(std::chrono::milliseconds(300));
    const double before_s = cpu_s();
    const auto began = Clock::now();
    std::size_t due = 0;
    for (int i = 0; i < frames_a_turn; ++i) {
        const auto frame = next(i);
        due += clients * (frame->size() + 4); // RFC 6455, 5.2: two bytes and a length of two
        publish(frame);
        std::this_thread::sleep_until(began + (i + 1) * period);
    }
    const double used_s = cpu_s() - before_s;
    const double took_s = std::chrono::duration<double>(Clock::now() - began).count();
    ::close(go[1]);
    std::uint64_t bytes = 0;
    if (::read(said[0], &bytes, sizeof bytes) != sizeof bytes) std::abort();
    ::waitpid(child, nullptr, 0);
    for (const int one : {go[0], said[0], said[1]})
        ::close(one);
    const double delivered = static_cast<double>(bytes) / static_cast<double>(due);
    return {100 * used_s / took_s, delivered, 1e6 * used_s / (delivered * frames_a_turn * clients)};
}

double median(std::vector<double> values) {
    std::ranges::sort(values);
    return (values[values.size() / 2] + values[(values.size() - 1) / 2]) / 2;
}

} // namespace

int main() {
    using namespace stillmark;
    (void)std::signal(SIGPIPE, SIG_IGN);
    const auto ready_frame = text_of(frame_of_many(0));
    const auto same = [&ready_frame](int) { return ready_frame; };
    const auto made = [](int number) { return text_of(frame_of_many(number)); };
    fmt::print("{} clients, {} frames a second, {} channels: {} bytes a frame\n", clients, 1000 / period.count(),
               channels, ready_frame->size());
    std::vector<double> bare, ours, with_text;
    bool enough_came = true;
    for (int turn = 0; turn < turns; ++turn) {
        const auto note = [&enough_came](const char* who, const Turn& one, std::vector<double>& list) {
            list.push_back(one.cpu_us);
            enough_came = enough_came && one.delivered > 0.5;
            fmt::print("  {:<34} {:6.2f} % of a core, {:6.2f} us a frame and client, {:.1f} % of the frames came\n",
                       who, one.cpu_percent, one.cpu_us, 100 * std::min(one.delivered, 1.0));
        };
        {
            BareServer server;
            note("bare Beast broadcast",
                 measure(server.port(), same, [&server](Frame f) { server.publish(std::move(f)); }), bare);
        }
        for (const bool makes : {false, true}) {
            gateway::HttpOptions options;
            options.address = "127.0.0.1:0";
            gateway::HttpServer server(options);
            if (server.trouble()) return 1;
            gateway::HttpDoor door;
            door.socket.ask = [](const json&, const std::function<void(json)>& reply) { reply({{"ok", true}}); };
            server.serve(std::move(door));
            const auto url = server.url();
            const auto port = static_cast<unsigned short>(std::stoi(url.substr(url.rfind(':') + 1)));
            const auto publish = [&server](Frame f) { server.publish(std::move(f)); };
            if (makes)
                note("the console's server, frame made", measure(port, made, publish), with_text);
            else
                note("the console's server", measure(port, same, publish), ours);
            server.stop();
        }
    }
    const double ratio = median(ours) / median(bare);
    fmt::print("median {:.2f} us against {:.2f} us: ratio {:.2f} (goal: at most 2); with the text of each frame made "
               "{:.2f} us\n",
               median(ours), median(bare), ratio, median(with_text));
    if (!enough_came) fmt::print("too many frames were missing: the figures do not compare\n");
    return ratio <= 2 && enough_came ? 0 : 1;
}
