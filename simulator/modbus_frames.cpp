#include "simulator/modbus_frames.hpp"

namespace stillmark::simulator {

namespace {

std::uint8_t high(std::uint16_t word) {
    return static_cast<std::uint8_t>(word >> 8U);
}
std::uint8_t low(std::uint16_t word) {
    return static_cast<std::uint8_t>(word & 0xffU);
}
std::uint16_t word_at(const Bytes& bytes, std::size_t at) {
    return static_cast<std::uint16_t>(bytes[at] << 8U | bytes[at + 1]);
}

} // namespace

std::uint16_t crc16(const std::uint8_t* data, std::size_t size) {
    std::uint32_t crc = 0xffff;
    for (std::size_t i = 0; i < size; ++i) {
        crc ^= data[i];
        for (int bit = 0; bit < 8; ++bit)
            crc = (crc & 1U) != 0 ? crc >> 1U ^ 0xa001U : crc >> 1U;
    }
    return static_cast<std::uint16_t>(crc);
}

Bytes exception_answer(std::uint8_t function, std::uint8_t code) {
    return {static_cast<std::uint8_t>(function | 0x80U), code};
}

Bytes answer_of(const Bytes& request, const RegisterMap& map) {
    constexpr std::uint8_t read_holding = 3;
    constexpr std::uint8_t read_input = 4;
    const auto refuse = [&](ModbusException why) {
        return exception_answer(request.empty() ? 0 : request[0], static_cast<std::uint8_t>(why));
    };
    if (request.empty() || (request[0] != read_holding && request[0] != read_input))
        return refuse(ModbusException::illegal_function);
    if (request.size() != 5) return refuse(ModbusException::illegal_value);
    const auto count = word_at(request, 3);
    if (count < 1 || count > 125) return refuse(ModbusException::illegal_value);
    std::vector<std::uint16_t> words;
    if (!map.get(request[0] == read_input, word_at(request, 1), count, words))
        return refuse(ModbusException::illegal_address);
    Bytes answer{request[0], static_cast<std::uint8_t>(2 * count)};
    for (const auto word : words) {
        answer.push_back(high(word));
        answer.push_back(low(word));
    }
    return answer;
}

Bytes serial_frame(std::uint8_t server, const Bytes& pdu) {
    Bytes frame{server};
    frame.insert(frame.end(), pdu.begin(), pdu.end());
    const auto crc = crc16(frame.data(), frame.size());
    frame.push_back(low(crc));
    frame.push_back(high(crc));
    return frame;
}

std::optional<SerialRequest> read_serial_frame(const Bytes& frame) {
    if (frame.size() < 4 || frame.size() > 256) return std::nullopt;
    const auto crc = crc16(frame.data(), frame.size() - 2);
    if (frame[frame.size() - 2] != low(crc) || frame.back() != high(crc)) return std::nullopt;
    return SerialRequest{frame[0], Bytes(frame.begin() + 1, frame.end() - 2)};
}

Bytes tcp_frame(std::uint16_t transaction, std::uint8_t unit, const Bytes& pdu) {
    const auto length = static_cast<std::uint16_t>(pdu.size() + 1);
    Bytes frame{high(transaction), low(transaction), 0, 0, high(length), low(length), unit};
    frame.insert(frame.end(), pdu.begin(), pdu.end());
    return frame;
}

} // namespace stillmark::simulator
