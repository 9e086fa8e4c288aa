// The ambient pressure as a reference: vented zeros on every balance, and the barometer's age, change and certificate.
#include "bench/world.hpp"
#include "daemon/bench/ambient.hpp"
#include "daemon/bench/certificates.hpp"
#include "daemon/bench/gates.hpp"
#include "daemon/bench/reference.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <fstream>
#include <sstream>

namespace stillmark::bench {
namespace {

using testing::bench_of;
using testing::Edits;
using testing::small_bench_text;
using testing::World;

std::string pneumatic_text(const Edits& edits) {
    std::ifstream in(STILLMARK_SOURCE_DIR "/simulator/demo/pneumatic-bench.json", std::ios::binary);
    std::ostringstream whole;
    whole << in.rdbuf();
    std::string text = whole.str();
    for (const auto& [old_text, new_text] : edits) {
        const auto at = text.find(old_text);
        if (at == std::string::npos || text.find(old_text, at + 1) != std::string::npos)
            throw std::runtime_error("not exactly once: " + old_text);
        text.replace(at, old_text.size(), new_text);
    }
    return text;
}

/// The pneumatic demo with both instruments at the balance's level, one of them counting as said, and a zero first.
std::string level_pneumatic(const std::string& mode, const std::string& pressure, const Edits& more = {}) {
    Edits edits{{R"("mode": "gauge")",
                 R"("mode": ")" + mode + "\"" +
                     (mode == "absolute" ? R"(, "residual_pressure": {"value": "5 Pa", "u": "2 Pa"})" : "")},
                {R"("instrument_level": "85 mm below balance", "level_u": "1 mm")",
                 R"("instrument_level": "0 mm below balance")"},
                {R"("pressure": "absolute",)", ""},
                {R"(     "head": [
       {"gas": "balance", "height": "60 mm down", "u": "1 mm"},
       {"liquid": {"name": "invented oil", "density": {"value": "960 kg/m3", "U": "2 %", "k": 2}}, "height": "12 mm down", "u": "0.5 mm"}
     ],)",
                 R"("instrument_level": "0 mm below balance", "pressure": )" + pressure + ","},
                {R"({"pressure": "0.01 bar", "range": "gas", "discs": []},)", R"({"pressure": "0 bar"},)"}};
    // The readings of this world scatter by 40 Pa.
    edits.emplace_back(R"("span": ["0 bar", "11 bar"], "rating": "20 bar", "mpe": "0.05 % of span")",
                       R"("span": ["0 bar", "11 bar"], "rating": "20 bar", "mpe": "0.5 % of span")");
    edits.insert(edits.end(), more.begin(), more.end());
    return pneumatic_text(edits);
}

const std::string sealed = R"("sealed", "sealed_reference": {"value": "1013 hPa", "u": "40 Pa"})";
std::string stated(World& world) {
    return world.does(state_surroundings(world.state, world.press(), {"21.5 degC", "968 hPa", "45 %", "21.3 degC"}));
}

MarkTaken zero_of(const std::string& text) {
    World world(text);
    EXPECT_EQ(stated(world), "");
    EXPECT_EQ(world.start({"absolute transmitter"}), "");
    for (int bound = 0; bound < 100 && world.state.marks.empty(); ++bound)
        world.work_one_step();
    EXPECT_TRUE(world.mark(1).taken.vented.value_or(false));
    return world.mark(1).taken;
}

TEST(VentedZero, IsTheAirInEveryModeOfTheBalance) {
    for (const char* mode : {"gauge", "absolute"}) {
        SCOPED_TRACE(mode);
        const auto gauge = zero_of(level_pneumatic(mode, R"("gauge")"));
        EXPECT_EQ(gauge.reference_pa, 0);
        EXPECT_EQ(gauge.u_reference_pa, 0);
        const auto absolute = zero_of(level_pneumatic(mode, R"("absolute")"));
        EXPECT_EQ(absolute.reference_pa, 96'800) << "968 hPa";
        EXPECT_DOUBLE_EQ(absolute.u_reference_pa, 5) << "the barometer's U = 10 Pa, k = 2";
        const auto closed = zero_of(level_pneumatic(mode, sealed));
        EXPECT_EQ(closed.reference_pa, 96'800 - 101'300);
        EXPECT_DOUBLE_EQ(closed.u_reference_pa, std::hypot(5, 40));
        EXPECT_EQ(absolute.at_balance_pa, std::string(mode) == "absolute" ? 96'800 : 0);
    }
}

TEST(VentedZero, AShortFormOfTheBalanceIsNotInIt) {
    const Edits with_short_form{{R"("tilt": {"limits": "0.5 mrad"},)",
                                 R"("tilt": {"limits": "0.5 mrad"},
        "short_form": {"a": "40 Pa", "b": "20 ppm of reading", "k": 2, "covers": ["effective area"]},)"}};
    for (const char* mode : {"gauge", "absolute"}) {
        EXPECT_EQ(zero_of(level_pneumatic(mode, R"("absolute")", with_short_form)).u_reference_pa, 5) << mode;
        EXPECT_EQ(zero_of(level_pneumatic(mode, R"("gauge")", with_short_form)).u_pa,
                  zero_of(level_pneumatic(mode, R"("gauge")")).u_pa)
            << mode;
    }
}

TEST(VentedZero, TheHeadOfAFilledLineStaysWithItsUncertainty) {
    // 85 mm of nitrogen below the level mark, less the air beside it: (M/(RT) p - rho_a) g h, under a tenth of a
    // pascal.
    World world(
        pneumatic_text({{R"({"pressure": "0.01 bar", "range": "gas", "discs": []},)", R"({"pressure": "0 bar"},)"}}));
    const auto& gauge = world.state.bench->instruments[0];
    const auto reference = reference_vented(world.state, gauge);
    EXPECT_LT(reference.at_instrument_pa, 0) << "nitrogen is lighter than air";
    EXPECT_GT(reference.at_instrument_pa, -0.1);
    EXPECT_GT(reference.u_pa, 0);
}

/// The small bench with one absolute instrument beside the gauge ones.
std::string one_absolute(const Edits& more = {}) {
    Edits edits{{R"("span": ["0 bar", "1000 bar"], "rating": "1200 bar", "mpe": "0.5 bar",)",
                 R"("pressure": "absolute",
     "span": ["0 bar", "1000 bar"], "rating": "1200 bar", "mpe": "0.5 bar",)"}};
    edits.insert(edits.end(), more.begin(), more.end());
    return small_bench_text(edits);
}
const Edits for_a_quarter{{R"("valid": "4 h",)", R"("valid": "4 h", "air_pressure_valid": "15 min",)"}};
constexpr std::size_t gauge_a = 0, absolute_b = 1;

/// A run of both at its first reading; the barometer was read just before where `read`.
World at_reading(const std::string& text, bool read = true) {
    World world(text);
    if (read) {
        EXPECT_EQ(stated(world), "");
    }
    EXPECT_EQ(world.start({"transmitter A", "transmitter B"}), "");
    for (int bound = 0; bound < 100 && (!world.step().point || world.step().direction == Direction::preload); ++bound)
        world.work_one_step();
    world.work_to(StepKind::read);
    return world;
}
std::string held_back(World& world, std::size_t channel) {
    world.still(channel);
    std::string why;
    (void)window_permit(world.state, channel, world.now_us, why);
    return why;
}
std::vector<std::string> asked(const World& world) {
    return surroundings_asked(world.state, world.now_us);
}

TEST(AmbientPressure, TheBenchFilesFigureIsNoReadingOfTheBarometer) {
    World world = at_reading(one_absolute(), false);
    EXPECT_EQ(held_back(world, gauge_a), "");
    EXPECT_EQ(held_back(world, absolute_b),
              "it counts from the ambient pressure, and the barometer was not read: enter the air pressure");
    EXPECT_EQ(asked(world), std::vector<std::string>{"air_pressure"});
    EXPECT_EQ(world.does(state_surroundings(world.state, world.press(), {"", "967.3 hPa", "", ""})), "");
    EXPECT_EQ(held_back(world, absolute_b), "");
    EXPECT_TRUE(asked(world).empty());
}

TEST(AmbientPressure, AStaleReadingHoldsBackWhoCountsFromIt) {
    World world = at_reading(one_absolute(for_a_quarter));
    EXPECT_EQ(held_back(world, absolute_b), "");
    // Other surroundings are stated anew; the barometer is not read by that.
    world.now_us = world.state.conditions.stated_us + 15 * 60 * micros(1) + 1;
    EXPECT_EQ(world.does(state_surroundings(world.state, world.press(), {"21.6 degC", "", "", ""})), "");
    EXPECT_EQ(held_back(world, gauge_a), "");
    EXPECT_EQ(held_back(world, absolute_b),
              "it counts from the ambient pressure, which was read more than 15 min ago: read the barometer again and "
              "enter the air pressure");
    EXPECT_EQ(asked(world), std::vector<std::string>{"air_pressure"});
    EXPECT_EQ(world.does(state_surroundings(world.state, world.press(), {"", "968.2 hPa", "", ""})), "");
    EXPECT_EQ(held_back(world, absolute_b), "");
}

TEST(AmbientPressure, WithoutItsOwnTimeAReadingHoldsAsLongAsTheRest) {
    World world = at_reading(one_absolute());
    world.now_us = world.state.conditions.stated_us + 4 * 3600 * micros(1);
    EXPECT_EQ(held_back(world, absolute_b), "");
    ++world.now_us;
    EXPECT_EQ(asked(world).size(), 4U) << "all surroundings are too old";
    EXPECT_EQ(world.does(state_surroundings(world.state, world.press(), {"21.6 degC", "", "", ""})), "");
    EXPECT_NE(held_back(world, absolute_b), "");
}

TEST(AmbientPressure, AChangeSinceTheRunBeganHoldsBackWhoCountsFromIt) {
    World world =
        at_reading(one_absolute({{R"("valid": "4 h",)", R"("valid": "4 h", "air_pressure_drift": "2 hPa",)"}}));
    EXPECT_EQ(world.does(state_surroundings(world.state, world.press(), {"", "970 hPa", "", ""})), "");
    EXPECT_EQ(held_back(world, absolute_b), "");
    EXPECT_EQ(world.does(state_surroundings(world.state, world.press(), {"", "970.1 hPa", "", ""})), "");
    EXPECT_EQ(held_back(world, gauge_a), "");
    EXPECT_EQ(
        held_back(world, absolute_b),
        "it counts from the ambient pressure, which has changed by 2.10 hPa since the run began, more than 2 hPa: "
        "begin the run again when the air is steadier");
    EXPECT_TRUE(asked(world).empty()) << "another reading of the barometer would not help";
}

TEST(AmbientPressure, ARunKeepsAReadingThatStillCounts) {
    World world(one_absolute({{R"("valid": "4 h",)", R"("valid": "1 h", "air_pressure_valid": "4 h",)"}}));
    EXPECT_EQ(world.does(state_surroundings(world.state, world.press(), {"21.5 degC", "965 hPa", "45 %", "21.3 degC"})),
              "");
    world.now_us += 2 * 3600 * micros(1);
    EXPECT_EQ(world.start({"transmitter A", "transmitter B"}), "");
    EXPECT_EQ(world.state.conditions.air.pressure_pa.value, 96'500) << "not the bench file's 968 hPa";
    EXPECT_TRUE(barometer_is_current(world.state, world.now_us));
    EXPECT_EQ(world.run().ambient_at_start_pa, 96'500);
}

TEST(AmbientPressure, AnApproachIsWatchedUnderThatOfTheRunsBeginning) {
    World world(one_absolute());
    EXPECT_EQ(world.does(state_surroundings(world.state, world.press(), {"21.5 degC", "985 hPa", "45 %", "21.3 degC"})),
              "");
    EXPECT_EQ(world.start({"transmitter A", "transmitter B"}), "");
    for (int bound = 0; bound < 100 && (!world.step().point || world.step().direction == Direction::preload); ++bound)
        world.work_one_step();
    world.work_to(StepKind::read);
    for (const std::size_t channel : {gauge_a, absolute_b}) {
        const double rests_at_pa =
            reference_for(world.state, world.interval(), world.state.bench->instruments[channel]).at_instrument_pa;
        EXPECT_NEAR(approach_watch(world.state, channel)->to_go_pa(rests_at_pa), 0, 10) << channel;
    }
}

TEST(AmbientPressure, IsForgottenWhenTheMachineStartsAgain) {
    World world = at_reading(one_absolute());
    world.happen(ServiceStarted{"another invented boot", 1'700'000'000'000'000, "test", "test", "test", "test"});
    EXPECT_FALSE(barometer_is_current(world.state, world.now_us));
}

TEST(AmbientPressure, WhoCountsFromIt) {
    auto bench = bench_of(level_pneumatic("absolute", R"("absolute")"));
    const auto& gauge = bench.instruments[0];
    const auto& absolute = bench.instruments[1];
    EXPECT_TRUE(rests_on_ambient(bench, gauge, false)) << "an absolute balance under a gauge instrument";
    EXPECT_FALSE(rests_on_ambient(bench, absolute, false));
    EXPECT_FALSE(rests_on_ambient(bench, gauge, true));
    EXPECT_TRUE(rests_on_ambient(bench, absolute, true)) << "a vented zero";
    bench.balance.mode = metrology::PressureKind::gauge;
    EXPECT_FALSE(rests_on_ambient(bench, gauge, false));
    EXPECT_TRUE(rests_on_ambient(bench, absolute, false));
}

TEST(AmbientPressure, AZeroBeforeTheRunNeedsItToo) {
    World world(one_absolute({{R"("sequences": [)", R"("checks": {"zero": {}}, "sequences": [)"}}));
    EXPECT_EQ(world.start({"transmitter B"}), "");
    for (int bound = 0; bound < 20 && world.at() != StepKind::check; ++bound)
        world.work_one_step();
    EXPECT_EQ(world.watch_check(),
              "transmitter B: it counts from the ambient pressure, and the barometer was not read: enter the air "
              "pressure");
    EXPECT_EQ(stated(world), "");
    EXPECT_EQ(world.watch_check(), "");
}

std::size_t naming_the_barometer(const World& world, const std::string& instrument) {
    std::size_t count = 0;
    for (const auto& one : lacking_for_certificate(world.state, {"R1"}, instrument))
        count += one.code == GateCode::standard_not_stated && one.subject == "barometer" ? 1 : 0;
    return count;
}

TEST(AmbientPressure, ItsBarometerNeedsACertificateWhereAResultRestsOnIt) {
    World world = at_reading(one_absolute());
    ASSERT_EQ(world.does(stop_run(world.state, world.press(), "invented reason")), "");
    EXPECT_EQ(naming_the_barometer(world, "transmitter A"), 0U);
    EXPECT_EQ(naming_the_barometer(world, "transmitter B"), 1U);
    EXPECT_EQ(unstated_standards({}, false), (std::vector<std::string>{"balance", "discs"}));
    EXPECT_EQ(unstated_standards({}, true), (std::vector<std::string>{"balance", "discs", "barometer"}));
    StandardCertificate barometer;
    barometer.what = "barometer";
    EXPECT_EQ(unstated_standards({barometer}, true), (std::vector<std::string>{"balance", "discs"}));
}

TEST(AmbientPressure, TheBarometersLevelIsReadInWords) {
    const auto bench = bench_of(small_bench_text(
        {{R"("valid": "4 h",)",
          R"("valid": "4 h", "barometer_level": "350 mm above balance", "barometer_level_u": "20 mm",)"}}));
    EXPECT_EQ(bench.surroundings.air.barometer_height_m.value, 0.35);
    EXPECT_EQ(bench.surroundings.air.barometer_height_m.u, 0.02);
    EXPECT_EQ(bench.surroundings.air_pressure_valid_s, 4 * 3600) << "as long as the rest";
    World world(
        one_absolute({{R"("valid": "4 h",)", R"("valid": "4 h", "barometer_level": "350 mm above balance",)"}}));
    World level(one_absolute());
    const double higher_pa =
        reference_vented(world.state, world.state.bench->instruments[absolute_b]).at_instrument_pa -
        reference_vented(level.state, level.state.bench->instruments[absolute_b]).at_instrument_pa;
    EXPECT_NEAR(higher_pa, 1.14 * 9.807 * 0.35, 0.05) << "the air's column down to the balance";
}

} // namespace
} // namespace stillmark::bench
