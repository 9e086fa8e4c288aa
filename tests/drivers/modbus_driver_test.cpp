#include "drivers/driver.hpp"
#include "drivers/request_plan.hpp"

#include <gtest/gtest.h>

#include <deque>
#include <map>

namespace stillmark::drivers {
namespace {

using protocols::Fault;
using protocols::RegisterKind;
using protocols::RegisterReply;
using protocols::RegisterRequest;

/// A link that expects requests in order and answers as told; no wire and no time.
class ExpectingLink final : public protocols::ModbusLink {
  public:
    struct Exchange {
        RegisterKind kind;
        int address;
        int count;
        protocols::Result<RegisterReply> answer;
    };

    void expect(RegisterKind kind, int address, int count, protocols::Result<RegisterReply> answer) {
        exchanges_.push_back({kind, address, count, std::move(answer)});
    }
    bool all_asked() const { return exchanges_.empty(); }

    protocols::Result<RegisterReply> read(const RegisterRequest& request, std::chrono::milliseconds deadline) override {
        if (exchanges_.empty()) {
            ADD_FAILURE() << "an unexpected request";
            return protocols::Failure{Fault::silent, "unexpected"};
        }
        const Exchange next = std::move(exchanges_.front());
        exchanges_.pop_front();
        EXPECT_EQ(request.server, 7);
        EXPECT_EQ(request.kind, next.kind);
        EXPECT_EQ(request.address, next.address);
        EXPECT_EQ(request.count, next.count);
        EXPECT_EQ(deadline.count(), 150);
        return next.answer;
    }

  private:
    std::deque<Exchange> exchanges_;
};

Profile profile(const std::string& file) {
    const auto read = load_profile(STILLMARK_SOURCE_DIR "/drivers/profiles/" + file);
    EXPECT_TRUE(read.has_value());
    return *read;
}

RegisterReply reply(std::vector<std::uint16_t> registers, Micros before_us = 1000, Micros after_us = 5001) {
    return {std::move(registers), before_us, after_us};
}

class RtuTransmitter : public testing::Test {
  protected:
    DriverReading read_with(std::vector<std::uint16_t> registers) {
        link.expect(RegisterKind::input, 0, 5, reply(std::move(registers)));
        return driver->read();
    }

    ExpectingLink link;
    std::unique_ptr<Driver> driver = make_modbus_driver(profile("invented-transmitter-rtu.json"), link, 7);
};

// 123.456 as IEEE 754 binary32 is 42F6E979 (computed); low word first.
TEST_F(RtuTransmitter, ValueAndStatusComeInOneRequest) {
    const auto reading = read_with({0xE979, 0x42F6, 0, 0, 0});
    EXPECT_EQ(reading.status, ReadingStatus::good);
    EXPECT_NEAR(reading.value_pa, 123.456e5, 1.0);
    EXPECT_EQ(reading.detail, "");
    EXPECT_TRUE(link.all_asked());
}

TEST_F(RtuTransmitter, AReadingIsStampedAtTheMiddleOfItsExchange) {
    const auto reading = read_with({0xE979, 0x42F6, 0, 0, 0});
    EXPECT_EQ(reading.at_us, 3000);
    EXPECT_EQ(reading.timing_us, 2001) << "half of it, and never less";
}

TEST_F(RtuTransmitter, StatusBitsSpoilAReading) {
    const auto fault = read_with({0xE979, 0x42F6, 0, 0, 0x0002});
    EXPECT_EQ(fault.status, ReadingStatus::instrument_fault);
    EXPECT_EQ(fault.detail, "status register 4 reads 0x0002");
    EXPECT_EQ(fault.at_us, 3000) << "also a reading without value has its instant";
    EXPECT_EQ(read_with({0xE979, 0x42F6, 0, 0, 0x0010}).status, ReadingStatus::under_range);
    EXPECT_EQ(read_with({0xE979, 0x42F6, 0, 0, 0x0020}).status, ReadingStatus::over_range);
    EXPECT_EQ(read_with({0xE979, 0x42F6, 0, 0, 0x8000}).status, ReadingStatus::good) << "a bit that nobody named";
}

TEST_F(RtuTransmitter, AWrongWordOrderThatGivesNoPressureIsNotANumber) {
    const auto reading = read_with({0x7F7F, 0x7F7F, 0, 0, 0});
    EXPECT_EQ(reading.status, ReadingStatus::not_a_number);
    EXPECT_NE(reading.detail.find("byte order"), std::string::npos) << reading.detail;
    const auto nan = read_with({0x0000, 0x7FC0, 0, 0, 0});
    EXPECT_EQ(nan.status, ReadingStatus::not_a_number);
    EXPECT_EQ(nan.detail, "the registers hold 0000 7FC0");
    const auto denormal = read_with({0x3F80, 0x0000, 0, 0, 0});
    EXPECT_EQ(denormal.status, ReadingStatus::not_a_number);
    EXPECT_EQ(denormal.detail, "the registers hold 3F80 0000; see that the byte order is right");
}

TEST_F(RtuTransmitter, EveryFaultOfTheWireBecomesAStatus) {
    const std::pair<Fault, ReadingStatus> rows[] = {{Fault::link_down, ReadingStatus::link_down},
                                                    {Fault::silent, ReadingStatus::silent},
                                                    {Fault::bad_frame, ReadingStatus::bad_frame},
                                                    {Fault::refused, ReadingStatus::refused}};
    for (const auto& [fault, status] : rows) {
        link.expect(RegisterKind::input, 0, 5, protocols::Failure{fault, "as the link says"});
        const auto reading = driver->read();
        EXPECT_EQ(reading.status, status);
        EXPECT_EQ(reading.detail, "as the link says");
        EXPECT_GT(reading.at_us, 0);
    }
}

TEST_F(RtuTransmitter, AnInstrumentThatRefusesTheRegistersBetweenIsAskedWithoutThem) {
    link.expect(RegisterKind::input, 0, 5, protocols::Failure{Fault::unsupported, "no register 2"});
    for (int i = 0; i < 2; ++i) {
        link.expect(RegisterKind::input, 0, 2, reply({0xE979, 0x42F6}, 100, 200));
        link.expect(RegisterKind::input, 4, 1, reply({0}, 300, 400));
        const auto reading = driver->read();
        EXPECT_EQ(reading.status, ReadingStatus::good);
        EXPECT_EQ(reading.at_us, 150) << "the value's own exchange";
    }
    EXPECT_TRUE(link.all_asked());
}

TEST_F(RtuTransmitter, AStatusThatCannotBeReadSpoilsTheReading) {
    link.expect(RegisterKind::input, 0, 5, protocols::Failure{Fault::unsupported, "no register 2"});
    link.expect(RegisterKind::input, 0, 2, reply({0xE979, 0x42F6}));
    link.expect(RegisterKind::input, 4, 1, protocols::Failure{Fault::silent, "nothing"});
    EXPECT_EQ(driver->read().status, ReadingStatus::silent);
}

TEST(TcpTransmitter, CountsAreThousandthsOfABarAndTheLimitsAreNone) {
    ExpectingLink link;
    const auto driver = make_modbus_driver(profile("invented-transmitter-tcp.json"), link, 7);
    const auto read_with = [&](std::uint16_t high, std::uint16_t low) {
        link.expect(RegisterKind::holding, 100, 2, reply({high, low}));
        return driver->read();
    };
    EXPECT_NEAR(read_with(0x0001, 0xE240).value_pa, 123.456e5, 1e-6);
    EXPECT_NEAR(read_with(0xFFFF, 0xFFFF).value_pa, -100, 1e-9);
    EXPECT_EQ(read_with(0x8000, 0x0000).status, ReadingStatus::under_range);
    EXPECT_EQ(read_with(0x7FFF, 0xFFFF).status, ReadingStatus::over_range);
}

ModbusReading reading_at(std::uint16_t address, std::vector<StatusBits> status) {
    ModbusReading how;
    how.kind = RegisterKind::holding;
    how.address = address;
    how.type = NumberType::float32;
    how.status = std::move(status);
    return how;
}

// Modbus Application Protocol V1.1b3, 6.3: at most 125 registers a request.
TEST(RequestPlan, NeighboursShareARequestUpTo125Registers) {
    const auto near = plan_requests(reading_at(0, {{RegisterKind::holding, 124, 1, ""}}), 1, true);
    ASSERT_EQ(near.requests.size(), 1U);
    EXPECT_EQ(near.requests[0].count, 125);
    EXPECT_EQ(near.status[0].offset, 124U);
    const auto far = plan_requests(reading_at(0, {{RegisterKind::holding, 125, 1, ""}}), 1, true);
    ASSERT_EQ(far.requests.size(), 2U);
    EXPECT_EQ(far.requests[0].count, 2);
    EXPECT_EQ(far.status[0].request, 1U);
}

TEST(RequestPlan, AStatusBeforeTheValueMovesTheBeginning) {
    const auto plan = plan_requests(reading_at(10, {{RegisterKind::holding, 8, 1, ""}}), 1, true);
    ASSERT_EQ(plan.requests.size(), 1U);
    EXPECT_EQ(plan.requests[0].address, 8);
    EXPECT_EQ(plan.requests[0].count, 4);
    EXPECT_EQ(plan.value.offset, 2U);
    EXPECT_EQ(plan.status[0].offset, 0U);
    EXPECT_TRUE(plan.over_gaps);
}

TEST(RequestPlan, AnotherKindOfRegisterIsAnotherRequest) {
    const auto plan = plan_requests(
        reading_at(0,
                   {{RegisterKind::input, 5, 1, ""}, {RegisterKind::input, 5, 2, ""}, {RegisterKind::input, 6, 1, ""}}),
        1, true);
    ASSERT_EQ(plan.requests.size(), 2U);
    EXPECT_EQ(plan.requests[1].count, 2);
    EXPECT_EQ(plan.status[2].offset, 1U);
    EXPECT_FALSE(plan.over_gaps);
}

TEST(RequestPlan, AtTheEndOfTheAddressesNothingOverflows) {
    const auto plan = plan_requests(reading_at(65534, {{RegisterKind::holding, 65533, 1, ""}}), 1, true);
    ASSERT_EQ(plan.requests.size(), 1U);
    EXPECT_EQ(plan.requests[0].address, 65533);
    EXPECT_EQ(plan.requests[0].count, 3);
}

TEST(Drivers, AProfileOfAnotherKindIsSaidAndNotGuessed) {
    ExpectingLink link;
    EXPECT_EQ(make_modbus_driver(profile("invented-digital-gauge.json"), link, 7)->read().status,
              ReadingStatus::unsupported);
}

TEST(ReadingStatusWords, EachNumberHasItsWord) {
    // The numbers stand in journals.
    const std::pair<int, const char*> rows[] = {
        {0, "good"},       {1, "silent"},       {2, "link down"},        {3, "bad frame"},
        {4, "refused"},    {5, "unsupported"},  {6, "instrument fault"}, {7, "under range"},
        {8, "over range"}, {9, "not a number"}, {10, "not understood"},  {11, "doubtful"}};
    for (const auto& [number, name] : rows)
        EXPECT_STREQ(word(static_cast<ReadingStatus>(number)), name);
    EXPECT_STREQ(word(static_cast<ReadingStatus>(200)), "unknown");
}

} // namespace
} // namespace stillmark::drivers
