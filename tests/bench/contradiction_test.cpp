#include "bench/world.hpp"
#include "daemon/bench/contradiction.hpp"
#include "daemon/bench/reference.hpp"
#include "daemon/bench/suspicion.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>

namespace stillmark::bench::testing {
namespace {

/// The wired channels of the run.
std::vector<std::size_t> wired(const World& world) {
    std::vector<std::size_t> all;
    for (std::size_t i = 0; i < world.state.bench->instruments.size(); ++i)
        if (!world.state.bench->instruments[i].manual() && world.run().takes_part[i]) all.push_back(i);
    return all;
}

/// Every wired channel shows this.
std::vector<SeenReading> all_show(const World& world, double pressure_pa) {
    std::vector<SeenReading> all;
    for (const auto channel : wired(world))
        all.push_back({channel, pressure_pa, 0});
    return all;
}

double point_pa(const World& world) {
    const auto& bench = *world.state.bench;
    const auto& point = bench.sequences[world.run().sequence].points[*world.step().point];
    return metrology::reference_pressure_pa(reference_inputs(bench, point.range, point.discs,
                                                             world.state.conditions.air,
                                                             world.state.conditions.piston_temperature_c, nullptr));
}

std::string insist(World& world, const std::function<Decision(const Press&)>& decide,
                   const std::string& reason = "invented reason") {
    auto press = world.press();
    press.despite = true;
    press.reason = reason;
    return world.does(decide(press));
}

/// At the first step of this kind that fits.
World at_step(const std::function<bool(const Step&)>& fits) {
    World world;
    EXPECT_EQ(world.start(), "");
    for (int bound = 0; bound < 300 && !fits(world.step()); ++bound)
        world.work_one_step();
    EXPECT_TRUE(fits(world.step()));
    return world;
}

/// At the step of this kind at the second point, 20 bar, where zero is far from the pressure.
World at_20_bar(StepKind kind) {
    return at_step([kind](const Step& step) { return step.kind == kind && step.visit && step.point == 1U; });
}

TEST(Contradiction, FarIsFiveTimesThePermissibleErrorAndTwoPercentOfThePoint) {
    const World world;
    auto instrument = world.state.bench->instruments[0];
    instrument.mpe_pa = 2000;
    EXPECT_DOUBLE_EQ(far_pa(instrument, 0), 10'000);
    EXPECT_DOUBLE_EQ(far_pa(instrument, 400'000), 10'000);
    EXPECT_DOUBLE_EQ(far_pa(instrument, 2e6), 40'000);
    instrument.mpe_pa = 0;
    instrument.span_low_pa = 0;
    instrument.span_high_pa = 1e7;
    EXPECT_DOUBLE_EQ(far_pa(instrument, 0), 200'000) << "without a permissible error the span tells what is far";
    EXPECT_DOUBLE_EQ(far_pa(instrument, 5e7), 1e6);
}

TEST(Contradiction, AFloatIsContradictedByMoreThanHalfOfThoseThatRead) {
    World world = at_20_bar(StepKind::raise);
    const auto target = point_pa(world);
    const auto channels = wired(world);
    ASSERT_EQ(channels.size(), 3U);
    const auto range = *world.step().range;
    const auto discs = world.state.load->discs;
    const auto contradicting = [&](std::vector<SeenReading> seen) {
        return contradict_float(world.state, seen, range, discs).size();
    };
    auto seen = all_show(world, target);
    EXPECT_EQ(contradicting(seen), 0U);
    seen[0].value_pa = 0;
    EXPECT_EQ(contradicting(seen), 0U) << "one of three is no majority";
    for (auto& one : seen)
        one.value_pa = 0;
    EXPECT_EQ(contradicting(seen), seen.size());
    seen.resize(1);
    EXPECT_EQ(contradicting(seen), 1U) << "one alone speaks for itself";
    EXPECT_EQ(contradicting({}), 0U) << "nobody reads";
}

TEST(Contradiction, AConfirmationFarFromThePointNeedsAReason) {
    World world = at_20_bar(StepKind::raise);
    const auto range = world.planned_range();
    world.seen = all_show(world, 0);
    const auto decision = confirm_float(world.state, world.press(), range);
    ASSERT_FALSE(decision);
    EXPECT_FALSE(decision.error().contradicted.empty());
    EXPECT_NE(decision.error().why.find("is expected"), std::string::npos) << decision.error().why;
    EXPECT_NE(decision.error().why.find("look again, or go on with a reason"), std::string::npos);
    EXPECT_EQ(world.state.open_interval(), nullptr);
    const auto confirm = [&](const Press& press) { return confirm_float(world.state, press, range); };
    EXPECT_NE(insist(world, confirm, "").find("a reason is missing"), std::string::npos);
    EXPECT_EQ(world.state.open_interval(), nullptr);
    EXPECT_EQ(insist(world, confirm, "the gauges are shut off"), "");
    ASSERT_NE(world.state.open_interval(), nullptr);
    ASSERT_EQ(world.state.overruled.size(), 1U);
    const auto& kept = world.state.overruled[0];
    EXPECT_EQ(kept.fact.press, "confirm");
    EXPECT_EQ(kept.fact.reason, "the gauges are shut off");
    EXPECT_EQ(kept.fact.by, "invented person");
    EXPECT_EQ(kept.fact.channels.size(), world.seen.size());
    EXPECT_EQ(kept.fact.shows_pa[0], 0);
    EXPECT_GT(kept.fact.expected_pa[0], 0);
    EXPECT_EQ(kept.interval, world.interval().number);
    ASSERT_FALSE(world.told.empty());
    EXPECT_TRUE(world.told.back().alarm);
    // What is taken back takes its reason with it.
    EXPECT_EQ(world.undo(), "");
    EXPECT_TRUE(world.state.overruled.empty());
    EXPECT_EQ(world.state.open_interval(), nullptr);
}

TEST(Contradiction, APressThatFitsNeedsNoReasonAndKeepsNone) {
    World world = at_20_bar(StepKind::raise);
    const auto range = world.planned_range();
    world.seen = all_show(world, point_pa(world));
    EXPECT_EQ(insist(world, [&](const Press& press) { return confirm_float(world.state, press, range); }), "");
    EXPECT_TRUE(world.state.overruled.empty());
}

TEST(Contradiction, StillFloatsAfterAllReadingsFell) {
    for (const bool close : {false, true}) {
        World world = at_20_bar(StepKind::read);
        world.seen = all_show(world, point_pa(world));
        EXPECT_EQ(world.sighted(false), "");
        world.seen = all_show(world, point_pa(world) / 2);
        const auto until_us = world.interval().expires_us;
        world.pass(1);
        EXPECT_NE(world.sighted(close).find("is expected"), std::string::npos);
        EXPECT_EQ(world.interval().expires_us, until_us) << "it renewed nothing";
        EXPECT_EQ(world.interval().end, IntervalEnd::open);
        EXPECT_EQ(insist(world, [&](const Press& press) { return sight_float(world.state, press, close); }), "");
        EXPECT_EQ(world.state.overruled.size(), 1U);
    }
}

TEST(Contradiction, ALineWithoutPressureIsDeniedByOneInstrument) {
    World world = at_step([](const Step& step) { return step.lets_down; });
    world.seen = all_show(world, 0);
    world.seen[0].value_pa = 5e6;
    const auto done = [&](const Press& press) {
        return step_done(world.state, press, static_cast<std::int64_t>(world.run().step));
    };
    const auto before = world.run().step;
    const auto refusal = world.step_done();
    EXPECT_NE(refusal.find("50.0"), std::string::npos) << refusal;
    EXPECT_EQ(world.run().step, before);
    EXPECT_EQ(insist(world, done, "that gauge hangs"), "");
    EXPECT_EQ(world.run().step, before + 1);
    ASSERT_EQ(world.state.overruled.size(), 1U);
    EXPECT_EQ(world.state.overruled[0].fact.press, "step_done");
    EXPECT_EQ(world.state.overruled[0].fact.channels.size(), 1U);
    EXPECT_EQ(world.state.overruled[0].fact.step, static_cast<std::int64_t>(before));
}

TEST(Contradiction, OtherWorkIsNotHeldAgainstAPressure) {
    World world;
    EXPECT_EQ(world.start(), "");
    world.seen = all_show(world, 5e6);
    ASSERT_EQ(world.at(), StepKind::act);
    ASSERT_FALSE(world.step().lets_down);
    EXPECT_EQ(world.step_done(), "");
}

TEST(Contradiction, APreloadWhoseReadingsFellDoesNotPass) {
    World world = at_step([](const Step& step) { return step.kind == StepKind::raise && !step.visit; });
    const auto range = world.planned_range();
    // Confirmed at zero it went through once; now the first press already asks.
    world.seen = all_show(world, 0);
    EXPECT_NE(world.confirm(range).find("is expected"), std::string::npos);
    EXPECT_EQ(insist(world, [&](const Press& press) { return confirm_float(world.state, press, range); }), "");
    ASSERT_EQ(world.at(), StepKind::wait);
    const auto hold = world.run().step;
    world.pass(world.step().wait_s + 5);
    ASSERT_EQ(world.run().step, hold) << "the hold failed, so that the run waits";
    EXPECT_TRUE(due_facts(world.state, world.now_us, world.seen).empty()) << "and is judged once";
    EXPECT_TRUE(preload_failed(world.run()));
    ASSERT_EQ(world.run().checks.size(), 1U) << "said once";
    EXPECT_FALSE(world.run().checks[0].recorded.passed);
    EXPECT_NE(world.run().checks[0].recorded.words.find("said to float, but"), std::string::npos)
        << world.run().checks[0].recorded.words;
    // Held again with the pressure there it passes.
    world.seen = all_show(world, point_pa(world));
    EXPECT_EQ(world.state_check(""), "");
    EXPECT_FALSE(preload_failed(world.run()));
    world.pass(world.step().wait_s + 0.1);
    EXPECT_EQ(world.run().step, hold + 1);
    EXPECT_TRUE(world.run().checks.back().recorded.passed);
}

TEST(Contradiction, APreloadThatFailedIsGoneOnAfterWithAReason) {
    World world = at_step([](const Step& step) { return step.kind == StepKind::wait && !step.visit; });
    const auto hold = world.run().step;
    world.seen = all_show(world, 0);
    world.pass(world.step().wait_s + 1);
    ASSERT_TRUE(preload_failed(world.run()));
    EXPECT_NE(world.state_check("").find("is expected"), std::string::npos) << "nothing floats there to be held";
    const auto number = static_cast<std::int64_t>(hold);
    EXPECT_EQ(world.does(waive_check(world.state, world.press(), number, "the gauges are shut off")), "");
    EXPECT_EQ(world.run().step, hold + 1);
    EXPECT_EQ(world.run().checks.back().waived_because, "the gauges are shut off");
}

TEST(Contradiction, APreloadWhileItIsHeldIsNotGoneOnAfter) {
    World world = at_step([](const Step& step) { return step.kind == StepKind::wait && !step.visit; });
    const auto number = static_cast<std::int64_t>(world.run().step);
    EXPECT_NE(world.does(waive_check(world.state, world.press(), number, "in a hurry")), "");
}

TEST(Contradiction, AnEntryFarFromThePointNeedsAReason) {
    World world = at_20_bar(StepKind::read);
    const auto& instruments = world.state.bench->instruments;
    const auto dial = static_cast<std::size_t>(
        std::find_if(instruments.begin(), instruments.end(), [](const Instrument& one) { return one.manual(); }) -
        instruments.begin());
    ASSERT_LT(dial, instruments.size());
    world.pass(5);
    const auto marks = world.state.marks.size();
    const auto target_bar = point_pa(world) / 1e5;
    const auto text = [&](double bar) { return fmt::format("{} bar", 10 * std::round(bar / 10)); };
    const auto refusal = world.enter(instruments[dial].name, text(10 * target_bar), text(10 * target_bar));
    EXPECT_NE(refusal.find(instruments[dial].name + " shows"), std::string::npos) << refusal;
    EXPECT_EQ(world.state.marks.size(), marks);
    const auto mistyped = world.enter(instruments[dial].name, text(10 * target_bar), text(target_bar));
    EXPECT_NE(mistyped.find("is expected"), std::string::npos) << "the reading before tapping counts too";
    EXPECT_EQ(world.enter(instruments[dial].name, text(target_bar), text(target_bar)), "");
}

TEST(Contradiction, ALookBeforeTheLastReadingIsRefusedWithHowMuchItWasTooEarly) {
    World world = at_20_bar(StepKind::read);
    const auto channel = wired(world)[0];
    world.pass(5);
    world.still(channel);
    std::string why;
    const auto permit = window_permit(world.state, channel, world.now_us, why);
    ASSERT_TRUE(permit) << why;
    ASSERT_EQ(world.window(channel, std::max(world.now_us, permit->not_before_us + 2000), 0, 400'000), "");
    const auto& taken = world.state.marks.back().taken;
    const auto look = look_at_piston(world.state, world.now_us);
    ASSERT_EQ(look.early.size(), 1U);
    EXPECT_TRUE(look.brackets.empty());
    EXPECT_EQ(look.early[0].mark, taken.mark);
    const auto number = taken.mark;
    EXPECT_EQ(look.early[0].by_us, taken.to_us + taken.timing_us - world.now_us);
    const auto refusal = world.sighted(true);
    EXPECT_NE(refusal.find(fmt::format("400 ms before the last reading of mark {}", number)), std::string::npos)
        << refusal;
    EXPECT_EQ(world.interval().end, IntervalEnd::open);
    EXPECT_EQ(world.mark(number).status, MarkStatus::provisional) << "it may still be bracketed";
    world.pass(0.5);
    EXPECT_EQ(look_at_piston(world.state, world.now_us).brackets, std::vector<std::int64_t>{number});
    EXPECT_EQ(world.sighted(true), "");
    EXPECT_EQ(world.mark(number).status, MarkStatus::sighted);
}

TEST(Contradiction, AWrongLoadIsExpectedFromBracketedMarksAlone) {
    World world = at_20_bar(StepKind::read);
    const auto channel = wired(world)[0];
    // A mark far off that nobody bracketed is no proof of how far the instrument is off.
    world.pass(5);
    world.still(channel);
    const double off_pa = 4 * world.state.bench->instruments[channel].mpe_pa;
    ASSERT_EQ(world.take_mark(channel, off_pa), "");
    EXPECT_EQ(world.lost(), "");
    world.state.marks.back().status = MarkStatus::unbracketed;
    world.pass(1);
    EXPECT_EQ(world.confirm(world.planned_range()), "");
    const auto& instrument = world.state.bench->instruments[channel];
    const double reference_pa = metrology::reference_pressure_pa(
        reference_inputs(*world.state.bench, world.interval().range, world.interval().discs, world.state.conditions.air,
                         world.state.conditions.piston_temperature_c, &instrument));
    const std::vector<SeenReading> right{{channel, reference_pa, 0}};
    EXPECT_FALSE(suspect_wrong_load(world.state, right)) << "the load is right";
    world.state.marks.back().status = MarkStatus::sighted;
    EXPECT_TRUE(suspect_wrong_load(world.state, right)) << "a bracketed mark is expected again";
}

} // namespace
} // namespace stillmark::bench::testing
