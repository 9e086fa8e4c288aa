#include "protocols/exclusive_port.hpp"
#include "protocols/modbus_link.hpp"
#include "protocols/text_link.hpp"
#include "protocols/wire.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <fstream>
#include <unistd.h>

namespace stillmark::protocols {
namespace {

using namespace std::chrono_literals;
using test::SerialInstrument;

std::string this_program() {
    std::string name;
    std::ifstream("/proc/self/comm") >> name;
    return fmt::format("{} (process {})", name, getpid());
}

TEST(ExclusivePort, ASecondHolderIsRefusedWithTheNameOfTheFirst) {
    SerialInstrument instrument([](test::FarEnd&) {});
    auto first = ExclusivePort::take(instrument.device());
    ASSERT_TRUE(first.has_value()) << first.error().detail;
    const auto second = ExclusivePort::take(instrument.device());
    ASSERT_TRUE(second.has_error());
    EXPECT_EQ(second.error().fault, Fault::link_down);
    EXPECT_EQ(second.error().detail,
              fmt::format("the port is in use by {}; end it, or give this bus another device", this_program()));
    { const ExclusivePort ended = std::move(*first); }
    EXPECT_TRUE(ExclusivePort::take(instrument.device()).has_value());
}

TEST(ExclusivePort, BothKindsOfSerialLinkTakeIt) {
    SerialInstrument instrument([](test::FarEnd& end) { end.receive(1, 50ms); });
    const SerialSettings settings{.device = instrument.device(), .baud = 9600};
    const auto rtu = make_modbus_rtu_link(settings);
    EXPECT_EQ(rtu->read({1, RegisterKind::holding, 0, 1}, 5ms).error().fault, Fault::silent);
    const auto text = make_text_serial_link(settings, "\r\n")->ask("P", 5ms);
    EXPECT_EQ(text.error().fault, Fault::link_down);
    EXPECT_NE(text.error().detail.find(this_program()), std::string::npos) << text.error().detail;
    const auto other = make_modbus_rtu_link(settings)->read({1, RegisterKind::holding, 0, 1}, 5ms);
    EXPECT_EQ(other.error().fault, Fault::link_down);
    EXPECT_NE(other.error().detail.find(this_program()), std::string::npos) << other.error().detail;
}

TEST(ExclusivePort, WhatIsNoTerminalOrNotThereIsSaid) {
    EXPECT_EQ(ExclusivePort::take("/dev/null").error().detail, "it is not a terminal");
    EXPECT_EQ(ExclusivePort::take("/dev/invented-and-absent").error().detail, "No such file or directory");
}

} // namespace
} // namespace stillmark::protocols
