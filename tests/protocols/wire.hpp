#pragma once

#include "protocols/instant.hpp"

#include <atomic>
#include <chrono>
#include <cstdint>
#include <functional>
#include <string>
#include <thread>

namespace stillmark::test {

using Bytes = std::string;

/// Bytes written as the specifications write them: "11 03 00 6B".
Bytes bytes(const std::string& hexadecimal);
std::string hexadecimal(const Bytes& bytes);

/// A frame with its checksum behind it, polynomial A001h reflected from FFFFh, low byte first.
std::uint16_t checksum(const Bytes& frame);
Bytes with_checksum(const Bytes& frame);

/// The instrument's end of a wire: what the far side does with raw bytes. Every wait is bounded.
class FarEnd {
  public:
    explicit FarEnd(int descriptor) : descriptor_(descriptor) {}

    /// Exactly so many bytes, or fewer where they do not come in time or the near end is gone.
    Bytes receive(std::size_t count, std::chrono::milliseconds patience = std::chrono::milliseconds(2000));
    /// Up to and with the next `end`.
    Bytes receive_line(char end = '\n', std::chrono::milliseconds patience = std::chrono::milliseconds(2000));
    void send(const Bytes& bytes);
    /// Whether the near end has sent something that was not received yet.
    bool something_waits() const;
    /// When the first byte of the last reception came, and when the last sending began.
    Micros first_byte_us = 0;
    Micros sent_us = 0;
    bool gone = false; ///< the near end hung up

  private:
    int descriptor_;
};

using Behaviour = std::function<void(FarEnd&)>;

/// A pseudo-terminal with an instrument on its far end, behind a link of a stable name as udev would make it.
class SerialInstrument {
  public:
    explicit SerialInstrument(Behaviour behaviour);
    ~SerialInstrument();
    SerialInstrument(const SerialInstrument&) = delete;
    SerialInstrument& operator=(const SerialInstrument&) = delete;

    const std::string& device() const { return device_; }
    /// Pulls the adapter out; its name goes away with it.
    void pull_out();
    /// Puts another one in under the same name.
    void plug_in(Behaviour behaviour);

  private:
    std::string device_;
    int master_ = -1;
    std::jthread thread_;
};

/// A listening socket on a free port of the loopback; the behaviour is run for each connection, one after the other.
class TcpInstrument {
  public:
    explicit TcpInstrument(Behaviour behaviour);
    ~TcpInstrument();
    TcpInstrument(const TcpInstrument&) = delete;
    TcpInstrument& operator=(const TcpInstrument&) = delete;

    int port() const { return port_; }
    int connections() const { return connections_; }

  private:
    int listener_ = -1;
    int port_ = 0;
    std::atomic<int> connections_{0};
    std::jthread thread_;
};

} // namespace stillmark::test
