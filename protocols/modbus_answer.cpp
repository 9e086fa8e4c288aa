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

} // namespace

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
