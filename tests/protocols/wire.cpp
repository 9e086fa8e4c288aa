#include "protocols/wire.hpp"

#include <fmt/format.h>

#include <arpa/inet.h>
#include <atomic>
#include <cerrno>
#include <cstdlib>
#include <fcntl.h>
#include <filesystem>
#include <poll.h>
#include <sstream>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

namespace stillmark::test {
namespace {

using Clock = std::chrono::steady_clock;

bool readable(int descriptor, Clock::time_point until) {
    const auto left = std::chrono::duration_cast<std::chrono::microseconds>(until - Clock::now()).count();
    const timespec patience{left > 0 ? left / 1'000'000 : 0, left > 0 ? left % 1'000'000 * 1000 : 0};
    pollfd watched{descriptor, POLLIN, 0};
    return ppoll(&watched, 1, &patience, nullptr) > 0;
}

} // namespace

Bytes bytes(const std::string& hexadecimal) {
    Bytes out;
    std::istringstream words(hexadecimal);
    for (std::string word; words >> word;)
        out += static_cast<char>(std::stoi(word, nullptr, 16));
    return out;
}

std::string hexadecimal(const Bytes& bytes) {
    std::string out;
    for (const char byte : bytes)
        out += fmt::format("{}{:02X}", out.empty() ? "" : " ", static_cast<unsigned char>(byte));
    return out;
}

std::uint16_t checksum(const Bytes& frame) {
    unsigned crc = 0xFFFF;
    for (const char byte : frame) {
        crc ^= static_cast<unsigned char>(byte);
        for (int bit = 0; bit < 8; ++bit)
            crc = (crc & 1U) != 0 ? crc >> 1 ^ 0xA001U : crc >> 1;
    }
    return static_cast<std::uint16_t>(crc);
}

Bytes with_checksum(const Bytes& frame) {
    const auto crc = checksum(frame);
    return frame + static_cast<char>(crc & 0xFF) + static_cast<char>(crc >> 8);
}

Bytes FarEnd::receive(std::size_t count, std::chrono::milliseconds patience) {
    const auto until = Clock::now() + patience;
    Bytes got;
    while (got.size() < count && readable(descriptor_, until)) {
        char byte = 0;
        if (::read(descriptor_, &byte, 1) != 1) {
            gone = true;
            break;
        }
        if (got.empty()) first_byte_us = protocols::now_us();
        got += byte;
    }
    return got;
}

Bytes FarEnd::receive_line(char end, std::chrono::milliseconds patience) {
    Bytes got;
    while (!got.ends_with(end)) {
        const Bytes next = receive(1, patience);
        if (next.empty()) break;
        got += next;
    }
    return got;
}

void FarEnd::send(const Bytes& bytes) {
    // Before, because a busy machine may pause this program after the bytes are out.
    sent_us = protocols::now_us();
    // A socket whose near end is gone would end this process by a signal; a terminal knows no such flag.
    ssize_t sent = ::send(descriptor_, bytes.data(), bytes.size(), MSG_NOSIGNAL);
    if (sent < 0 && errno == ENOTSOCK) sent = ::write(descriptor_, bytes.data(), bytes.size());
    if (sent != static_cast<ssize_t>(bytes.size())) gone = true;
}

bool FarEnd::something_waits() const {
    return readable(descriptor_, Clock::now());
}

SerialInstrument::SerialInstrument(Behaviour behaviour) {
    static std::atomic<int> count{0};
    device_ =
        (std::filesystem::temp_directory_path() / fmt::format("stillmark-wire-{}-{}", getpid(), ++count)).string();
    plug_in(std::move(behaviour));
}

void SerialInstrument::plug_in(Behaviour behaviour) {
    master_ = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    grantpt(master_);
    unlockpt(master_);
    termios raw{};
    tcgetattr(master_, &raw);
    cfmakeraw(&raw);
    tcsetattr(master_, TCSANOW, &raw);
    char name[64] = {};
    ptsname_r(master_, name, sizeof name);
    std::filesystem::create_symlink(name, device_);
    // A far end whose near end is not open yet only sees a hang-up; it waits for the first byte instead.
    thread_ = std::jthread([master = master_, behaviour = std::move(behaviour)](const std::stop_token& stop) {
        while (!stop.stop_requested()) {
            pollfd watched{master, POLLIN, 0};
            if (poll(&watched, 1, 5) > 0 && (watched.revents & POLLIN) != 0) break;
            if ((watched.revents & POLLHUP) != 0) std::this_thread::sleep_for(std::chrono::milliseconds(1));
        }
        FarEnd end(master);
        if (!stop.stop_requested()) behaviour(end);
    });
}

void SerialInstrument::pull_out() {
    if (thread_.joinable()) {
        thread_.request_stop();
        thread_.join();
    }
    ::close(master_);
    std::filesystem::remove(device_);
}

SerialInstrument::~SerialInstrument() {
    if (std::filesystem::is_symlink(device_)) pull_out();
}

TcpInstrument::TcpInstrument(Behaviour behaviour) {
    listener_ = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    auto* generic = reinterpret_cast<sockaddr*>(&address);
    socklen_t size = sizeof address;
    bind(listener_, generic, size);
    listen(listener_, 8);
    getsockname(listener_, generic, &size);
    port_ = ntohs(address.sin_port);
    thread_ = std::jthread([this, behaviour = std::move(behaviour)](const std::stop_token& stop) {
        while (!stop.stop_requested()) {
            if (!readable(listener_, Clock::now() + std::chrono::milliseconds(5))) continue;
            const int connection = accept(listener_, nullptr, nullptr);
            ++connections_;
            FarEnd end(connection);
            behaviour(end);
            ::close(connection);
        }
    });
}

TcpInstrument::~TcpInstrument() {
    thread_.request_stop();
    thread_.join();
    ::close(listener_);
}

} // namespace stillmark::test
