#include "drivers/driver.hpp"
#include "drivers/register_words.hpp"

#include <gtest/gtest.h>

#include <bit>
#include <limits>
#include <random>

namespace stillmark::drivers {
namespace {

std::vector<std::uint16_t> words(std::uint64_t bits, int count) {
    std::vector<std::uint16_t> out;
    for (int i = count - 1; i >= 0; --i)
        out.push_back(static_cast<std::uint16_t>(bits >> (16 * i)));
    return out;
}

Decoded decoded(NumberType type, ByteOrder order, std::vector<std::uint16_t> registers) {
    ModbusReading how;
    how.type = type;
    how.order = order;
    return decode(how, registers);
}

struct FloatRow {
    float value;
    std::uint32_t abcd;
    std::uint32_t cdab;
    std::uint32_t badc;
    std::uint32_t dcba;
};

// Word orders of IEEE 754 binary32, computed with Python's struct module.
TEST(DecodeFloat, EveryWordOrderOfTheTable) {
    const FloatRow rows[] = {
        {1.0F, 0x3F800000, 0x00003F80, 0x803F0000, 0x0000803F},
        {123.456F, 0x42F6E979, 0xE97942F6, 0xF64279E9, 0x79E9F642},
        {101325.0F, 0x47C5E680, 0xE68047C5, 0xC54780E6, 0x80E6C547},
        {1.01325F, 0x3F81B22D, 0xB22D3F81, 0x813F2DB2, 0x2DB2813F},
        {-118.625F, 0xC2ED4000, 0x4000C2ED, 0xEDC20040, 0x0040EDC2},
    };
    for (const auto& row : rows) {
        const std::pair<ByteOrder, std::uint32_t> travelling[] = {{ByteOrder::abcd, row.abcd},
                                                                  {ByteOrder::cdab, row.cdab},
                                                                  {ByteOrder::badc, row.badc},
                                                                  {ByteOrder::dcba, row.dcba}};
        for (const auto& [order, bits] : travelling) {
            const auto got = decoded(NumberType::float32, order, words(bits, 2));
            EXPECT_EQ(got.status, ReadingStatus::good);
            EXPECT_EQ(got.value, row.value) << std::hex << bits;
        }
    }
}

// IEEE 754 binary32 and binary64 patterns, computed.
TEST(DecodeFloat, SinglePatternsOfTheTable) {
    const std::pair<std::uint32_t, double> rows[] = {
        {0x41480000, 12.5},
        {0x3E200000, 0.15625},
        {0x3DCCCCCD, static_cast<double>(0.1F)},
        {0x40490FDB, static_cast<double>(3.14159265358979F)},
        {0x3EAAAAAB, static_cast<double>(1.0F / 3.0F)},
        {0x00800000, 1.1754943508222875e-38},
        {0x7F7FFFFF, 3.4028234663852886e38},
    };
    for (const auto& [bits, value] : rows) {
        const auto got = decoded(NumberType::float32, ByteOrder::abcd, words(bits, 2));
        EXPECT_EQ(got.status, ReadingStatus::good);
        EXPECT_EQ(got.value, value);
    }
    EXPECT_EQ(decoded(NumberType::float64, ByteOrder::abcd, words(0x3FB999999999999A, 4)).value, 0.1);
}

// Least normal numbers of IEEE 754 binary32 and binary64: 2^-126 and 2^-1022. 1.0 with its words swapped reads as one
// that is less: 0x00003F80.
TEST(DecodeFloat, ADenormalNumberWasReadInTheWrongOrder) {
    for (const std::uint32_t bits : {0x00000001U, 0x00003F80U, 0x007FFFFFU, 0x80000001U}) {
        const auto got = decoded(NumberType::float32, ByteOrder::abcd, words(bits, 2));
        EXPECT_EQ(got.status, ReadingStatus::not_a_number) << std::hex << bits;
        EXPECT_TRUE(got.other_order);
    }
    const auto of_double = decoded(NumberType::float64, ByteOrder::abcd, words(0x000FFFFFFFFFFFFF, 4));
    EXPECT_EQ(of_double.status, ReadingStatus::not_a_number);
    for (const std::uint32_t bits : {0U, 0x80000000U, 0x00800000U})
        EXPECT_EQ(decoded(NumberType::float32, ByteOrder::abcd, words(bits, 2)).status, ReadingStatus::good);
}

// +inf, -inf, quiet NaN (computed); the pattern that HART uses for "not a number", 7FA00000 (from memory).
TEST(DecodeFloat, WhatIsNoNumberIsNoReading) {
    for (const std::uint32_t bits : {0x7F800000U, 0xFF800000U, 0x7FC00000U, 0x7FA00000U}) {
        EXPECT_EQ(decoded(NumberType::float32, ByteOrder::abcd, words(bits, 2)).status, ReadingStatus::not_a_number);
    }
    EXPECT_EQ(decoded(NumberType::float64, ByteOrder::abcd, words(0x7FF0000000000000, 4)).status,
              ReadingStatus::not_a_number);
}

TEST(DecodeFloat, AWrongWordOrderDoesNotGiveTheValue) {
    const auto travelling = words(0xE97942F6, 2); // 123.456, words swapped
    for (const auto order : {ByteOrder::abcd, ByteOrder::badc, ByteOrder::dcba}) {
        EXPECT_NE(decoded(NumberType::float32, order, travelling).value, 123.456F);
    }
}

// The orders generalise by their rule: cdab swaps words, badc the bytes inside each, dcba both.
TEST(DecodeIntegers, EveryTypeInEveryOrderAtItsLimits) {
    const auto bytes_swapped = [](std::vector<std::uint16_t> in) {
        for (auto& word : in)
            word = static_cast<std::uint16_t>(word << 8 | word >> 8);
        return in;
    };
    const auto words_swapped = [](std::vector<std::uint16_t> in) {
        std::reverse(in.begin(), in.end());
        return in;
    };
    struct Row {
        NumberType type;
        std::uint64_t bits;
        double value;
    };
    const Row rows[] = {
        {NumberType::int16, 0x8000, -32768},
        {NumberType::int16, 0x7FFE, 32766},
        {NumberType::uint16, 0xFF01, 65281},
        {NumberType::int32, 0x80000001, -2147483647},
        {NumberType::int32, 0x01020304, 16909060},
        {NumberType::uint32, 0xFF020304, 4278321924.0},
        {NumberType::int64, 0x8000000000000000, -9223372036854775808.0},
        {NumberType::int64, 0x0001020304050607, 283686952306183.0},
        {NumberType::uint64, 0xFF00000000000000, 18374686479671623680.0},
        {NumberType::float64, 0x405EDD2F1A9FBE77, 123.456},
    };
    for (const auto& row : rows) {
        const auto in_order = words(row.bits, words_of(row.type));
        EXPECT_EQ(decoded(row.type, ByteOrder::abcd, in_order).value, row.value) << std::hex << row.bits;
        EXPECT_EQ(decoded(row.type, ByteOrder::cdab, words_swapped(in_order)).value, row.value);
        EXPECT_EQ(decoded(row.type, ByteOrder::badc, bytes_swapped(in_order)).value, row.value);
        EXPECT_EQ(decoded(row.type, ByteOrder::dcba, words_swapped(bytes_swapped(in_order))).value, row.value);
    }
}

TEST(Decode, ScaleComesBeforeOffset) {
    ModbusReading how;
    how.type = NumberType::int16;
    how.scale = 0.5;
    how.offset = -100;
    EXPECT_EQ(decode(how, std::vector<std::uint16_t>{300}).value, 50.0);
}

TEST(Decode, SentinelsAreMetBeforeScaleAndOffset) {
    ModbusReading how;
    how.type = NumberType::int16;
    how.scale = 0.01;
    how.sentinels = {{-32768, "under_range"}, {32767, "over_range"}, {32766, "instrument_fault"}};
    const auto status = [&how](std::uint16_t raw) { return decode(how, std::vector{raw}).status; };
    EXPECT_EQ(status(0x8000), ReadingStatus::under_range);
    EXPECT_EQ(status(0x7FFF), ReadingStatus::over_range);
    EXPECT_EQ(status(0x7FFE), ReadingStatus::instrument_fault);
    EXPECT_EQ(status(0x7FFD), ReadingStatus::good);

    how.type = NumberType::uint64;
    how.sentinels = {{-1, "over_range"}};
    EXPECT_EQ(decode(how, words(~std::uint64_t{0}, 4)).status, ReadingStatus::over_range);

    how.type = NumberType::float32;
    how.sentinels = {{-9999, "under_range"}};
    EXPECT_EQ(decode(how, words(std::bit_cast<std::uint32_t>(-9999.0F), 2)).status, ReadingStatus::under_range);
}

TEST(Decode, FewerRegistersThanTheNumberTakesAreABadFrame) {
    for (int type = 0; type < 8; ++type) {
        const auto number = static_cast<NumberType>(type);
        for (int count = 0; count < words_of(number); ++count) {
            EXPECT_EQ(decoded(number, ByteOrder::abcd, words(1, count)).status, ReadingStatus::bad_frame);
        }
        EXPECT_EQ(decoded(number, ByteOrder::abcd, std::vector<std::uint16_t>(5)).status, ReadingStatus::good)
            << "more do not matter";
    }
}

TEST(Decode, AnyRegistersGiveAFiniteValueOrAReasonWhyNot) {
    std::mt19937 random(5);
    int good = 0;
    for (int i = 0; i < 200'000; ++i) {
        ModbusReading how;
        how.type = static_cast<NumberType>(random() % 8);
        how.order = static_cast<ByteOrder>(random() % 4);
        how.scale = random() % 4 == 0 ? 1e300 : 0.001;
        std::vector<std::uint16_t> registers(random() % 6);
        for (auto& word : registers)
            word = static_cast<std::uint16_t>(random());
        const auto got = decode(how, registers);
        EXPECT_TRUE(std::isfinite(got.value));
        if (got.status == ReadingStatus::good)
            ++good;
        else
            EXPECT_EQ(got.value, 0);
    }
    EXPECT_GT(good, 50'000);
}

} // namespace
} // namespace stillmark::drivers
