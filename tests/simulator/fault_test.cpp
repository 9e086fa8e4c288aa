#include "simulator/fault.hpp"
#include "simulator/mistake.hpp"
#include "simulator/scenario.hpp"

#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>

namespace stillmark::simulator {
namespace {

constexpr Micros second = 1000000;

Fault fault(FaultKind kind, double from_s, double for_s) {
    Fault one;
    one.kind = kind;
    one.instrument = "a";
    one.bus = "line";
    one.from_s = from_s;
    one.for_s = for_s;
    return one;
}

TEST(FaultBoard, HoldsFromItsInstantForItsTime) {
    FaultBoard board({fault(FaultKind::silence, 1, 2)}, 10 * second);
    EXPECT_FALSE(board.next_answer("a", "line", 10 * second + second / 2).silence);
    EXPECT_TRUE(board.next_answer("a", "line", 11 * second).silence);
    EXPECT_FALSE(board.next_answer("b", "line", 11 * second).silence) << "another instrument";
    EXPECT_FALSE(board.next_answer("a", "line", 13 * second).silence);
}

TEST(FaultBoard, TouchesEachThirdAnswer) {
    auto one = fault(FaultKind::garbage, 0, 100);
    one.every = 3;
    FaultBoard board({one}, 0);
    std::string touched;
    for (int i = 0; i < 7; ++i)
        touched += board.next_answer("a", "line", i).garbage ? "x" : ".";
    EXPECT_EQ(touched, "..x..x.");
}

TEST(FaultBoard, WaitsForItsPoint) {
    auto one = fault(FaultKind::stuck_value, 0, 5);
    one.at_point = 3;
    one.at_direction = "falling";
    FaultBoard board({one}, 0);
    board.reached(3, "rising", "read", second);
    EXPECT_EQ(board.holding(FaultKind::stuck_value, "a", "line", 2 * second), nullptr);
    board.reached(3, "falling", "read", 3 * second);
    EXPECT_NE(board.holding(FaultKind::stuck_value, "a", "line", 4 * second), nullptr);
    EXPECT_EQ(board.holding(FaultKind::stuck_value, "a", "line", 9 * second), nullptr);
}

/// The words of the complaint about the demo's scenario with this change, or nothing where there is none.
std::string complaint(const std::string& change) {
    const auto folder = std::filesystem::temp_directory_path() / "stillmark-scenario-test-XXXXXX";
    std::string name = folder.string();
    EXPECT_NE(mkdtemp(name.data()), nullptr);
    const auto path = name + "/s.json";
    const auto demo = std::filesystem::relative(std::string(STILLMARK_SOURCE_DIR) + "/simulator/demo", name).string();
    std::ofstream(path) << R"({"like": ")" << demo << R"(/scenario.json", "bench": ")" << demo
                        << R"(/bench.json", "profiles": ")" << demo << R"(/../../drivers/profiles", )" << change << "}";
    std::string words;
    try {
        read_scenario(path, {});
    } catch (const Mistake& mistake) {
        words = mistake.what();
    }
    std::filesystem::remove_all(name);
    return words;
}

TEST(Scenario, IsAnotherOneWithChanges) {
    EXPECT_EQ(complaint(R"("seed": 4)"), "");
}

TEST(Scenario, NamesThePlaceOfAMistake) {
    EXPECT_EQ(complaint(R"("faults": [{"what": "bad checksum", "instrument": "transmitter B"}])"),
              "s.json.faults[0]: modbus_tcp has no checksum to spoil; use garbage");
    EXPECT_EQ(complaint(R"("faults": [{"what": "silence", "instrument": "nobody"}])"),
              "s.json.faults[0]: no wired instrument or bus has this name");
    EXPECT_EQ(complaint(R"("faults": [{"what": "exception", "instrument": "digital gauge C"}])"),
              "s.json.faults[0]: \"exception\" is a fault of Modbus alone");
    EXPECT_EQ(complaint(R"("time_factor": 0)"), "s.json: a time factor is 0.1 to 1000");
    EXPECT_EQ(complaint(R"("instruments": {"digital gauge C": {"reply": "{value}"}})"),
              "s.json.instruments.digital gauge C: the reply \"12.50\" does not fit the profile's pattern "
              "\\s*([-+]?[0-9]+(?:\\.[0-9]+)?)\\s+([A-Za-z0-9/]+)\\s*");
    EXPECT_EQ(complaint(R"("operator": {"mistakes": [{"what": "sneezes", "point": 1}]})"),
              "s.json.operator.mistakes[0].what: \"sneezes\" is not a mistake; use confirms too early, forgets a disc, "
              "takes a wrong disc, leaves the valves, lets it sink, overshoots");
}

} // namespace
} // namespace stillmark::simulator
