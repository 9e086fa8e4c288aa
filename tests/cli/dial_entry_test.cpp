#include "daemon/cli/dial_entry.hpp"

#include <gtest/gtest.h>

using namespace stillmark::cli;

namespace {

Channel dial() {
    Channel channel;
    channel.name = "dial gauge D";
    channel.unit = "bar";
    channel.manual = true;
    return channel;
}

void type(DialEntry& entry, const std::string& text) {
    for (const char character : text)
        entry.type(character);
}

TypedReading read(const std::string& typed, std::optional<double> division = std::nullopt, std::int64_t parts = 10) {
    return read_typed(typed, "dial gauge D", "bar", division, parts);
}

} // namespace

TEST(DialEntry, TakesTheReadingBeforeAndAfterTapping) {
    DialEntry entry(dial(), 0);
    type(entry, "40.2");
    EXPECT_EQ(entry.line(), "dial gauge D   before tapping: 40.2_ bar");
    EXPECT_EQ(entry.take(), std::nullopt);
    EXPECT_FALSE(entry.complete());
    type(entry, "40.4 bar");
    EXPECT_EQ(entry.take(), std::nullopt);
    ASSERT_TRUE(entry.complete());
    EXPECT_EQ(entry.untapped(), "40.2 bar");
    EXPECT_EQ(entry.tapped(), "40.4 bar");
}

TEST(DialEntry, EnterAloneSaysThatTappingChangedNothing) {
    DialEntry entry(dial(), 0);
    type(entry, "40");
    EXPECT_EQ(entry.take(), std::nullopt);
    EXPECT_EQ(entry.take(), std::nullopt);
    EXPECT_EQ(entry.tapped(), "40 bar");
}

TEST(DialEntry, AnEmptyFirstFieldIsNoReading) {
    DialEntry entry(dial(), 0);
    EXPECT_NE(entry.take(), std::nullopt);
    EXPECT_FALSE(entry.complete());
}

TEST(DialEntry, ErasingInAnEmptySecondFieldGoesBackToTheFirst) {
    DialEntry entry(dial(), 0);
    type(entry, "40");
    EXPECT_EQ(entry.take(), std::nullopt);
    entry.erase();
    entry.erase();
    type(entry, "1");
    EXPECT_EQ(entry.line(), "dial gauge D   before tapping: 41_ bar");
}

TEST(TypedReading, RefusesAnotherUnitInWords) {
    EXPECT_EQ(read("580 psi").refusal, "dial gauge D reads in bar, not in psi; type what the dial shows");
    EXPECT_EQ(read("40 Bar").refusal, "dial gauge D reads in bar, not in Bar; type what the dial shows");
    EXPECT_EQ(read("40 kg").refusal, "dial gauge D reads in bar, not in kg; type what the dial shows");
}

TEST(TypedReading, TakesADecimalCommaButNotOneThatMayMeanThousands) {
    EXPECT_EQ(read("40,2").text, "40.2 bar");
    EXPECT_EQ(read("1,000").refusal, "\"1,000\" can be read in two ways; write decimals with a point");
    EXPECT_EQ(read("1,0005").text, "1.0005 bar");
}

TEST(TypedReading, RefusesWhatIsNoNumber) {
    for (const char* typed : {"", " ", "-", "bar", "4 0", "1e3", "..", "4.", "--4", "nan", "0x10", "4.2.1"})
        EXPECT_EQ(read(typed).text, "") << typed;
    EXPECT_EQ(read("-0.5").text, "-0.5 bar");
    EXPECT_EQ(read("  40.2bar ").text, "40.2 bar");
}

// A dial with a division of 10 bar that is read to a fifth shows steps of 2 bar.
TEST(TypedReading, RefusesWhatTheDialCannotShow) {
    EXPECT_EQ(read("402", 10.0, 5).text, "402 bar");
    EXPECT_EQ(read("403", 10.0, 5).refusal,
              "403 bar lies between two steps of the dial (division 10 bar, read to 1/5): give 402 or 404 bar");
    EXPECT_EQ(read("402.0", 10.0, 5).text, "402.0 bar");
    EXPECT_EQ(read("40.12", 0.2, 10).text, "40.12 bar");
    EXPECT_EQ(read("403", 0.0, 5).text, "403 bar");
}
