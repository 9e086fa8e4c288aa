#include "protocols/modbus_answer.hpp"
#include "protocols/wire.hpp"

#include <gtest/gtest.h>

#include <random>

namespace stillmark::protocols {
namespace {

using test::bytes;

std::vector<std::uint8_t> pdu(const std::string& hexadecimal) {
    const auto raw = bytes(hexadecimal);
    return {raw.begin(), raw.end()};
}

Fault fault_of(const std::string& answer, const RegisterRequest& request) {
    const auto result = registers_in(pdu(answer), request);
    EXPECT_TRUE(result.has_error()) << answer;
    return result.error().fault;
}

const RegisterRequest three_holding{0x11, RegisterKind::holding, 0x6B, 3};

// Modbus Application Protocol V1.1b3, 6.3, example: holding registers 108 to 110.
TEST(ModbusAnswer, HoldingRegisters108To110OfTheSpecification) {
    const auto sent = request_pdu(three_holding);
    EXPECT_EQ(std::vector<std::uint8_t>(sent.begin(), sent.end()), pdu("03 00 6B 00 03"));
    const auto got = registers_in(pdu("03 06 02 2B 00 00 00 64"), three_holding);
    ASSERT_TRUE(got.has_value());
    EXPECT_EQ(*got, (std::vector<std::uint16_t>{0x022B, 0x0000, 0x0064}));
}

// Modbus Application Protocol V1.1b3, 6.4, example: input register 9.
TEST(ModbusAnswer, InputRegister9OfTheSpecification) {
    const RegisterRequest request{0x11, RegisterKind::input, 8, 1};
    const auto sent = request_pdu(request);
    EXPECT_EQ(std::vector<std::uint8_t>(sent.begin(), sent.end()), pdu("04 00 08 00 01"));
    const auto got = registers_in(pdu("04 02 00 0A"), request);
    ASSERT_TRUE(got.has_value());
    EXPECT_EQ(*got, std::vector<std::uint16_t>{10});
}

// Modbus Application Protocol V1.1b3, 7: exception function is the function + 80h; codes 1 and 2 say "never".
TEST(ModbusAnswer, ExceptionsSayWhetherToAskAgain) {
    EXPECT_EQ(fault_of("83 01", three_holding), Fault::unsupported);
    EXPECT_EQ(fault_of("83 02", three_holding), Fault::unsupported);
    for (const char* code : {"83 03", "83 04", "83 05", "83 06", "83 08", "83 0A", "83 0B", "83 63"}) {
        EXPECT_EQ(fault_of(code, three_holding), Fault::refused) << code;
    }
    EXPECT_EQ(registers_in(pdu("83 02"), three_holding).error().detail,
              "server 17 answers exception 2 (illegal data address) to holding registers 107 to 109 (40108 to 40110)");
}

TEST(ModbusAnswer, EveryFieldIsHeldAgainstTheRequest) {
    EXPECT_EQ(fault_of("04 06 02 2B 00 00 00 64", three_holding), Fault::bad_frame) << "other function";
    EXPECT_EQ(fault_of("84 02", three_holding), Fault::bad_frame) << "exception of another function";
    EXPECT_EQ(fault_of("83 02 00", three_holding), Fault::bad_frame) << "long exception";
    EXPECT_EQ(fault_of("03 04 02 2B 00 00", three_holding), Fault::bad_frame) << "fewer registers";
    EXPECT_EQ(fault_of("03 08 02 2B 00 00 00 64 00 00", three_holding), Fault::bad_frame) << "more registers";
    EXPECT_EQ(fault_of("03 06 02 2B 00 00", three_holding), Fault::bad_frame) << "shorter than it says";
    EXPECT_EQ(fault_of("03 06 02 2B 00 00 00 64 00", three_holding), Fault::bad_frame) << "longer than it says";
    EXPECT_EQ(fault_of("03 07 02 2B 00 00 00 64 00", three_holding), Fault::bad_frame) << "half a register";
    EXPECT_EQ(fault_of("03", three_holding), Fault::bad_frame);
    EXPECT_EQ(fault_of("", three_holding), Fault::bad_frame);
}

// Modbus Application Protocol V1.1b3, 6.3 and 6.4: 1 to 125 registers; Serial Line V1.02, 2.2: servers 1 to 247.
TEST(ModbusAnswer, RequestsOutsideTheProtocolAreRefusedBeforeTheyAreSent) {
    const auto objection = [](int server, int address, int count) {
        return objection_to(
            {server, RegisterKind::holding, static_cast<std::uint16_t>(address), static_cast<std::uint16_t>(count)}, 1,
            247);
    };
    EXPECT_EQ(objection(1, 0, 125), "");
    EXPECT_EQ(objection(247, 65535, 1), "");
    EXPECT_EQ(objection(1, 0, 126), "126 registers do not fit one request; ask for 1 to 125");
    EXPECT_EQ(objection(1, 0, 0), "0 registers do not fit one request; ask for 1 to 125");
    EXPECT_EQ(objection(248, 0, 1), "server 248 cannot be addressed; use 1 to 247");
    EXPECT_EQ(objection(0, 0, 1), "server 0 cannot be addressed; use 1 to 247");
    EXPECT_EQ(objection(1, 65535, 2), "2 registers from address 65535 end beyond address 65535");
}

TEST(ModbusAnswer, RegistersAreNamedInBothNumberings) {
    EXPECT_EQ(registers_in_words({1, RegisterKind::holding, 0, 1}), "holding register 0 (40001)");
    EXPECT_EQ(registers_in_words({1, RegisterKind::input, 8, 2}), "input registers 8 to 9 (30009 to 30010)");
    EXPECT_EQ(registers_in_words({1, RegisterKind::holding, 9999, 1}), "holding register 9999 (410000)");
}

TEST(ModbusAnswer, AnyBytesGiveRegistersOrAFault) {
    std::mt19937 random(11);
    int accepted = 0;
    for (int i = 0; i < 200'000; ++i) {
        std::vector<std::uint8_t> noise(random() % 12);
        for (auto& byte : noise)
            byte = static_cast<std::uint8_t>(random() % 4 == 0 ? random() : random() % 8);
        const auto got = registers_in(noise, three_holding);
        if (got.has_value()) {
            ++accepted;
            EXPECT_EQ(got->size(), 3U);
            EXPECT_EQ(noise.size(), 8U);
        }
    }
    EXPECT_GT(accepted, 0) << "the noise never came near an answer";
}

} // namespace
} // namespace stillmark::protocols
