#include "bench/world.hpp"
#include "daemon/bench/gates.hpp"
#include "daemon/bench/run_evaluation.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

namespace stillmark::bench::testing {
namespace {

/// A finished run of one invented instrument on the demo's bench: a mark at every visit, off by `deviation_pa`.
struct FinishedRun {
    State state;

    explicit FinishedRun(double deviation_pa = 1000) {
        state.bench = std::make_shared<const BenchFile>(bench_of(demo_bench_text()));
        Run run;
        run.id = "R1";
        run.bench = state.bench;
        run.takes_part = {true, false, false, false};
        run.plan = plan_steps(*state.bench, state.bench->sequences[0]);
        run.end = RunEnd::finished;
        for (std::size_t visit = 0; visit < run.plan.visits.size(); ++visit) {
            const auto& at = run.plan.visits[visit];
            MarkTaken taken;
            taken.mark = static_cast<std::int64_t>(visit) + 1;
            taken.run = run.id;
            taken.visit = static_cast<std::int64_t>(visit);
            taken.reference_pa = state.bench->sequences[0].points[at.point].target_pa;
            taken.mean_pa = taken.reference_pa + deviation_pa;
            taken.deviation_pa = deviation_pa;
            taken.u_reference_pa = 500;
            taken.u_reference_dof = 50;
            taken.u_mean_pa = 10;
            taken.u_mean_dof = 20;
            state.marks.push_back({taken, MarkStatus::sighted, {}});
        }
        state.runs.push_back(std::move(run));
    }

    Run& run() { return state.runs.back(); }
    Mark& mark(std::size_t visit) { return state.marks[visit]; }
    RunEvaluation evaluated() { return evaluate_run(state, run(), 0); }
};

bool says(const RunEvaluation& result, const std::string& what, const std::string& why) {
    const auto& unsaid = result.evaluation.unsaid;
    return std::any_of(unsaid.begin(), unsaid.end(), [&](const metrology::Unsaid& one) {
        return english(one.what).find(what) != std::string::npos &&
               metrology::why_words(one).find(why) != std::string::npos;
    });
}

TEST(RunEvaluation, SentencesSpeakInTheInstrumentsUnit) {
    FinishedRun finished;
    finished.mark(1).taken.reference_pa = 24e5; // named 20 bar
    EXPECT_TRUE(says(finished.evaluated(), "20 bar", "between 20 bar and 24 bar"));
}

TEST(RunEvaluation, EveryPointHasItsDeviationAndItsUncertainty) {
    const auto result = FinishedRun().evaluated();
    ASSERT_EQ(result.evaluation.points.size(), 12U); // 110 bar stands in both ranges
    for (const auto& point : result.evaluation.points) {
        EXPECT_NEAR(point.mean->deviation, 1000, 1e-3) << point.target;
        EXPECT_NEAR(*point.hysteresis, 0, 1e-3);
        EXPECT_GT(*point.mean->u, 500);
    }
    EXPECT_EQ(result.evaluation.points[5].target.substr(0, 7), "110 bar");
    EXPECT_NE(result.evaluation.points[5].target, result.evaluation.points[6].target);
}

// JCGM 100:2008, table G.2: 2.28 for ten degrees of freedom, of two equal shares of five.
TEST(RunEvaluation, AMarksDegreesOfFreedomAreInTheCoverageFactor) {
    FinishedRun finished;
    for (auto& mark : finished.state.marks) {
        mark.taken.u_reference_pa = 1e-3;
        mark.taken.u_mean_pa = 1e6;
        mark.taken.u_mean_dof = 5;
    }
    const auto result = finished.evaluated();
    EXPECT_NEAR(result.evaluation.points[3].mean->k, 2.28, 0.005);
    EXPECT_NEAR(result.evaluation.points[3].up->k, 2.65, 0.005);
}

TEST(RunEvaluation, NoUncertaintyBelowWhatTheLaboratoryIsCapableOf) {
    const auto with_capability = [](double constant_pa) {
        FinishedRun finished;
        auto bench = *finished.state.bench;
        bench.capability = {{.from_pa = 0, .to_pa = 1e8, .constant_pa = constant_pa, .of_pressure = 1e-4, .k = 2}};
        finished.state.bench = std::make_shared<const BenchFile>(std::move(bench));
        finished.run().bench = finished.state.bench;
        return finished.evaluated();
    };
    for (const auto& point : with_capability(1e6).evaluation.points) {
        EXPECT_TRUE(point.mean->at_capability) << point.target;
        EXPECT_NEAR(*point.mean->expanded, 1e6 + 1e-4 * point.reference, 1e-3) << point.target;
    }
    for (const auto& point : with_capability(1).evaluation.points)
        EXPECT_EQ(point.mean->at_capability, *point.mean->expanded <= 1 + 1e-4 * point.reference) << point.target;
}

TEST(RunEvaluation, OnlySightedMarksCountAndTheOthersAreNamed) {
    FinishedRun finished;
    finished.mark(1).status = MarkStatus::voided;
    finished.mark(1).why = "the cable was touched";
    finished.mark(2).status = MarkStatus::unbracketed;
    const auto result = finished.evaluated();
    EXPECT_TRUE(says(result, "20 bar, rising", "the cable was touched"));
    EXPECT_TRUE(says(result, "40 bar, rising", "unbracketed"));
    EXPECT_TRUE(says(result, "20 bar, rising", "missing"));
    EXPECT_FALSE(result.evaluation.points[1].up.has_value());
    EXPECT_TRUE(result.evaluation.points[1].down.has_value());
}

TEST(RunEvaluation, AMarkVoidedAfterTheFactIsOutOfTheResult) {
    FinishedRun finished;
    finished.mark(3).taken.mean_pa += 1e6;
    EXPECT_GT(*finished.evaluated().evaluation.largest_deviation, 9e5);
    apply(finished.state, {1, 1, MarkVoided{4, "read too early", "invented person"}});
    EXPECT_LT(*finished.evaluated().evaluation.largest_deviation, 2000);
}

TEST(RunEvaluation, TheOverlapPointProvesTheBalance) {
    FinishedRun finished;
    const auto good = finished.evaluated();
    ASSERT_EQ(good.overlaps.size(), 2U); // rising and falling
    for (const auto& one : good.overlaps) {
        EXPECT_EQ(one.finding(), OverlapFinding::agree);
        EXPECT_NEAR(one.en, 0, 1e-6);
        // Two areas of 12 and 15 ppm, their drifts, and more: over 20 ppm of 110 bar, expanded.
        EXPECT_GT(one.expanded_pa, 2 * 20e-6 * 110e5);
        EXPECT_LT(one.expanded_pa, 2 * 60e-6 * 110e5);
    }
    finished.mark(6).taken.deviation_pa += 2 * good.overlaps[0].expanded_pa;
    EXPECT_NEAR(finished.evaluated().overlaps[0].en, 2, 1e-6);
    EXPECT_EQ(finished.evaluated().overlaps[0].finding(), OverlapFinding::differ);
}

TEST(RunEvaluation, ACoarseInstrumentProvesNothing) {
    FinishedRun finished;
    auto bench = std::make_shared<BenchFile>(*finished.state.bench);
    bench->instruments[0].resolution_pa = 2e5;
    finished.run().bench = bench;
    EXPECT_EQ(finished.evaluated().overlaps[0].finding(), OverlapFinding::too_coarse);
    // Also where the difference is larger than its uncertainty: what is hidden is hidden.
    finished.mark(6).taken.deviation_pa += 3 * finished.evaluated().overlaps[0].expanded_pa;
    EXPECT_GT(finished.evaluated().overlaps[0].en, 1);
    EXPECT_EQ(finished.evaluated().overlaps[0].finding(), OverlapFinding::too_coarse);
}

// 2 bar of 900 bar is a pressure like any other: only an open line makes a zero.
TEST(RunEvaluation, TheLowestPointIsNoZero) {
    const auto result = FinishedRun().evaluated();
    EXPECT_FALSE(result.evaluation.points.front().zero);
    EXPECT_FALSE(result.evaluation.zero_deviation.has_value());
    EXPECT_TRUE(says(result, "zero deviation", "no zero was read"));
}

metrology::Evaluation judged(FinishedRun& finished) {
    auto bench = std::make_shared<BenchFile>(*finished.run().bench);
    bench->instruments[0].decision = metrology::DecisionRule{};
    bench->instruments[0].permissible = metrology::PermissibleError{
        {{metrology::PermissibleTerm::Kind::absolute, 1e5, 0}}, false, {}, false, metrology::as_written("1 bar")};
    finished.run().bench = bench;
    return finished.evaluated().evaluation;
}

// ISO/IEC 17025:2017, 7.8.6: a verdict is about results that are there.
TEST(RunEvaluation, WhatHasNoMarkThatStandsIsNotPassed) {
    FinishedRun finished;
    const auto whole = judged(finished);
    EXPECT_EQ(whole.verdict, metrology::Verdict::pass);
    EXPECT_NE(english(whole.verdict_covers).find("12 points from 2 bar to 900 bar, rising and falling"),
              std::string::npos)
        << english(whole.verdict_covers);
    finished.mark(1).status = MarkStatus::unbracketed;
    EXPECT_FALSE(judged(finished).verdict.has_value());
    FinishedRun running;
    running.run().end = RunEnd::running;
    EXPECT_FALSE(judged(running).verdict.has_value());
    EXPECT_EQ(english(judged(running).unsaid.back().why),
              "it would not cover what is asked for: the run is not finished");
}

TEST(RunEvaluation, PointsNotReachedYetAreNotMissing) {
    FinishedRun finished;
    finished.run().end = RunEnd::running;
    finished.state.marks.resize(3);
    EXPECT_FALSE(says(finished.evaluated(), "", "missing"));
    EXPECT_EQ(finished.evaluated().evaluation.points.size(), 3U);
}

TEST(RunEvaluation, VerdictsByTheRuleOfTheBenchFile) {
    FinishedRun finished(0.4e5);
    const auto judged_by = [&](metrology::DecisionRule rule) {
        BenchFile bench = *finished.state.bench;
        bench.instruments[0].decision = rule;
        finished.run().bench = std::make_shared<const BenchFile>(bench);
        return finished.evaluated().evaluation.verdict;
    };
    EXPECT_FALSE(finished.evaluated().evaluation.verdict.has_value() && !finished.run().bench->instruments[0].decision);
    EXPECT_EQ(judged_by({}), metrology::Verdict::pass); // 0.4 bar of 0.5 bar
    metrology::DecisionRule strict{metrology::Rule::guard_band};
    strict.guard_factor = 1;
    finished.mark(0).taken.u_reference_pa = 2e4;
    EXPECT_EQ(judged_by(strict), metrology::Verdict::fail);
}

TEST(Gates, RangesThatDisagreeHoldTheSignature) {
    FinishedRun finished;
    const auto disagreements = [&finished] {
        auto gates = gates_before_signature(finished.state, {"R1"}, finished.state.bench->instruments[0].name);
        std::erase_if(gates, [](const Gate& one) { return one.code != GateCode::overlap_disagrees; });
        return gates;
    };
    EXPECT_TRUE(disagreements().empty());
    const auto proof = finished.evaluated().overlaps.at(0);
    finished.mark(static_cast<std::size_t>(proof.mark_high - 1)).taken.deviation_pa += 2 * proof.expanded_pa;
    const auto gates = disagreements();
    ASSERT_EQ(gates.size(), 1U);
    EXPECT_EQ(gates[0].subject, std::to_string(proof.mark_low) + "+" + std::to_string(proof.mark_high));
    EXPECT_NE(english(gates[0]).find("E_n 2.00"), std::string::npos) << english(gates[0]);
    EXPECT_TRUE(gates[0].overridable);
}

TEST(Gates, AnInstrumentThatIsTooCoarseSaysNothingAgainstTheRanges) {
    FinishedRun finished;
    auto bench = std::make_shared<BenchFile>(*finished.state.bench);
    bench->instruments[0].resolution_pa = 2e5;
    finished.run().bench = bench;
    const auto proof = finished.evaluated().overlaps.at(0);
    finished.mark(static_cast<std::size_t>(proof.mark_high - 1)).taken.deviation_pa += 2 * proof.expanded_pa;
    EXPECT_EQ(finished.evaluated().overlaps.at(0).finding(), OverlapFinding::too_coarse);
    for (const auto& gate : gates_before_signature(finished.state, {"R1"}, bench->instruments[0].name))
        EXPECT_NE(gate.code, GateCode::overlap_disagrees) << english(gate);
}

} // namespace
} // namespace stillmark::bench::testing
