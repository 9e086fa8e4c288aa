#include "drivers/driver.hpp"
#include "drivers/pattern.hpp"

#include <gtest/gtest.h>

#include <random>

namespace stillmark::drivers {
namespace {

const PressureUnit bar{"bar", 1e5};

std::regex pattern(const std::string& text) {
    std::string why;
    const auto compiled = compile_pattern(text, why);
    EXPECT_TRUE(compiled.has_value()) << why;
    return compiled.value_or(std::regex());
}

TextReading gauge() {
    const auto profile = load_profile(STILLMARK_SOURCE_DIR "/drivers/profiles/invented-digital-gauge.json");
    EXPECT_TRUE(profile.has_value());
    return std::get<TextReading>(profile->how);
}

TEST(DecodeText, NumberAndUnitComeOutOfTheReply) {
    const auto how = gauge();
    const std::pair<const char*, double> rows[] = {
        {"123.45 bar", 12'345'000.0}, {"  +2.00 bar ", 200'000.0}, {"-0.05 bar", -5'000.0},
        {"100 kPa", 100'000.0},       {"1.5 MPa", 1'500'000.0},
    };
    for (const auto& [line, pascals] : rows) {
        const auto got = decode(how, bar, line);
        EXPECT_EQ(got.status, ReadingStatus::good) << line;
        EXPECT_DOUBLE_EQ(got.value, pascals) << line;
    }
}

// NIST SP 811 (2008), B.8: 1 psi is 6894.757 Pa. Somebody pressed the unit key: the value still stands.
TEST(DecodeText, AnotherUnitThanTheProfilesIsConverted) {
    EXPECT_NEAR(decode(gauge(), bar, "1.0 psi").value, 6894.757, 5e-4);
}

TEST(DecodeText, WithoutAUnitInTheReplyItIsTheProfiles) {
    auto how = gauge();
    how.pattern = pattern("([-+0-9.eE]+)");
    EXPECT_DOUBLE_EQ(decode(how, bar, "2.5").value, 250'000.0);
    how.pattern = pattern("([-+0-9.eE]+) *([a-z]*)");
    EXPECT_DOUBLE_EQ(decode(how, bar, "2.5").value, 250'000.0);
}

TEST(DecodeText, RepliesThatReportAFaultAreTheInstruments) {
    const auto how = gauge();
    for (const char* line : {"ERR", "ERR 12", "  OVER", "UNDER"}) {
        EXPECT_EQ(decode(how, bar, line).status, ReadingStatus::instrument_fault) << line;
    }
}

TEST(DecodeText, WhatDoesNotFitIsNotUnderstood) {
    const auto how = gauge();
    for (const char* line : {"", " ", "bar", "12,5 bar", "12.5", "12.5 furlongs", "12.5 bar 3", "1.2.3 bar", "0x12 bar",
                             "nan bar", "12.5 BAR"}) {
        EXPECT_EQ(decode(how, bar, line).status, ReadingStatus::not_understood) << line;
    }
    EXPECT_EQ(decode(how, bar, std::string(600, '1') + " bar").status, ReadingStatus::not_understood) << "too long";
}

TEST(DecodeText, ANumberBeyondAnyPressureIsNone) {
    auto how = gauge();
    how.pattern = pattern("([-+0-9.eEinfa]+)");
    for (const char* line : {"1e9", "-1e300", "1e999", "inf", "nan"}) {
        EXPECT_EQ(decode(how, bar, line).status, ReadingStatus::not_a_number) << line;
    }
}

TEST(DecodeText, TwoSignsMakeNoNumber) {
    auto how = gauge();
    how.pattern = pattern("([-+0-9.eE]+)");
    for (const char* line : {"+-12.5", "-+12.5", "++12.5", "--12.5", "12.5-", "12.5-13.5"})
        EXPECT_EQ(decode(how, bar, line).status, ReadingStatus::not_understood) << line;
    EXPECT_DOUBLE_EQ(decode(how, bar, "+12.5").value, 1'250'000.0);
    EXPECT_EQ(decode(how, bar, "1e400").status, ReadingStatus::not_a_number);
}

// A pattern that lets anything follow took the first of two numbers.
TEST(DecodeText, OfTwoNumbersNoneIsTheReading) {
    auto how = gauge();
    const auto takes = [&how](const char* text) {
        how.pattern_text = text;
        how.pattern = pattern(text);
    };
    takes("\\s*([-+0-9.eE]+).*");
    EXPECT_EQ(decode(how, bar, "12.5 13.5").status, ReadingStatus::not_understood);
    EXPECT_EQ(decode(how, bar, "12.5;13.5 bar").status, ReadingStatus::not_understood);
    EXPECT_EQ(decode(how, bar, "12.5 bar").status, ReadingStatus::good);
    EXPECT_EQ(decode(how, bar, "12.5 CH2").status, ReadingStatus::good) << "a name with a digit";
    takes(".*\\s([-+0-9.eE]+)");
    EXPECT_EQ(decode(how, bar, "PRES 12.5 13.5").status, ReadingStatus::not_understood);
    takes("[0-9]+ ([-+0-9.eE]+)");
    EXPECT_EQ(decode(how, bar, "1 12.5").status, ReadingStatus::good) << "the profile asks for two";
}

TEST(DecodeText, AnyBytesGiveAFiniteValueOrAReasonWhyNot) {
    const auto how = gauge();
    const std::string likely = "0123456789.+- \tbarpsikPa\r\nE";
    std::mt19937 random(9);
    int good = 0;
    for (int i = 0; i < 20'000; ++i) {
        std::string line = random() % 2 == 0 ? "12.5 bar" : "";
        for (auto extra = random() % 8; extra > 0; --extra) {
            line += random() % 3 == 0 ? static_cast<char>(random()) : likely[random() % likely.size()];
        }
        const auto got = decode(how, bar, line);
        EXPECT_TRUE(std::isfinite(got.value));
        if (got.status == ReadingStatus::good) ++good;
    }
    EXPECT_GT(good, 100);
}

// A pattern with nested repetition takes a backtracking matcher ages on a reply that almost fits.
TEST(DecodeText, NoReplyMakesAPatternSlow) {
    const auto profile = read_profile("x.json", R"({"profile": 1, "model": "m", "kind": "text", "unit": "bar",
        "reading": {"request": "P", "terminator": "\n", "pattern": "((?:[0-9]+)+)x"}})");
    ASSERT_TRUE(profile.has_value()) << profile.error().message;
    const auto before = protocols::now_us();
    const auto got = decode(std::get<TextReading>(profile->how), bar, std::string(500, '1'));
    EXPECT_EQ(got.status, ReadingStatus::not_understood);
    EXPECT_LT(protocols::now_us() - before, 1'000'000);
}

} // namespace
} // namespace stillmark::drivers
