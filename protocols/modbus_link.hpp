#pragma once

#include "protocols/fault.hpp"
#include "protocols/instant.hpp"

#include <chrono>
#include <cstdint>
#include <memory>
#include <string>
#include <vector>

namespace stillmark::protocols {

enum class RegisterKind { holding /* function 03 */, input /* function 04 */ };

/// One request for neighbouring registers. Addresses are 0-based protocol addresses (register 40001 is address 0).
struct RegisterRequest {
    int server = 1; ///< 1 to 247 on a serial line, 0 to 255 on TCP
    RegisterKind kind = RegisterKind::holding;
    std::uint16_t address = 0;
    std::uint16_t count = 1; ///< 1 to 125 (Modbus Application Protocol V1.1b3, 6.3 and 6.4)
};

/// The registers as they came, and the instants just before the request was sent and just after the answer was read.
struct RegisterReply {
    std::vector<std::uint16_t> registers;
    Micros before_us = 0;
    Micros after_us = 0;
};

/// A Modbus master on one bus. Used by one thread. No answer to an earlier request is ever a reply: on a serial line,
/// where answers carry no number, a silence is followed by a request of another length, whose answer ends what is owed
/// before a reply is believed again; and two requests running for different registers of one server differ in length
/// where the server lets them. A lost adapter or connection is reopened by read() itself, with a
/// growing pause between tries that never ends; until then read() answers `link_down` at once.
class ModbusLink {
  public:
    virtual ~ModbusLink() = default;
    /// Reads registers; blocks until the answer, or until `deadline` after the request was sent, plus the bus
    /// silence that had to pass before it.
    virtual Result<RegisterReply> read(const RegisterRequest& request, std::chrono::milliseconds deadline) = 0;
    /// Counts how often the line has shown that the latest reply of this server may belong to another request.
    virtual std::uint64_t doubts([[maybe_unused]] int server) const { return 0; }
};

enum class Parity { none, even, odd };

/// Settings of a serial line. An unsupported one is an error of the file, never replaced by a default.
struct SerialSettings {
    std::string device; ///< a path, best one below /dev/serial/by-id
    int baud = 19200;   ///< one of the standard rates 1200 to 115200
    Parity parity = Parity::even;
    int stop_bits = 1;  ///< 1 or 2
    int data_bits = 8;  ///< 8 for Modbus RTU; 7 or 8 for text
    bool paced = false; ///< a pseudo-terminal whose other end takes as long over each character as a line does
};

/// Empty where the settings can be used; otherwise what was found and what would do,
/// for example "9601 is not a standard rate; use 9600".
std::string objection_to(const SerialSettings& settings);

struct TcpSettings {
    std::string host;
    int port = 502;
};

std::unique_ptr<ModbusLink> make_modbus_rtu_link(const SerialSettings& settings);
std::unique_ptr<ModbusLink> make_modbus_tcp_link(const TcpSettings& settings);

} // namespace stillmark::protocols
