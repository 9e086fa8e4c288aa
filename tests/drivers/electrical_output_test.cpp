#include "drivers/driver.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <string>

namespace stillmark::drivers {
namespace {

Profile milliammeter() {
    const auto read = load_profile(STILLMARK_SOURCE_DIR "/drivers/profiles/invented-milliammeter.json");
    EXPECT_TRUE(read.has_value());
    return *read;
}

/// 4 to 20 mA for 0 to 100 bar (common practice of two-wire transmitters: 4 mA and 20 mA at the ends of the span).
Profile transmitter() {
    return through(milliammeter(), {0.004, 0.020, 0, 100e5});
}

Decoded in_line(const Profile& profile, const std::string& line) {
    return decode(std::get<TextReading>(profile.how), profile.unit, line);
}

TEST(ElectricalOutput, FourToTwentyMilliamperesAreTheSpan) {
    const Profile profile = transmitter();
    const std::pair<const char*, double> rows[] = {
        {"4.000 mA", 0}, {"12.000 mA", 50e5}, {"20.000", 100e5}, {"3.840", -1e5}, {"20.160 mA", 101e5}};
    for (const auto& [line, pa] : rows) {
        const Decoded got = in_line(profile, line);
        EXPECT_EQ(got.status, ReadingStatus::good) << line;
        EXPECT_NEAR(got.value, pa, 1e-6) << line;
    }
}

TEST(ElectricalOutput, AFallingCharacteristicIsReadAsWell) {
    const Profile profile = through(milliammeter(), {0.020, 0.004, -1e5, 5e5});
    EXPECT_NEAR(in_line(profile, "20 mA").value, -1e5, 1e-6);
    EXPECT_NEAR(in_line(profile, "4 mA").value, 5e5, 1e-6);
    EXPECT_GT(*profile.resolution_pa, 0);
}

TEST(ElectricalOutput, ItsResolutionIsAPressureThroughTheSameCharacteristic) {
    EXPECT_NEAR(*transmitter().resolution_pa, 0.001 / 16 * 100e5, 1e-9);
}

TEST(ElectricalOutput, WhatIsShownIsTheOutputItself) {
    EXPECT_NEAR(transmitter().unit.from_pa(25e5), 8.0, 1e-12);
    EXPECT_EQ(transmitter().unit.symbol, "mA");
}

TEST(ElectricalOutput, AnotherUnitInTheReplyIsNotGuessedAt) {
    EXPECT_EQ(in_line(transmitter(), "12.0 bar").status, ReadingStatus::not_understood);
    EXPECT_EQ(in_line(transmitter(), "12.0 V").status, ReadingStatus::not_understood);
}

TEST(ElectricalOutput, SymbolsOfSignalsAreNoPressures) {
    EXPECT_EQ(signal_dimension("mA"), Dimension::current);
    EXPECT_EQ(signal_dimension("V"), Dimension::voltage);
    EXPECT_EQ(signal_dimension("mV/V"), Dimension::voltage_ratio);
    EXPECT_EQ(signal_dimension("bar"), std::nullopt);
    EXPECT_DOUBLE_EQ(signal_in_si("mV/V"), 1e-3);
    EXPECT_EQ(signal_in_si("bar"), 0);
    EXPECT_FALSE(pressure_unit("mA").has_value());
}

TEST(ElectricalOutput, ADialHasNone) {
    const std::string dial = R"({"profile": 1, "model": "x", "kind": "manual", "unit": "mA",
                                 "reading": {"division": "1 bar", "parts": 5}})";
    const auto read = read_profile("x.json", dial);
    ASSERT_FALSE(read.has_value());
    EXPECT_EQ(read.error().message,
              "x.json: unit: \"mA\" is no unit of pressure; use one such as bar, kPa, MPa or psi");
}

TEST(ElectricalOutput, AResolutionInAnotherUnitIsRefused) {
    const std::string text = R"x({"profile": 1, "model": "x", "kind": "text", "unit": "mA", "resolution": "0.1 bar",
        "reading": {"request": "R", "terminator": "\r", "pattern": "(.*)"}})x";
    const auto read = read_profile("x.json", text);
    ASSERT_FALSE(read.has_value());
    EXPECT_EQ(read.error().message,
              "x.json: resolution: \"0.1 bar\" is a pressure where a current belongs; use mA or A");
}

} // namespace
} // namespace stillmark::drivers
