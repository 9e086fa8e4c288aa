#include "daemon/cli/stability_table.hpp"

#include <gtest/gtest.h>

namespace stillmark::cli {
namespace {

std::string mistake(const std::string& text, const std::string& interval = "") {
    return read_stability_table("t.csv", text, interval).mistake;
}

TEST(StabilityTable, ValuesWithAndWithoutTimes) {
    const auto plain = read_stability_table("t.csv", "value [bar]\n1\n2.5\n3\n", "0.5 s");
    EXPECT_EQ(plain.mistake, "");
    EXPECT_EQ(plain.values, (std::vector<double>{1, 2.5, 3}));
    EXPECT_EQ(plain.unit, "bar");
    EXPECT_DOUBLE_EQ(*plain.interval_s, 0.5);
    const auto timed = read_stability_table("t.csv", "time [ms],value\n100,1\n350,2\n600,3\n", "");
    EXPECT_EQ(timed.mistake, "");
    EXPECT_DOUBLE_EQ(*timed.interval_s, 0.25);
    EXPECT_FALSE(read_stability_table("t.csv", "value\n1\n2\n", "").interval_s);
}

TEST(StabilityTable, AGapIsRefusedWithItsLine) {
    EXPECT_EQ(mistake("value\n1\n\n3\n4\n").substr(0, 35), "t.csv: line 3: the row is empty, a ");
    EXPECT_EQ(mistake("time,value\n0,1\n1,2\n3,3\n4,3\n").substr(0, 47),
              "t.csv: line 4: 2 s after the value before it, w");
    EXPECT_EQ(mistake("time,value\n0,1\n1,2\n2.04,3\n3,3\n"), "");
    EXPECT_NE(mistake("time,value\n0,1\n1,2\n2.06,3\n3,3\n"), "");
    EXPECT_NE(mistake("time,value\n0,1\n1,2\n1,3\n2,3\n").find("not after the one before"), std::string::npos);
}

} // namespace
} // namespace stillmark::cli
