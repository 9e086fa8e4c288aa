#include "daemon/cli/wording.hpp"

#include <gtest/gtest.h>

using namespace stillmark::cli;

TEST(Wording, ASpanIsToldInWhatAPersonReads) {
    EXPECT_EQ(span_words(2'149'000), "2.1 s");
    EXPECT_EQ(span_words(9'999'999), "9.9 s");
    EXPECT_EQ(span_words(48'000'000), "48 s");
    EXPECT_EQ(span_words(228'000'000), "3 min 48 s");
    EXPECT_EQ(span_words(4'320'000'000), "1 h 12 min");
    EXPECT_EQ(span_words(-5), "0.0 s");
}

// Two significant digits of the expanded uncertainty at most, and the value to the same place: JCGM 100:2008, 7.2.6.
TEST(Wording, TheUncertaintySaysHowManyDigitsCount) {
    const Shown shown = show_with("bar", 829.0, 4e6);
    EXPECT_EQ(shown.number(829.0), "0.0083");
    EXPECT_EQ(shown.number(4'001'234.0), "40.0123");
    EXPECT_EQ(shown.signed_number(1234.0), "+0.0123");
    EXPECT_EQ(shown.signed_number(-1234.0), "-0.0123");
    EXPECT_EQ(shown.signed_number(-1.0), "0.0000");
    EXPECT_EQ(shown.number(std::nullopt), "-");
}

TEST(Wording, AnUncertaintyThatRoundsUpToATenthKeepsTwoDigits) {
    EXPECT_EQ(show_with("bar", 9960.0, 4e6).number(9960.0), "0.10");
    EXPECT_EQ(show_with("bar", 9940.0, 4e6).number(9940.0), "0.099");
}

TEST(Wording, DigitsBeforeThePointThatDoNotCountAreZeros) {
    EXPECT_EQ(show_with("Pa", 1234.0, 4e6).number(4'001'264.0), "4001300");
}

TEST(Wording, AUnitThatIsNoneIsShownInPascals) {
    const Shown shown = show_with("furlong", 10.0, 4e6);
    EXPECT_EQ(shown.unit, "Pa");
    EXPECT_EQ(shown.number(101'325.0), "101325");
}

TEST(Wording, NotANumberIsNoNumber) {
    EXPECT_EQ(show_with("bar", std::nan(""), 4e6).number(std::nan("")), "-");
    EXPECT_EQ(show_with("bar", 0.0, 4e6).number(4e6), "40.00000");
}
