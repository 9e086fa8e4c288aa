#include "daemon/records/local_time.hpp"

#include <gtest/gtest.h>

namespace stillmark::records {
namespace {

constexpr std::int64_t second = 1'000'000;

// Offsets as the time zone database has them (IANA): Europe/Berlin is one hour ahead, two from 2026-03-29 01:00 UTC on;
// Asia/Kolkata five and a half; America/St_Johns three and a half behind, two and a half in summer.
TEST(LocalTime, IsThatOfTheZoneAtThatInstant) {
    const std::int64_t winter = 1'768'478'400 * second; // 2026-01-15 12:00 UTC (Python's datetime)
    const std::int64_t summer = 1'784'116'800 * second; // 2026-07-15 12:00 UTC
    EXPECT_EQ(local_time(winter, "Europe/Berlin").words(), "2026-01-15 13:00 UTC+01:00");
    EXPECT_EQ(local_time(summer, "Europe/Berlin").words(), "2026-07-15 14:00 UTC+02:00");
    EXPECT_EQ(local_time(winter, "Asia/Kolkata").words(), "2026-01-15 17:30 UTC+05:30");
    EXPECT_EQ(local_time(winter, "America/St_Johns").words(), "2026-01-15 08:30 UTC-03:30");
    EXPECT_EQ(local_time(summer, "America/St_Johns").words(), "2026-07-15 09:30 UTC-02:30");
    const std::int64_t change = 1'774'746'000 * second; // 2026-03-29 01:00 UTC
    EXPECT_EQ(local_time(change - second, "Europe/Berlin").words(), "2026-03-29 01:59 UTC+01:00");
    EXPECT_EQ(local_time(change, "Europe/Berlin").words(), "2026-03-29 03:00 UTC+02:00");
}

TEST(LocalTime, WithoutAZoneIsUtcAndSaysSo) {
    const std::int64_t late = (1'768'478'400 + 11 * 3600) * second;
    for (const char* zone : {"", "UTC", "Nowhere/Invented", "../../etc/passwd"})
        EXPECT_EQ(local_time(late, zone).words(), "2026-01-15 23:00 UTC") << zone;
    EXPECT_EQ(local_time(late, "Europe/Berlin").date, "2026-01-16");
    EXPECT_EQ(local_time(-second, "UTC").words(), "1969-12-31 23:59 UTC");
}

TEST(LocalTime, AZoneIsKnownByItsName) {
    EXPECT_TRUE(is_time_zone("Europe/Berlin"));
    EXPECT_TRUE(is_time_zone("UTC"));
    for (const char* name : {"", "Berlin", "Nowhere/Invented", "/etc/passwd", "../UTC"})
        EXPECT_FALSE(is_time_zone(name)) << name;
}

} // namespace
} // namespace stillmark::records
