#include "daemon/metrology/rounding.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <string>

using stillmark::metrology::place_of;
using stillmark::metrology::rounded;
using stillmark::metrology::rounded_uncertainty;

// ISO 80000-1:2009, B.2 and B.3 rule A (from memory): range 0.1: 12.223 -> 12.2, 12.251 -> 12.3, 12.275 -> 12.3;
// range 10: 1222.3 -> 1220, 1225.1 -> 1230, 1227.5 -> 1230; of two equally near the even: 12.25 -> 12.2, 12.35 -> 12.4,
// 1225.0 -> 1220, 1235.0 -> 1240.
TEST(Rounding, ExamplesOfTheStandard) {
    EXPECT_EQ(rounded(12.223, -1), "12.2");
    EXPECT_EQ(rounded(12.251, -1), "12.3");
    EXPECT_EQ(rounded(12.275, -1), "12.3");
    EXPECT_EQ(rounded(12.25, -1), "12.2");
    EXPECT_EQ(rounded(12.35, -1), "12.4");
    EXPECT_EQ(rounded(1222.3, 1), "1220");
    EXPECT_EQ(rounded(1225.1, 1), "1230");
    EXPECT_EQ(rounded(1227.5, 1), "1230");
    EXPECT_EQ(rounded(1225.0, 1), "1220");
    EXPECT_EQ(rounded(1235.0, 1), "1240");
}

// JCGM 100:2008, 7.2.6: 10.47 mOhm may be given as 10 mOhm; 28.05 kHz becomes 28 kHz; the estimate goes to the same
// place: 10.057 62 Ohm with 27 mOhm becomes 10.058 Ohm.
TEST(Rounding, ExamplesOfTheGuide) {
    EXPECT_EQ(rounded_uncertainty(10.47), "10");
    EXPECT_EQ(rounded_uncertainty(28.05), "28");
    EXPECT_EQ(rounded(10.05762, place_of(0.027)), "10.058");
}

TEST(Rounding, LooksAtTheRoundedUncertainty) {
    EXPECT_EQ(rounded_uncertainty(0.0996), "0.10");
    EXPECT_EQ(place_of(0.0996), -2);
    EXPECT_EQ(rounded_uncertainty(9.96), "10");
    EXPECT_EQ(rounded_uncertainty(99.6), "100");
}

TEST(Rounding, NoNegativeNothing) {
    EXPECT_EQ(rounded(-0.004, -2), "0.00");
    EXPECT_EQ(rounded(-0.0, 0), "0");
    EXPECT_EQ(rounded(-0.006, -2), "-0.01");
    EXPECT_EQ(rounded(4, 1), "0");
}

TEST(Rounding, WhatIsNoNumberIsADash) {
    EXPECT_EQ(rounded(NAN, -2), "-");
    EXPECT_EQ(rounded(INFINITY, -2), "-");
    EXPECT_EQ(place_of(0), -12);
    EXPECT_EQ(place_of(-1), -12);
}

// EA-4/02 M:2022, 6.3: rounding down by more than 5 % is not allowed.
TEST(Rounding, NeverTakesOffMoreThanFivePercent) {
    std::mt19937 draw(7);
    std::uniform_real_distribution<double> exponent(-9, 9);
    for (int i = 0; i < 100000; ++i) {
        const double u = std::pow(10, exponent(draw));
        const double shown = std::stod(rounded_uncertainty(u));
        ASSERT_GE(shown, 0.95 * u) << u;
        ASSERT_LE(shown, 1.05 * u) << u;
    }
}

// Against the decimal rounding of printf where no tie is in reach.
TEST(Rounding, AgreesWithPrintf) {
    std::mt19937 draw(8);
    std::uniform_real_distribution<double> value(-2000, 2000);
    for (int i = 0; i < 100000; ++i) {
        const double one = value(draw);
        char text[64];
        std::snprintf(text, sizeof text, "%.3f", one);
        const std::string theirs = text == std::string("-0.000") ? "0.000" : text;
        ASSERT_EQ(rounded(one, -3), theirs);
    }
}
