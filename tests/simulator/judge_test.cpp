#include "simulator/judge.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <fstream>

namespace stillmark::simulator {
namespace {

/// A log in which gauge "a" truly deviates by 100 Pa; the piston leaves its band at 2 s.
class JudgeTest : public testing::Test {
  protected:
    JudgeTest() {
        const int descriptor = mkstemp(path_.data());
        EXPECT_GE(descriptor, 0);
        std::ofstream file(path_);
        file << "boottime_us,pressure_pa,range,piston,height_m,in_band,spin_rpm,oil_m3,\"pressure_pa a\",\"settled_pa "
                "a\"\n";
        for (int i = 0; i <= 200; ++i)
            file << i * 20000 << ",1e6,low,floating,0," << (i < 100 ? 1 : 0) << ",30,1e-6,1000000,"
                 << (1000100 + (i % 2 == 0 ? 5 : -5)) << '\n';
    }
    ~JudgeTest() override { (void)std::remove(path_.c_str()); }

    static nlohmann::json mark(double deviation_pa, double u_pa, long from_us, long to_us) {
        return {{"mark", 1},
                {"channel", "a"},
                {"point", 4},
                {"direction", "rising"},
                {"range", "low"},
                {"target", "10 bar"},
                {"mean_pa", 1e6 + deviation_pa},
                {"reference_pa", 1e6},
                {"deviation_pa", deviation_pa},
                {"u_pa", u_pa},
                {"window", {{"from_us", from_us}, {"to_us", to_us}}},
                {"status", "sighted"},
                {"flags", nlohmann::json::array()}};
    }
    static nlohmann::json list(const std::vector<nlohmann::json>& marks) { return marks; }
    Judgement judged(const nlohmann::json& marks, const std::vector<Expectation>& expectations = {}) {
        return judge(marks, TrueCourse(path_), expectations, 1);
    }

    std::string path_ = "/tmp/stillmark-judge-test-XXXXXX";
};

TEST_F(JudgeTest, AMarkNearTheTruthIsGood) {
    const auto judgement = judged(list({mark(110, 10, 200000, 1800000)}));
    EXPECT_TRUE(judgement.good());
    EXPECT_EQ(judgement.within_2u, 1);
    EXPECT_NEAR(judgement.worst_in_u, 1, 0.02);
}

TEST_F(JudgeTest, AMarkFarFromTheTruthIsNot) {
    EXPECT_FALSE(judged(list({mark(140, 10, 200000, 1800000)})).good());
    EXPECT_FALSE(judged(list({mark(60, 10, 200000, 1800000)})).good());
    EXPECT_FALSE(judged(list({mark(NAN, 10, 200000, 1800000)})).good());
    EXPECT_FALSE(judged(list({mark(100, 0, 200000, 1800000)})).good());
}

TEST_F(JudgeTest, NineTenthsMustBeWithinTwo) {
    auto marks = nlohmann::json::array();
    for (int i = 0; i < 10; ++i)
        marks.push_back(mark(i < 1 ? 125 : 100, 10, 200000, 1800000));
    EXPECT_TRUE(judged(marks).good());
    marks[5] = marks[0];
    EXPECT_FALSE(judged(marks).good());
}

TEST_F(JudgeTest, AWindowWithoutAFloatIsAFault) {
    EXPECT_FALSE(judged(list({mark(100, 10, 1500000, 2500000)})).good());
}

TEST_F(JudgeTest, AZeroNeedsAnOpenLineAndNoFloat) {
    auto zero = mark(100, 10, 200000, 1800000);
    zero["status"] = "vented";
    EXPECT_FALSE(judged(list({zero})).good()) << "the line holds 10 bar";
    std::string text;
    {
        std::ifstream file(path_);
        std::string line;
        for (bool head = true; std::getline(file, line); head = false)
            text += (head ? line : line.replace(line.find(",1e6,"), 5, ",0,")) + "\n";
    }
    std::ofstream(path_) << text;
    EXPECT_TRUE(judged(list({zero})).good());
    zero["window"] = {{"from_us", 2200000}, {"to_us", 3800000}};
    EXPECT_TRUE(judged(list({zero})).good()) << "nothing floats at a zero";
}

TEST_F(JudgeTest, AWindowOutsideTheLogIsAFault) {
    EXPECT_FALSE(judged(list({mark(100, 10, 3500000, 5500000)})).good());
}

TEST_F(JudgeTest, AnEmptyRunProvesNothing) {
    EXPECT_FALSE(judged(nlohmann::json::array()).good());
}

TEST_F(JudgeTest, VoidMarksAreNotJudgedButMayBeExpected) {
    auto wrong = mark(900, 10, 200000, 1800000);
    wrong["status"] = "void";
    const auto marks = list({wrong, mark(100, 10, 200000, 1800000)});
    EXPECT_TRUE(judged(marks, {{4, "rising", "void", ""}}).good());
    EXPECT_FALSE(judged(marks, {{4, "falling", "void", ""}}).good());
    EXPECT_FALSE(judged(marks, {{4, "rising", "", "approached from above"}}).good());
}

TEST(ResultsTable, StaysWithinAHundredColumns) {
    auto marks = nlohmann::json::array();
    long number = 0;
    for (const auto* channel : {"a", "b", "c", "d"})
        marks.push_back({{"mark", ++number},
                         {"channel", channel},
                         {"point", 12},
                         {"series", 2},
                         {"direction", "falling"},
                         {"range", "high"},
                         {"target", "900 bar"},
                         {"at_balance_pa", 9e7},
                         {"u_reference_pa", 2000},
                         {"deviation_pa", -123456},
                         {"float", {{"number", number > 2 ? 25 : 24}, {"from_us", 1000000}, {"to_us", 999000000}}},
                         {"status", "sighted"},
                         {"flags", number == 1 ? nlohmann::json{"approached from below"} : nlohmann::json::array()}});
    const auto table = results_table(marks);
    std::size_t at = 0;
    for (std::size_t end = 0; (end = table.find('\n', at)) != std::string::npos; at = end + 1)
        EXPECT_LE(end - at, 100U) << table.substr(at, end - at);
    EXPECT_NE(table.find("900 bar, falling high   900.0000  0.0200  -1.2346!"), std::string::npos) << table;
    EXPECT_NE(table.find("24, 25 (0.0-998.0)"), std::string::npos) << table;
}

} // namespace
} // namespace stillmark::simulator
