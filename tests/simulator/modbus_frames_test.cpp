#include "simulator/modbus_frames.hpp"

#include <gtest/gtest.h>

namespace stillmark::simulator {
namespace {

// Published: Modbus over Serial Line V1.02, appendix: the CRC of 02 07 travels as 41 12; and "123456789" gives 4B37h.
TEST(SerialFrame, ChecksumOfTheSpecification) {
    const Bytes two{0x02, 0x07};
    EXPECT_EQ(crc16(two.data(), two.size()), 0x1241);
    const std::string digits = "123456789";
    EXPECT_EQ(crc16(reinterpret_cast<const std::uint8_t*>(digits.data()), digits.size()), 0x4B37);
}

// Rows MB-03 and MB-04: requests and answers of Modbus Application Protocol V1.1b3, 6.3 and 6.4, framed for server 11h.
TEST(SerialFrame, ReadsAndAnswersTheSpecificationsRequests) {
    const auto request = read_serial_frame({0x11, 0x03, 0x00, 0x6B, 0x00, 0x03, 0x76, 0x87});
    ASSERT_TRUE(request);
    EXPECT_EQ(request->server, 0x11);
    RegisterMap map;
    map.put(false, 107, 0xAE41);
    map.put(false, 108, 0x5652);
    map.put(false, 109, 0x4340);
    EXPECT_EQ(serial_frame(0x11, answer_of(request->pdu, map)),
              (Bytes{0x11, 0x03, 0x06, 0xAE, 0x41, 0x56, 0x52, 0x43, 0x40, 0x49, 0xAD}));
    const auto input = read_serial_frame({0x11, 0x04, 0x00, 0x08, 0x00, 0x01, 0xB2, 0x98});
    ASSERT_TRUE(input);
    map.put(true, 8, 10);
    EXPECT_EQ(serial_frame(0x11, answer_of(input->pdu, map)), (Bytes{0x11, 0x04, 0x02, 0x00, 0x0A, 0xF8, 0xF4}));
}

TEST(SerialFrame, IsNothingWhereAChecksumOrLengthIsWrong) {
    EXPECT_FALSE(read_serial_frame({0x11, 0x03, 0x00, 0x6B, 0x00, 0x03, 0x76, 0x86}));
    EXPECT_FALSE(read_serial_frame({0x11, 0x03, 0x76}));
    EXPECT_FALSE(read_serial_frame({}));
}

// Row MB-EX: function + 80h and the code, framed for server 1.
TEST(Answer, ExceptionsAreTheProtocols) {
    RegisterMap map;
    map.put(false, 0, 1);
    EXPECT_EQ(serial_frame(1, answer_of({0x03, 0x00, 0x01, 0x00, 0x01}, map)), (Bytes{0x01, 0x83, 0x02, 0xC0, 0xF1}));
    EXPECT_EQ(answer_of({0x06, 0x00, 0x00, 0x00, 0x01}, map), (Bytes{0x86, 0x01}));
    EXPECT_EQ(answer_of({0x03, 0x00, 0x00, 0x00, 0x00}, map), (Bytes{0x83, 0x03}));
    EXPECT_EQ(answer_of({0x03, 0x00, 0x00, 0x00, 0x7E}, map), (Bytes{0x83, 0x03}));
    EXPECT_EQ(answer_of({0x04, 0x00, 0x00, 0x00, 0x01}, map), (Bytes{0x84, 0x02}))
        << "holding registers are not input registers";
    EXPECT_EQ(answer_of({0x03, 0xFF, 0xFF, 0x00, 0x02}, map), (Bytes{0x83, 0x02})) << "past the last address";
}

Profile float_profile(const std::string& order) {
    Profile profile;
    profile.unit_pa = 1;
    profile.type = "float32";
    profile.order = order;
    return profile;
}

std::vector<std::uint16_t> words(const Profile& profile, double pressure_pa, const SelfReport& report = {},
                                 std::uint16_t count = 2) {
    std::vector<std::uint16_t> to;
    EXPECT_TRUE(registers_of(profile, pressure_pa, report).get(profile.input, profile.address, count, to));
    return to;
}

// Computed from IEEE 754: 123.456 and 101325 in the four orders of 32 bits.
TEST(RegisterMap, FourOrders) {
    using Words = std::vector<std::uint16_t>;
    EXPECT_EQ(words(float_profile("abcd"), 123.456), (Words{0x42F6, 0xE979}));
    EXPECT_EQ(words(float_profile("cdab"), 123.456), (Words{0xE979, 0x42F6}));
    EXPECT_EQ(words(float_profile("badc"), 123.456), (Words{0xF642, 0x79E9}));
    EXPECT_EQ(words(float_profile("dcba"), 123.456), (Words{0x79E9, 0xF642}));
    EXPECT_EQ(words(float_profile("abcd"), 101325), (Words{0x47C5, 0xE680}));
    EXPECT_EQ(words(float_profile("cdab"), 101325, {true, ""}), (Words{0x47C5, 0xE680})) << "words in the wrong order";
}

TEST(RegisterMap, WholeNumbersStayAtTheEndsOfTheirType) {
    auto profile = float_profile("abcd");
    profile.type = "int32";
    profile.scale = 0.001;
    using Words = std::vector<std::uint16_t>;
    EXPECT_EQ(words(profile, -1.5), (Words{0xFFFF, 0xFA24}));
    EXPECT_EQ(words(profile, 1e12), (Words{0x7FFF, 0xFFFF}));
    EXPECT_EQ(words(profile, -1e12), (Words{0x8000, 0x0000}));
}

TEST(RegisterMap, SelfReportsUseStatusBitsAndSentinels) {
    auto profile = float_profile("abcd");
    profile.type = "int32";
    profile.status = {{false, 4, 0x0020, "over_range"}};
    profile.sentinels = {{2147483647, "over_range"}};
    const auto all = words(profile, 5, {false, "over_range"}, 5);
    EXPECT_EQ(all, (std::vector<std::uint16_t>{0x7FFF, 0xFFFF, 0, 0, 0x0020}));
    EXPECT_EQ(words(profile, 5, {}, 5).back(), 0);
}

} // namespace
} // namespace stillmark::simulator
