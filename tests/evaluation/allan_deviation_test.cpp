#include "daemon/metrology/evaluation/allan_deviation.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace stillmark::metrology {
namespace {

const std::vector<double> nine{892, 809, 823, 798, 671, 644, 883, 903, 677};

// NIST SP 1065, p. 107: nine values, averaging times of one and two intervals.
TEST(AllanDeviation, NineValuesOfTheHandbook) {
    const auto found = allan_deviations(nine);
    ASSERT_EQ(found.size(), 3U);
    EXPECT_NEAR(found[0].adev->deviation, 91.22945, 5e-6);
    EXPECT_NEAR(found[0].overlapping->deviation, 91.22945, 5e-6);
    EXPECT_NEAR(found[0].modified->deviation, 91.22945, 5e-6);
    EXPECT_NEAR(*found[0].tdev, 52.67135, 5e-6);
    EXPECT_EQ(found[1].intervals, 2U);
    EXPECT_NEAR(found[1].adev->deviation, 115.8082, 5e-5);
    EXPECT_NEAR(found[1].overlapping->deviation, 85.95287, 5e-6);
    EXPECT_NEAR(found[1].modified->deviation, 74.78849, 5e-6);
    EXPECT_NEAR(*found[1].tdev, 86.35831, 5e-6);
    EXPECT_EQ(found[0].adev->terms, 8U);
    EXPECT_EQ(found[1].adev->terms, 3U);
    EXPECT_EQ(found[1].overlapping->terms, 6U);
    EXPECT_EQ(found[1].modified->terms, 5U);
}

TEST(AllanDeviation, WhatTooFewValuesCannotSayIsLeftOut) {
    const auto found = allan_deviations(nine);
    EXPECT_EQ(found[2].intervals, 4U);
    EXPECT_EQ(found[2].adev->terms, 1U);
    EXPECT_EQ(found[2].overlapping->terms, 2U);
    EXPECT_FALSE(found[2].modified);
    EXPECT_FALSE(found[2].tdev);
    EXPECT_TRUE(allan_deviations({}).empty());
    EXPECT_TRUE(allan_deviations(std::vector<double>{1}).empty());
    EXPECT_EQ(allan_deviations(std::vector<double>{1, 2}).size(), 1U);
    EXPECT_TRUE(allan_deviations(std::vector<double>{1, std::numeric_limits<double>::quiet_NaN(), 2}).empty());
    EXPECT_TRUE(allan_deviations(std::vector<double>{1, std::numeric_limits<double>::infinity(), 2}).empty());
}

// y = d t: differences of averages m apart are d m; ADEV is d m / sqrt 2 at every averaging time (SP 1065, table of
// noise and drift; exact).
TEST(AllanDeviation, ADriftGrowsWithTheAveragingTime) {
    std::vector<double> values;
    for (int i = 0; i < 64; ++i)
        values.push_back(1e5 + 0.25 * i);
    for (const auto& one : allan_deviations(values)) {
        const double wanted = 0.25 * static_cast<double>(one.intervals) / std::sqrt(2.0);
        EXPECT_NEAR(one.adev->deviation, wanted, 1e-9);
        EXPECT_NEAR(one.overlapping->deviation, wanted, 1e-9);
        if (one.modified) {
            EXPECT_NEAR(one.modified->deviation, wanted, 1e-9);
        }
    }
}

// A small scatter on a large value loses no digits: the running sum is of what differs from the mean.
TEST(AllanDeviation, AnOffsetChangesNothing) {
    constexpr double offset = 1e9;
    std::vector<double> values, off;
    for (int i = 0; i < 4096; ++i) {
        off.push_back(offset + std::sin(0.7 * i * i));
        values.push_back(off.back() - offset); // exact
    }
    const auto found = allan_deviations(values), moved = allan_deviations(off);
    for (std::size_t i = 0; i < found.size(); ++i)
        EXPECT_NEAR(moved[i].overlapping->deviation, found[i].overlapping->deviation, 1e-13);
}

// What takes the square of the number of values could not be done with a day of readings: 2^20 values take 2^20 steps
// at each of 20 averaging times.
TEST(AllanDeviation, AMillionValues) {
    std::vector<double> values(std::size_t{1} << 20);
    for (std::size_t i = 0; i < values.size(); ++i)
        values[i] = (i & 1U) != 0 ? 1 : -1;
    const auto found = allan_deviations(values);
    ASSERT_EQ(found.size(), 20U);
    EXPECT_NEAR(found[0].adev->deviation, std::sqrt(2.0), 1e-12);
    EXPECT_NEAR(found[1].adev->deviation, 0, 1e-12);
    EXPECT_EQ(found[1].modified->terms, values.size() - 6 + 2);
}

} // namespace
} // namespace stillmark::metrology
