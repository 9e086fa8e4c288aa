#pragma once

#include "protocols/modbus_link.hpp"

#include <array>
#include <span>
#include <string>
#include <vector>

namespace stillmark::protocols {

/// Empty where the request can be sent; otherwise what was found and what would do.
std::string objection_to(const RegisterRequest& request, int lowest_server, int highest_server);

/// Function code, address and count as they travel (Modbus Application Protocol V1.1b3, 6.3 and 6.4).
std::array<std::uint8_t, 5> request_pdu(const RegisterRequest& request);

/// The registers in an answer's PDU (function code first), or what it says instead. Every field is held against the
/// request: function, byte count, length; exception codes 1 and 2 are `unsupported`, all others `refused`.
Result<std::vector<std::uint16_t>> registers_in(std::span<const std::uint8_t> pdu, const RegisterRequest& request);

/// The registers in words, in both numberings: "holding registers 0 to 1 (40001 to 40002)".
std::string registers_in_words(const RegisterRequest& request);

/// A whole RTU frame of an answer: the server that it names and what follows, without the checksum.
struct RtuFrame {
    std::uint8_t server;
    std::vector<std::uint8_t> pdu;
};

/// The answers to functions 03 and 04 (and their exceptions) with a right checksum that stand in a stretch of bytes;
/// what stands between them is passed over.
std::vector<RtuFrame> whole_frames_in(std::span<const std::uint8_t> bytes);

} // namespace stillmark::protocols
