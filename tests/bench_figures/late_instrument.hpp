// An instrument that is late at random, on a pseudo-terminal or behind a terminal server, and whose values name the
// request that they answer. It answers in order, one request after the other.
#pragma once

#include "protocols/instant.hpp"
#include "wire_measure.hpp"

#include <fmt/format.h>

#include <arpa/inet.h>
#include <atomic>
#include <deque>
#include <poll.h>
#include <sys/socket.h>
#include <vector>

namespace stillmark::figures {

enum class Wire { rtu, text_serial, text_terminal_server };

/// How an instrument is late.
struct Lateness {
    const char* name;
    unsigned one_in;        ///< of so many answers one is late
    double least_s, most_s; ///< beyond the deadline
    bool loses = false;     ///< it hears nothing while it is busy with a late answer
    bool two_registers = false;
};

class LateInstrument {
  public:
    static constexpr std::size_t most_requests = 200'000;

    LateInstrument(Wire wire, const Lateness& how, double deadline_s, unsigned seed, bool identifies)
        : wire_(wire), how_(how), deadline_s_(deadline_s), random_(seed), identifies_(identifies),
          asked_(most_requests) {
        if (wire == Wire::text_terminal_server)
            listen_on_loopback();
        else
            terminal_ = open_pseudo_terminal();
    }
    ~LateInstrument() {
        for (const int descriptor : {terminal_.master, listener_, connection_})
            if (descriptor >= 0) close(descriptor);
    }
    LateInstrument(const LateInstrument&) = delete;
    LateInstrument& operator=(const LateInstrument&) = delete;

    const std::string& device() const { return terminal_.device; }
    int port() const { return port_; }
    long late() const { return late_; }
    /// When the request of this number was whole; 0 where there was none.
    Micros asked_us(std::size_t number) const { return number < most_requests ? asked_[number].load() : 0; }

    /// Serves until told to stop.
    void work(const std::atomic<bool>& stop) {
        std::string kept;
        while (!stop) {
            send_what_is_due();
            std::vector<pollfd> watched;
            if (listener_ >= 0) watched.push_back({listener_, POLLIN, 0});
            const int line = terminal_.master >= 0 ? terminal_.master : connection_;
            if (line >= 0) watched.push_back({line, POLLIN, 0});
            if (poll(watched.data(), watched.size(), wait_ms()) <= 0) continue;
            if (listener_ >= 0 && (watched.front().revents & POLLIN) != 0) {
                take_connection();
                kept.clear();
                continue;
            }
            char bytes[512];
            const ssize_t count = read(line, bytes, sizeof bytes);
            if (count > 0)
                kept.append(bytes, static_cast<std::size_t>(count));
            else if (connection_ >= 0)
                drop_connection();
            else
                usleep(1000); // the near end is not open
            take_requests(kept);
        }
    }

  private:
    struct Answer {
        double due_s;
        std::string bytes;
    };

    void listen_on_loopback() {
        listener_ = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
        sockaddr_in address{};
        address.sin_family = AF_INET;
        address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
        socklen_t size = sizeof address;
        auto* generic = reinterpret_cast<sockaddr*>(&address);
        if (bind(listener_, generic, size) != 0 || listen(listener_, 4) != 0) std::abort();
        getsockname(listener_, generic, &size);
        port_ = ntohs(address.sin_port);
    }
    void drop_connection() {
        close(connection_);
        connection_ = -1;
    }
    // What the instrument sends meanwhile goes to the next connection, as a terminal server's buffer does.
    void take_connection() {
        if (connection_ >= 0) close(connection_);
        connection_ = accept(listener_, nullptr, nullptr);
    }

    int wait_ms() const {
        if (answers_.empty()) return 20;
        const double left_s = answers_.front().due_s - seconds(CLOCK_MONOTONIC);
        return static_cast<int>(std::clamp(1000 * left_s, 0.0, 20.0)) + (left_s > 0 ? 1 : 0);
    }
    void send_what_is_due() {
        const double now_s = seconds(CLOCK_MONOTONIC);
        while (!answers_.empty() && answers_.front().due_s <= now_s) {
            const int line = terminal_.master >= 0 ? terminal_.master : connection_;
            if (line < 0) return;
            const std::string& bytes = answers_.front().bytes;
            if (terminal_.master >= 0)
                (void)!write(line, bytes.data(), bytes.size());
            else
                (void)!send(line, bytes.data(), bytes.size(), MSG_NOSIGNAL);
            answers_.pop_front();
        }
    }

    void take_requests(std::string& kept) {
        if (wire_ == Wire::rtu) {
            for (; kept.size() >= 8; kept.erase(0, 8))
                asked(kept.substr(0, 8));
            return;
        }
        for (std::size_t end = 0; (end = kept.find("\r\n")) != std::string::npos; kept.erase(0, end + 2))
            asked(kept.substr(0, end));
    }

    unsigned random() {
        random_ = random_ * 1664525U + 1013904223U;
        return random_ >> 12;
    }

    void asked(const std::string& request) {
        const double now_s = seconds(CLOCK_MONOTONIC);
        if (how_.loses && now_s < busy_until_s_) return;
        const std::size_t number = ++requests_;
        if (number < most_requests) asked_[number] = protocols::now_us();
        double takes_s = 0.001;
        if (random() % how_.one_in == 0) {
            ++late_;
            takes_s = deadline_s_ + how_.least_s + (how_.most_s - how_.least_s) * (random() % 1024) / 1024.0;
        }
        busy_until_s_ = std::max(now_s, busy_until_s_) + takes_s;
        answers_.push_back({busy_until_s_, wire_ == Wire::rtu ? registers(request, number) : line(request, number)});
    }

    /// The number in two registers, high word first, and the address asked for behind it.
    static std::string registers(const std::string& request, std::size_t number) {
        const auto byte = [&request](std::size_t at) { return static_cast<std::uint8_t>(request[at]); };
        const std::size_t count = byte(5);
        std::vector<std::uint8_t> frame{byte(0), byte(1), static_cast<std::uint8_t>(2 * count)};
        const std::size_t named = number * 256 + byte(3);
        for (std::size_t i = 0; i < count; ++i) {
            const auto word = i == 0 ? named >> 16 : i == 1 ? named & 0xFFFF : 0;
            frame.push_back(static_cast<std::uint8_t>(word >> 8 & 0xFF));
            frame.push_back(static_cast<std::uint8_t>(word & 0xFF));
        }
        const auto crc = checksum(frame.data(), frame.size());
        frame.push_back(static_cast<std::uint8_t>(crc & 0xFF));
        frame.push_back(static_cast<std::uint8_t>(crc >> 8));
        return {frame.begin(), frame.end()};
    }
    std::string line(const std::string& request, std::size_t number) const {
        if (identifies_ && request == "ID?") return "Invented gauge\r\n";
        return fmt::format("{}\r\n", number);
    }

    Wire wire_;
    Lateness how_;
    double deadline_s_;
    unsigned random_;
    bool identifies_;
    PseudoTerminal terminal_;
    int listener_ = -1;
    int connection_ = -1;
    int port_ = 0;
    std::deque<Answer> answers_;
    double busy_until_s_ = 0;
    std::size_t requests_ = 0;
    std::atomic<long> late_{0};
    std::vector<std::atomic<Micros>> asked_;
};

} // namespace stillmark::figures
