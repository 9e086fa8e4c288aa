#include "drivers/driver.hpp"

#include <gtest/gtest.h>

namespace stillmark::drivers {
namespace {

Profile dial(const std::string& division, int parts, const std::string& unit = "bar") {
    const auto profile =
        read_profile("dial.json", fmt::format(R"({{"profile": 1, "model": "Invented dial", "kind": "manual",
        "unit": "{}", "reading": {{"division": "{}", "parts": {}}}}})",
                                              unit, division, parts));
    EXPECT_TRUE(profile.has_value()) << profile.error().message;
    return *profile;
}

std::string refusal(const Profile& profile, const std::string& untapped, const std::string& tapped) {
    const auto entry = read_manual_entry(profile, untapped, tapped);
    return entry.has_error() ? entry.error().message : "taken";
}

TEST(ManualEntry, WhatThePointerShowsIsTaken) {
    const auto entry = read_manual_entry(dial("10 bar", 5), "402 bar", " 404 bar ");
    ASSERT_TRUE(entry.has_value()) << entry.error().message;
    EXPECT_DOUBLE_EQ(entry->untapped_pa, 402e5);
    EXPECT_DOUBLE_EQ(entry->tapped_pa, 404e5);
}

TEST(ManualEntry, DecimalStepsAreNotLostToBinaryRounding) {
    const auto profile = dial("0.2 bar", 5);
    for (int step = -10; step <= 50'000; step += 7) {
        const std::string entered = fmt::format("{:.2f} bar", step * 0.04);
        EXPECT_EQ(refusal(profile, entered, entered), "taken") << entered;
    }
    EXPECT_EQ(refusal(dial("0.1 MPa", 10, "MPa"), "0.07 MPa", "12.34 MPa"), "taken");
}

TEST(ManualEntry, AFinerValueThanCanBeReadIsRefusedWithTheNearest) {
    EXPECT_EQ(
        refusal(dial("0.2 bar", 5), "12.345 bar", "12.36 bar"),
        "untapped reading: \"12.345 bar\" lies between what is estimated, 1/5 of a division of 0.2 bar, in steps of "
        "0.04 bar; the nearest are \"12.32 bar\" and \"12.36 bar\"");
    EXPECT_EQ(refusal(dial("10 bar", 1), "400 bar", "405 bar"),
              "tapped reading: \"405 bar\" lies between what is estimated, whole divisions of 10 bar; the nearest are "
              "\"400 bar\" and \"410 bar\"");
}

TEST(ManualEntry, AnotherUnitThanTheDialsIsRefusedAndNotConverted) {
    EXPECT_EQ(
        refusal(dial("10 bar", 5), "12.3 psi", "12 bar"),
        "untapped reading: \"12.3 psi\" is not in bar, the dial's own unit; enter what the pointer shows, like \"10 "
        "bar\"");
    EXPECT_NE(refusal(dial("10 bar", 5), "1 MPa", "10 bar"), "taken")
        << "the same pressure, but not what the dial shows";
    EXPECT_NE(refusal(dial("10 bar", 5), "10 mbar", "10 bar"), "taken");
}

TEST(ManualEntry, AValueWithoutUnitIsAskedForAgain) {
    EXPECT_EQ(refusal(dial("10 bar", 5), "402", "404"),
              "untapped reading: \"402\" has no unit; enter \"402 bar\" if that is what the dial shows");
}

TEST(ManualEntry, NothingAndNonsenseAreExplained) {
    const auto profile = dial("10 bar", 5);
    EXPECT_EQ(refusal(profile, "402 bar", ""),
              "tapped reading: nothing was entered; enter it with its unit, such as \"10 bar\"");
    EXPECT_EQ(refusal(profile, "about 400 bar", "404 bar"),
              "untapped reading: \"about 400 bar\" does not begin with a number; enter it like \"10 bar\"");
    for (const char* nonsense :
         {"nan bar", "inf bar", "-inf bar", "1e999 bar", "bar", "402,5 bar", "402 bar bar", "\xFF"}) {
        EXPECT_NE(refusal(profile, nonsense, "404 bar"), "taken") << nonsense;
    }
}

TEST(ManualEntry, AWiredInstrumentTakesNoEntry) {
    const auto profile = load_profile(STILLMARK_SOURCE_DIR "/drivers/profiles/invented-digital-gauge.json");
    ASSERT_TRUE(profile.has_value());
    EXPECT_EQ(refusal(*profile, "4 bar", "4 bar"),
              "Invented digital gauge DG-1000 is read over its wire; nothing is entered for it");
}

} // namespace
} // namespace stillmark::drivers
