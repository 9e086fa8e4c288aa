#include "cli/frames_of_test.hpp"
#include "daemon/cli/columns.hpp"
#include "daemon/cli/results_table.hpp"

#include <gtest/gtest.h>

using namespace stillmark::cli;

namespace {

std::vector<Mark> marks_of_test() {
    return read_results(frame_of_test("read")["marks"])->marks;
}

} // namespace

TEST(ResultsTable, HasOneTableAnInstrumentInItsOwnUnit) {
    std::vector<Mark> marks = marks_of_test();
    marks.resize(2);
    marks[1].channel = "transmitter A";
    marks[1].target = "40 bar";
    marks[1].reference_pa = 4'001'234.0;
    marks[1].mean_pa = 4'000'404.5;
    marks[1].deviation_pa = -830.0;
    marks[1].expanded_reference_pa = 620.0;
    marks[1].float_number = 4;
    marks[1].float_to_us.reset();
    marks[1].status = "void";
    marks[1].why = "the piston sank 0.2 s after the window";
    marks[1].flags = {"approached from above"};
    EXPECT_EQ(results_table({std::nullopt, marks, {}}, 100),
              (std::vector<std::string>{
                  "transmitter A: pressures in bar, U for 95.45 % (Student's t), of one reading each",
                  "mark  target  direction  range  reference   U(ref)  indicated  deviation  U(dev)  float  status",
                  "   9  20 bar  rising     low     20.01234  0.00062    20.0275    +0.0151  0.0036      3  sighted",
                  "  10  40 bar  rising     low     40.0123   0.0062     40.0040    -0.0083  0.0036      4  void",
                  "mark 10: void: the piston sank 0.2 s after the window; approached from above",
                  "",
                  "Float intervals",
                  "float  range  target     lasted  marks in it",
                  "    3  low    20 bar       20 s  9",
                  "    4  low    40 bar  not ended  10",
              }));
}

TEST(ResultsTable, StaysWithinItsColumns) {
    std::vector<Mark> marks = marks_of_test();
    for (Mark& mark : marks) {
        mark.unit = "Pa";
        mark.target = "900000000 Pa";
        mark.reference_pa = 9e8;
        mark.mean_pa = 9e8;
        mark.expanded_pa = 2e-3;
        mark.expanded_reference_pa = 2e-3;
        mark.why = std::string(150, 'x') + " " + std::string(60, 'y');
    }
    for (const std::size_t columns : {80U, 100U})
        for (const std::string& line : results_table({std::nullopt, marks, {}}, columns))
            EXPECT_LE(width(line), columns) << line;
}

TEST(ResultsTable, TellsTheRunAndThePointsWithoutAMark) {
    const auto results =
        read_results({{"run", {{"id", "R1"}, {"sequence", "demo"}, {"condition", "as left"}, {"state", "finished"}}},
                      {"marks", Json::array()},
                      {"missing",
                       {{{"channel", "dial gauge D"}, {"target", "40 bar"}, {"direction", "rising"}},
                        {{"channel", "dial gauge D"}, {"target", "60 bar"}, {"direction", "falling"}}}}});
    ASSERT_TRUE(results) << results.error().message;
    EXPECT_EQ(results_table(*results, 100),
              (std::vector<std::string>{"Run R1: demo, as left, finished", "", "No marks yet.",
                                        "No mark of dial gauge D: 40 bar rising, 60 bar falling", ""}));
}

TEST(ResultsTable, AMarkThatTellsNothingIsShownAsSuch) {
    const auto results = read_results(Json::array({Json::object()}));
    ASSERT_TRUE(results);
    EXPECT_FALSE(results_table(*results, 100).empty());
    EXPECT_EQ(read_results(7).error().message, "results: a number stands where an object belongs");
    EXPECT_EQ(read_results(Json::array({Json{{"expanded_pa", "x"}}})).error().message,
              "results[0].expanded_pa: a text stands where a number belongs");
}
