#include "protocols/back_off.hpp"
#include "protocols/serial_line.hpp"

#include <gtest/gtest.h>

#include <limits>

namespace stillmark::protocols {
namespace {

using namespace std::chrono_literals;

SerialSettings at(int baud) {
    return {.device = "/dev/serial/by-id/invented", .baud = baud};
}

TEST(SerialSettings, StandardRatesAreTakenAndOthersExplained) {
    for (const int baud : {1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200}) {
        EXPECT_EQ(objection_to(at(baud)), "") << baud;
    }
    EXPECT_EQ(objection_to(at(9601)), "9601 is not a standard rate; use 9600");
    EXPECT_EQ(objection_to(at(0)), "0 is not a standard rate; use 1200");
    EXPECT_EQ(objection_to(at(-9600)), "-9600 is not a standard rate; use 1200");
    EXPECT_EQ(objection_to(at(230400)), "230400 is not a standard rate; use 115200");
    EXPECT_EQ(objection_to(at(std::numeric_limits<int>::max())), "2147483647 is not a standard rate; use 115200");
}

TEST(SerialSettings, BitsThatNoLineHasAreExplained) {
    auto settings = at(9600);
    settings.stop_bits = 3;
    EXPECT_EQ(objection_to(settings), "3 stop bits cannot be set; use 1 or 2");
    settings = at(9600);
    settings.data_bits = 5;
    EXPECT_EQ(objection_to(settings), "5 data bits cannot be set; use 7 or 8");
    settings = at(9600);
    settings.device.clear();
    EXPECT_EQ(objection_to(settings), "the device is empty; give its path, best one below /dev/serial/by-id");
}

// Modbus over Serial Line V1.02, 2.5.1.1: t3.5 of 11-bit characters, fixed 1.750 ms above 19200 baud. Milliseconds.
TEST(FrameSilence, IsThreeAndAHalfCharactersOfElevenBits) {
    const auto ms = [](int baud) { return std::chrono::duration<double, std::milli>(frame_silence(baud)).count(); };
    EXPECT_NEAR(ms(1200), 32.0833, 1e-4);
    EXPECT_NEAR(ms(2400), 16.0417, 1e-4);
    EXPECT_NEAR(ms(4800), 8.0208, 1e-4);
    EXPECT_NEAR(ms(9600), 4.0104167, 1e-5);
    EXPECT_NEAR(ms(19200), 2.0052, 1e-4);
    EXPECT_EQ(ms(38400), 1.750);
    EXPECT_EQ(ms(57600), 1.750);
    EXPECT_EQ(ms(115200), 1.750);
}

TEST(LineTime, CountsStartParityAndStopBits) {
    auto settings = at(9600);
    EXPECT_EQ(line_time(settings, 8), std::chrono::nanoseconds(88'000'000'000LL / 9600)) << "8E1: 11 bits";
    settings.parity = Parity::none;
    EXPECT_EQ(line_time(settings, 8), std::chrono::nanoseconds(80'000'000'000LL / 9600)) << "8N1: 10 bits";
    settings.stop_bits = 2;
    EXPECT_EQ(line_time(settings, 8), std::chrono::nanoseconds(88'000'000'000LL / 9600)) << "8N2: 11 bits";
}

TEST(BackOff, PausesDoubleToFiveSecondsAndNeverEnd) {
    BackOff back_off;
    auto now = std::chrono::steady_clock::time_point{} + 1h;
    EXPECT_TRUE(back_off.may_try(now));
    for (const auto pause : {250ms, 500ms, 1000ms, 2000ms, 4000ms, 5000ms, 5000ms}) {
        back_off.failed(now);
        EXPECT_FALSE(back_off.may_try(now + pause - 1ms)) << pause.count();
        EXPECT_TRUE(back_off.may_try(now + pause)) << pause.count();
        now += pause;
    }
    for (int i = 0; i < 1'000'000; ++i)
        back_off.failed(now);
    EXPECT_TRUE(back_off.may_try(now + 5s)) << "after months it still tries";
    back_off.answered();
    EXPECT_TRUE(back_off.may_try(now));
    back_off.failed(now);
    EXPECT_TRUE(back_off.may_try(now + 250ms)) << "an answer makes the first pause short again";
}

} // namespace
} // namespace stillmark::protocols
