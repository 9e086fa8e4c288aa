#include "drivers/driver.hpp"

#include <gtest/gtest.h>

namespace stillmark::drivers {
namespace {

using protocols::Fault;
using protocols::TextReply;

/// Answers every request with what it was told to.
class AnsweringLink final : public protocols::TextLink {
  public:
    protocols::Result<TextReply> ask(const std::string& request, std::chrono::milliseconds deadline) override {
        EXPECT_EQ(request, "PRES?");
        EXPECT_EQ(deadline.count(), 200);
        return answer;
    }
    protocols::Result<TextReply> answer = protocols::Failure{Fault::silent, "no answer"};
};

class Gauge : public testing::Test {
  protected:
    DriverReading read_with(protocols::Result<TextReply> answer) {
        link.answer = std::move(answer);
        return driver->read();
    }

    AnsweringLink link;
    std::unique_ptr<Driver> driver =
        make_text_driver(*load_profile(STILLMARK_SOURCE_DIR "/drivers/profiles/invented-digital-gauge.json"), link);
};

TEST_F(Gauge, ALineBecomesAReadingAtTheMiddleOfItsExchange) {
    const auto reading = read_with(TextReply{"123.45 bar", 100, 301});
    EXPECT_EQ(reading.status, ReadingStatus::good);
    EXPECT_DOUBLE_EQ(reading.value_pa, 123.45e5);
    EXPECT_EQ(reading.at_us, 200);
    EXPECT_EQ(reading.timing_us, 101);
}

TEST_F(Gauge, AnythingElseBecomesAStatusWithWhatWasFound) {
    const auto fault = read_with(TextReply{"ERR 5", 100, 300});
    EXPECT_EQ(fault.status, ReadingStatus::instrument_fault);
    EXPECT_EQ(fault.detail, "the reply was \"ERR 5\"");
    const auto garbage = read_with(TextReply{std::string("\x01\xFF") + std::string(100, 'z'), 100, 300});
    EXPECT_EQ(garbage.status, ReadingStatus::not_understood);
    EXPECT_EQ(garbage.detail, "the reply was \"\\x01\\xFF" + std::string(58, 'z') + "...\"");
    const auto silent = read_with(protocols::Failure{Fault::silent, "no answer"});
    EXPECT_EQ(silent.status, ReadingStatus::silent);
    EXPECT_EQ(silent.detail, "no answer");
}

TEST(TextDrivers, AProfileOfAnotherKindIsSaidAndNotGuessed) {
    AnsweringLink link;
    const auto profile = load_profile(STILLMARK_SOURCE_DIR "/drivers/profiles/invented-dial-gauge.json");
    ASSERT_TRUE(profile.has_value());
    EXPECT_EQ(make_text_driver(*profile, link)->read().status, ReadingStatus::unsupported);
}

} // namespace
} // namespace stillmark::drivers
