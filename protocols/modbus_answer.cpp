#include "protocols/modbus_answer.hpp"

#include <fmt/format.h>

namespace stillmark::protocols {
namespace {

constexpr int most_registers = 125;

std::uint8_t function_code(RegisterKind kind) {
    return kind == RegisterKind::holding ? 3 : 4;
}

std::uint8_t high(std::uint16_t word) {
    return static_cast<std::uint8_t>(word >> 8);
}
std::uint8_t low(std::uint16_t word) {
    return static_cast<std::uint8_t>(word & 0xFF);
}

/// Names of Modbus Application Protocol V1.1b3, 7.
const char* exception_name(int code) {
    switch (code) {
    case 1:
        return "illegal function";
    case 2:
        return "illegal data address";
    case 3:
        return "illegal data value";
    case 4:
        return "server device failure";
    case 5:
        return "acknowledge, the answer takes long";
    case 6:
        return "server device busy";
    case 8:
        return "memory parity error";
    case 10:
        return "gateway path unavailable";
    case 11:
        return "gateway target device failed to respond";
    default:
        return "a code that the protocol does not define";
    }
}

/// MODBUS over Serial Line V1.02, 6.2.2: polynomial A001h, begun with FFFFh.
std::uint16_t rtu_checksum(std::span<const std::uint8_t> frame) {
    unsigned crc = 0xFFFF;
    for (const std::uint8_t byte : frame) {
        crc ^= byte;
        for (int bit = 0; bit < 8; ++bit)
            crc = (crc & 1U) != 0 ? crc >> 1 ^ 0xA001U : crc >> 1;
    }
    return static_cast<std::uint16_t>(crc);
}

/// Bytes of the frame that may begin here, or 0 where none does.
std::size_t frame_length(std::span<const std::uint8_t> bytes) {
    constexpr std::size_t exception_bytes = 5, shortest_answer = 5;
    if (bytes.size() < shortest_answer) return 0;
    const int function = bytes[1] & 0x7F;
    if (function != 3 && function != 4) return 0;
    return (bytes[1] & 0x80) != 0 ? exception_bytes : shortest_answer + bytes[2];
}

} // namespace

std::vector<RtuFrame> whole_frames_in(std::span<const std::uint8_t> bytes) {
    std::vector<RtuFrame> frames;
    while (!bytes.empty()) {
        const std::size_t length = frame_length(bytes);
        const bool whole = length > 0 && length <= bytes.size() &&
                           rtu_checksum(bytes.first(length - 2)) == (bytes[length - 2] | bytes[length - 1] << 8);
        if (whole)
            frames.push_back({bytes[0], {bytes.begin() + 1, bytes.begin() + static_cast<std::ptrdiff_t>(length) - 2}});
        bytes = bytes.subspan(whole ? length : 1);
    }
    return frames;
}

std::string objection_to(const RegisterRequest& request, int lowest_server, int highest_server) {
    if (request.server < lowest_server || request.server > highest_server) {
        return fmt::format("server {} cannot be addressed; use {} to {}", request.server, lowest_server,
                           highest_server);
    }
    if (request.count < 1 || request.count > most_registers) {
        return fmt::format("{} registers do not fit one request; ask for 1 to {}", request.count, most_registers);
    }
    if (request.address + request.count > 0x10000) {
        return fmt::format("{} registers from address {} end beyond address 65535", request.count, request.address);
    }
    return {};
}

std::array<std::uint8_t, 5> request_pdu(const RegisterRequest& request) {
    return {function_code(request.kind), high(request.address), low(request.address), high(request.count),
            low(request.count)};
}

std::string registers_in_words(const RegisterRequest& request) {
    const bool holding = request.kind == RegisterKind::holding;
    const int first = request.address;
    const int last = first + request.count - 1;
    // The data model's numbers have five digits, and six where five do not reach.
    const int model = last < 9999 ? (holding ? 40001 : 30001) : (holding ? 400001 : 300001);
    if (first == last) {
        return fmt::format("{} register {} ({})", holding ? "holding" : "input", first, first + model);
    }
    return fmt::format("{} registers {} to {} ({} to {})", holding ? "holding" : "input", first, last, first + model,
                       last + model);
}

Result<std::vector<std::uint16_t>> registers_in(std::span<const std::uint8_t> pdu, const RegisterRequest& request) {
    const std::uint8_t asked = function_code(request.kind);
    const auto bad = [](std::string detail) { return Failure{Fault::bad_frame, std::move(detail)}; };
    if (pdu.size() < 2) return bad(fmt::format("an answer of {} bytes", pdu.size()));
    if (pdu[0] == (asked | 0x80)) {
        if (pdu.size() != 2) return bad(fmt::format("an exception of {} bytes instead of 2", pdu.size()));
        const int code = pdu[1];
        return Failure{code == 1 || code == 2 ? Fault::unsupported : Fault::refused,
                       fmt::format("server {} answers exception {} ({}) to {}", request.server, code,
                                   exception_name(code), registers_in_words(request))};
    }
    if (pdu[0] != asked) return bad(fmt::format("an answer to function {} instead of {}", pdu[0], asked));
    const std::size_t wanted = std::size_t{2} * request.count;
    if (pdu[1] != wanted || pdu.size() != 2 + wanted) {
        return bad(fmt::format("an answer with {} bytes of registers instead of {}", pdu[1], wanted));
    }
    std::vector<std::uint16_t> registers(request.count);
    for (std::size_t i = 0; i < registers.size(); ++i) {
        registers[i] = static_cast<std::uint16_t>(pdu[2 + 2 * i] << 8 | pdu[3 + 2 * i]);
    }
    return registers;
}

} // namespace stillmark::protocols
