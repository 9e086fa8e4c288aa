#pragma once

#include "simulator/register_map.hpp"

#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

namespace stillmark::simulator {

using Bytes = std::vector<std::uint8_t>;

/// CRC of a serial frame, sent low byte first (Modbus over Serial Line V1.02, 2.5.1.2).
std::uint16_t crc16(const std::uint8_t* data, std::size_t size);

/// Exception codes (Modbus Application Protocol V1.1b3, 7).
enum class ModbusException : std::uint8_t {
    illegal_function = 1,
    illegal_address = 2,
    illegal_value = 3,
    device_failure = 4,
    busy = 6,
    no_path = 11
};

/// The answer to a request (function code and data, without address and checksum). Functions 03 and 04 are served,
/// any other is exception 01; an address beyond the map exception 02; a count of 0 or above 125 exception 03.
Bytes answer_of(const Bytes& request, const RegisterMap& map);
Bytes exception_answer(std::uint8_t function, std::uint8_t code);

/// A serial frame around a PDU.
Bytes serial_frame(std::uint8_t server, const Bytes& pdu);
/// The PDU of a serial frame and its server; nothing where length or checksum is wrong.
struct SerialRequest {
    std::uint8_t server = 0;
    Bytes pdu;
};
std::optional<SerialRequest> read_serial_frame(const Bytes& frame);

/// A TCP frame (MBAP header: transaction, protocol 0, length, unit).
Bytes tcp_frame(std::uint16_t transaction, std::uint8_t unit, const Bytes& pdu);

} // namespace stillmark::simulator
