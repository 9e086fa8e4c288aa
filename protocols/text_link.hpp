#pragma once

#include "protocols/fault.hpp"
#include "protocols/instant.hpp"
#include "protocols/modbus_link.hpp"

#include <chrono>
#include <functional>
#include <memory>
#include <string>

namespace stillmark::protocols {

/// A reply without its terminator, and the instants just before the request was sent and just after it was read.
struct TextReply {
    std::string line;
    Micros before_us = 0;
    Micros after_us = 0;
};

/// A line that an instrument answers with anything but a reading, so that its answer marks a place in the stream.
struct Identification {
    std::string request;
    std::function<bool(const std::string& line)> fits; ///< whether a line is the answer to it
};

/// Request and reply in lines of text on one bus. Used by one thread; reopens by itself like ModbusLink.
class TextLink {
  public:
    virtual ~TextLink() = default;
    /// Sends `request` with the terminator behind it (nothing is sent for an empty request: an instrument that talks
    /// by itself) and returns the next whole line before `deadline`. Bytes that arrived before the request are dropped:
    /// they answer something older.
    virtual Result<TextReply> ask(const std::string& request, std::chrono::milliseconds deadline) = 0;
    /// What synchronises the line after a silence; without it a late answer is waited for.
    virtual void synchronise_by([[maybe_unused]] Identification identification) {}
    /// Counts how often the line has shown that the latest reply may belong to another request.
    virtual std::uint64_t doubts() const { return 0; }
};

std::unique_ptr<TextLink> make_text_tcp_link(const TcpSettings& settings, const std::string& terminator);
std::unique_ptr<TextLink> make_text_serial_link(const SerialSettings& settings, const std::string& terminator);

} // namespace stillmark::protocols
