#include "daemon/journal/block.hpp"
#include "journal/scratch.hpp"

#include <limits>
#include <random>

namespace stillmark::journal::testing {
namespace {

using Bytes = std::vector<std::uint8_t>;

Bytes encoded(const std::vector<ReadingRecord>& readings) {
    Bytes bytes;
    encode_block(readings, bytes);
    return bytes;
}

std::vector<ReadingRecord> readings_of_one_channel(std::mt19937_64& draw, std::size_t count) {
    std::uniform_int_distribution<int> coin(0, 9);
    std::vector<ReadingRecord> readings;
    std::uint64_t number = 1 + draw() % 1000000;
    std::int64_t at = static_cast<std::int64_t>(draw() % 1000000000);
    for (std::size_t i = 0; i < count; ++i) {
        const auto jitter = static_cast<std::int64_t>(draw() % 300) - 150;
        readings.push_back({number, 7, static_cast<std::uint32_t>(500 + draw() % 200), at + jitter,
                            std::bit_cast<double>(draw()), static_cast<std::uint8_t>(coin(draw) == 0 ? draw() : 0)});
        number += 1 + draw() % 60;
        at += 100000;
    }
    return readings;
}

void expect_round_trip(const std::vector<ReadingRecord>& readings) {
    const Bytes bytes = encoded(readings);
    std::vector<ReadingRecord> decoded;
    ASSERT_STREQ(decode_block(readings[0].number, readings[0].channel, bytes, decoded), nullptr);
    ASSERT_EQ(decoded.size(), readings.size());
    for (std::size_t i = 0; i < readings.size(); ++i)
        ASSERT_TRUE(same(decoded[i], readings[i])) << i;
}

// The worked example of daemon/journal/FORMAT.md, byte by byte.
TEST(Block, TheWrittenExampleIsWhatIsWritten) {
    const std::vector<ReadingRecord> readings{
        {1000, 2, 450, 5000000, 101325.0, 0}, {1064, 2, 447, 5100012, 101325.5, 0}, {1128, 2, 460, 5199998, 0.0, 3}};
    const Bytes expected{
        0x03,                                           // three readings
        0x40, 0x40,                                     // numbers: +64, +64
        0x80, 0xad, 0xe2, 0x04,                         // stamp 5000000
        0xd8, 0x9a, 0x0c,                               // then +100012
        0x33,                                           // then 26 less than that: +99986
        0x84, 0x07,                                     // timing 450
        0x05, 0x1a,                                     // then -3, +13
        0x00, 0x00, 0x00, 0x00, 0xd0, 0xbc, 0xf8, 0x40, // 101325.0
        0x00, 0x00, 0x00, 0x00, 0xd8, 0xbc, 0xf8, 0x40, // 101325.5
        0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, // 0.0
        0x02, 0x00, 0x01, 0x03,                         // two of status 0, one of status 3
    };
    EXPECT_EQ(encoded(readings), expected);
    expect_round_trip(readings);
}

TEST(Block, EveryReadingSurvives) {
    std::mt19937_64 draw(1);
    for (std::size_t count = 1; count <= 68; ++count)
        expect_round_trip(readings_of_one_channel(draw, count));
}

TEST(Block, LimitsOfEveryFieldSurvive) {
    constexpr auto least = std::numeric_limits<std::int64_t>::min();
    constexpr auto most = std::numeric_limits<std::int64_t>::max();
    constexpr auto timing = std::numeric_limits<std::uint32_t>::max();
    constexpr auto nan = std::numeric_limits<double>::quiet_NaN();
    const std::uint64_t n = largest_number - block_span + 1;
    expect_round_trip({{n, timing, timing, most, -0.0, 255},
                       {n + 1, timing, 0, least, nan, 0},
                       {n + 2, timing, timing, most, std::numeric_limits<double>::denorm_min(), 255},
                       {largest_number, timing, 1, 0, -std::numeric_limits<double>::infinity(), 1}});
    expect_round_trip({{1, 0, 0, least, 0, 0}});
}

TEST(Block, TheLargestBlockSurvives) {
    std::vector<ReadingRecord> readings;
    for (std::uint64_t i = 0; i < block_span; ++i)
        readings.push_back({5 + i, 1, static_cast<std::uint32_t>(i % 2 == 0 ? 0 : 0xFFFFFFFF),
                            i % 2 == 0 ? INT64_MAX : INT64_MIN, 1.0, static_cast<std::uint8_t>(i % 2)});
    expect_round_trip(readings);
}

// Hostile bytes: whatever is accepted is exactly what encode_block would have written, and nothing crashes.
TEST(Block, AlteredBytesAreRefusedOrMeanSomethingElseExactly) {
    std::mt19937_64 draw(2);
    std::size_t refused = 0;
    std::size_t accepted = 0;
    for (int round = 0; round < 40000; ++round) {
        const auto readings = readings_of_one_channel(draw, 1 + draw() % 12);
        Bytes bytes = encoded(readings);
        const std::size_t changes = 1 + draw() % 3;
        for (std::size_t i = 0; i < changes; ++i) {
            const std::size_t at = draw() % bytes.size();
            switch (draw() % 4) {
            case 0:
                bytes[at] = static_cast<std::uint8_t>(draw());
                break;
            case 1:
                bytes[at] ^= static_cast<std::uint8_t>(1U << (draw() % 8));
                break;
            case 2:
                bytes.insert(bytes.begin() + static_cast<std::ptrdiff_t>(at), static_cast<std::uint8_t>(draw()));
                break;
            default:
                bytes.erase(bytes.begin() + static_cast<std::ptrdiff_t>(at));
                if (bytes.empty()) bytes.push_back(0);
            }
        }
        std::vector<ReadingRecord> decoded;
        if (decode_block(readings[0].number, 7, bytes, decoded) != nullptr) {
            ++refused;
            continue;
        }
        ++accepted;
        ASSERT_EQ(encoded(decoded), bytes);
    }
    EXPECT_GT(refused, 10000U);
    EXPECT_GT(accepted, 1000U); // a value's bytes may be altered without breaking the format
}

TEST(Block, RandomBytesNeverCrash) {
    std::mt19937_64 draw(3);
    for (int round = 0; round < 100000; ++round) {
        Bytes bytes(draw() % 60);
        for (auto& byte : bytes)
            byte = static_cast<std::uint8_t>(draw());
        if (!bytes.empty()) bytes[0] = static_cast<std::uint8_t>(draw() % 4);
        std::vector<ReadingRecord> decoded;
        if (decode_block(draw() >> (draw() % 64), 1, bytes, decoded) == nullptr) {
            ASSERT_EQ(encoded(decoded), bytes);
        }
    }
}

TEST(Block, EveryTruncationIsRefused) {
    std::mt19937_64 draw(4);
    const Bytes whole = encoded(readings_of_one_channel(draw, 20));
    std::vector<ReadingRecord> decoded;
    for (std::size_t length = 0; length < whole.size(); ++length)
        EXPECT_NE(
            decode_block(1, 1, Bytes(whole.begin(), whole.begin() + static_cast<std::ptrdiff_t>(length)), decoded),
            nullptr);
}

const char* objection(const Bytes& bytes, std::uint64_t first = 1) {
    std::vector<ReadingRecord> decoded;
    const char* words = decode_block(first, 1, bytes, decoded);
    return words == nullptr ? "accepted" : words;
}

// One reading at stamp 0 with timing 0, value 0 and status 0.
const Bytes simplest{1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0};

Bytes altered(std::size_t at, Bytes instead) {
    Bytes bytes = simplest;
    bytes.erase(bytes.begin() + static_cast<std::ptrdiff_t>(at));
    bytes.insert(bytes.begin() + static_cast<std::ptrdiff_t>(at), instead.begin(), instead.end());
    return bytes;
}

TEST(Block, EachRuleOfTheFormatHasItsWords) {
    EXPECT_STREQ(objection(simplest), "accepted");
    EXPECT_STREQ(objection({}), "it ends too early");
    EXPECT_STREQ(objection({0}), "no readings");
    EXPECT_STREQ(objection({0x81, 0x20}), "more readings than one block holds");
    EXPECT_STREQ(objection({2, 0}), "numbers that do not rise");
    EXPECT_STREQ(objection({2, 0x80, 0x20}), "numbers too far apart for one block");
    EXPECT_STREQ(objection({3, 0xff, 0x1f, 1}), "numbers too far apart for one block");
    EXPECT_STREQ(objection({2, 2, 0, 0}, largest_number - 1), "a number over 2^63 - 1");
    EXPECT_STREQ(objection(simplest, 0), "a first number outside 1 to 2^63 - 1");
    EXPECT_STREQ(objection(simplest, std::uint64_t{1} << 63U), "a first number outside 1 to 2^63 - 1");
    EXPECT_STREQ(objection(altered(1, {0x80, 0})), "an integer longer than it need be");
    EXPECT_STREQ(objection(altered(1, Bytes(10, 0xff))), "an integer of more than 64 bits");
    EXPECT_STREQ(objection(altered(2, {0x80, 0x80, 0x80, 0x80, 0x20})), "a timing outside 32 bits");
    EXPECT_STREQ(objection(altered(2, {1})), "a timing outside 32 bits");
    EXPECT_STREQ(objection(altered(11, {2})), "a run of status that does not fit");
    EXPECT_STREQ(objection(altered(11, {0})), "a run of status that does not fit");
    EXPECT_STREQ(objection(altered(12, {0, 0})), "bytes after its end");
    Bytes two_runs = encoded({{1, 1, 0, 0, 0, 0}, {2, 1, 0, 0, 0, 1}});
    two_runs.back() = 0;
    EXPECT_STREQ(objection(two_runs), "two runs of one status");
}

} // namespace
} // namespace stillmark::journal::testing
