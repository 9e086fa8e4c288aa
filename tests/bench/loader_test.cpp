#include "bench/world.hpp"
#include "daemon/bench/bench_file.hpp"
#include "daemon/metrology/gravity.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace stillmark::bench::testing {
namespace {

// Values are asked of the text by hand: a wrong factor in the loader cannot be shared.
TEST(DemoBench, ArrivesInSi) {
    const BenchFile bench = bench_of(demo_bench_text());
    EXPECT_EQ(bench.name, "Demo bench (invented)");
    EXPECT_EQ(bench.laboratory, "Invented Pressure Laboratory, Nowhere");
    EXPECT_DOUBLE_EQ(bench.site.gravity_m_s2.value, 9.80731);
    EXPECT_DOUBLE_EQ(bench.site.gravity_m_s2.u, 2e-5);

    const auto& balance = bench.balance;
    EXPECT_EQ(balance.kind, metrology::DualRange::stopped);
    EXPECT_EQ(balance.level_mark, "the engraved line on the balance's column");
    EXPECT_DOUBLE_EQ(balance.liquid.density_kg_m3.value, 865);
    EXPECT_DOUBLE_EQ(balance.liquid.density_kg_m3.u, 865 * 0.01 / 2);
    EXPECT_DOUBLE_EQ(balance.liquid.reference_temperature_c, 20);
    EXPECT_DOUBLE_EQ(balance.liquid.expansion_per_k, 7.0e-4);
    EXPECT_DOUBLE_EQ(balance.liquid.compressibility_per_pa, 6.5e-10);
    EXPECT_DOUBLE_EQ(balance.liquid.surface_tension_n_per_m.value, 0.0305);
    EXPECT_DOUBLE_EQ(balance.liquid.surface_tension_n_per_m.u, 0.003 / std::numbers::sqrt3);
    EXPECT_DOUBLE_EQ(balance.settle_guard_s, 0.6);
    EXPECT_DOUBLE_EQ(balance.loss_guard_s, 0.5);
    EXPECT_DOUBLE_EQ(balance.stop_piston_mass_kg, 0.8);

    ASSERT_EQ(balance.ranges.size(), 2U);
    const auto& low = balance.ranges[0];
    EXPECT_EQ(low.physics.name, "low");
    EXPECT_DOUBLE_EQ(low.lowest_pa, 2e5);
    EXPECT_DOUBLE_EQ(low.highest_pa, 110e5);
    EXPECT_DOUBLE_EQ(low.physics.area_m2.value, 98.07e-6);
    EXPECT_DOUBLE_EQ(low.physics.area_m2.u, 98.07e-6 * 12e-6);
    EXPECT_DOUBLE_EQ(low.physics.area_drift.value, 0);
    EXPECT_DOUBLE_EQ(low.physics.area_drift.u, 25e-6 / std::numbers::sqrt3);
    EXPECT_DOUBLE_EQ(low.physics.reference_temperature_c, 20);
    EXPECT_DOUBLE_EQ(low.physics.thermal_expansion_per_k.value, 16.5e-6);
    EXPECT_DOUBLE_EQ(low.physics.distortion_per_pa.value, 2.6e-12);
    EXPECT_DOUBLE_EQ(low.physics.distortion_per_pa.u, 0.3e-12 / std::numbers::sqrt3);
    EXPECT_DOUBLE_EQ(low.physics.circumference_m.value, 0.0351);
    EXPECT_DOUBLE_EQ(low.physics.tilt_rad.u, 0.8e-3 / std::numbers::sqrt3);
    EXPECT_DOUBLE_EQ(low.physics.reference_level_m.u, 0.5e-3);
    EXPECT_DOUBLE_EQ(low.physics.float_height_m.u, 4e-3 / std::numbers::sqrt3);
    EXPECT_DOUBLE_EQ(low.float_band_m, 8e-3);
    EXPECT_DOUBLE_EQ(low.fall_rate_m_per_s, 0.6e-3 / 60);
    EXPECT_DOUBLE_EQ(low.spin_time_s, 240);
    EXPECT_EQ(low.valves.size(), 2U);
    ASSERT_EQ(low.physics.floating_parts.size(), 2U);
    EXPECT_DOUBLE_EQ(low.physics.floating_parts[0].mass_kg.value, 0.8);
    EXPECT_DOUBLE_EQ(low.physics.floating_parts[0].mass_kg.u, 4e-6);
    EXPECT_FALSE(low.physics.floating_parts[0].conventional);
    EXPECT_DOUBLE_EQ(low.physics.floating_parts[1].density_kg_m3.u, 80 / std::numbers::sqrt3);
    EXPECT_EQ(balance.ranges[1].physics.floating_parts.size(), 1U);
    EXPECT_DOUBLE_EQ(balance.ranges[1].highest_pa, 920e5);

    ASSERT_EQ(bench.discs.size(), 18U);
    EXPECT_EQ(bench.discs[0].piece.name, "A1");
    EXPECT_TRUE(bench.discs[0].piece.conventional);
    EXPECT_TRUE(bench.discs[0].two_hands);
    EXPECT_FALSE(bench.discs[17].two_hands);
    EXPECT_DOUBLE_EQ(bench.discs[17].piece.mass_kg.value, 0.1);
    EXPECT_DOUBLE_EQ(bench.discs[17].piece.mass_kg.u, 0.5e-6);
    EXPECT_DOUBLE_EQ(bench.discs[17].piece.density_kg_m3.value, 7920);
    // All discs are of one certificate, so their masses are correlated.
    EXPECT_EQ(bench.discs[0].piece.group, bench.discs[17].piece.group);
    EXPECT_FALSE(bench.discs[0].piece.group.empty());
    EXPECT_NE(bench.discs[0].piece.group, low.physics.floating_parts[0].group);

    EXPECT_EQ(bench.weakest().part, "high-pressure hose");
    EXPECT_DOUBLE_EQ(bench.weakest().rating_pa, 1000e5);
    EXPECT_DOUBLE_EQ(bench.surroundings.valid_s, 4 * 3600);
    EXPECT_DOUBLE_EQ(bench.surroundings.air.temperature_c.value, 21.5);
    EXPECT_DOUBLE_EQ(bench.surroundings.air.temperature_c.u, 0.5 / std::numbers::sqrt3);
    EXPECT_DOUBLE_EQ(bench.surroundings.air.pressure_pa.value, 96800);
    EXPECT_DOUBLE_EQ(bench.surroundings.air.humidity.value, 0.45);
    EXPECT_DOUBLE_EQ(bench.surroundings.air.humidity.u, 0.1 / std::numbers::sqrt3);
    EXPECT_DOUBLE_EQ(bench.surroundings.piston_temperature_c.value, 21.3);
    EXPECT_DOUBLE_EQ(bench.surroundings.drift_k, 1);

    const auto* rtu = std::get_if<ModbusRtuBus>(&bench.buses.at(0).wire);
    ASSERT_NE(rtu, nullptr);
    EXPECT_EQ(rtu->line.baud, 38400);
    EXPECT_EQ(rtu->line.parity, protocols::Parity::even);
    ASSERT_TRUE(std::holds_alternative<ModbusTcpBus>(bench.buses.at(1).wire));
    EXPECT_EQ(std::get<ModbusTcpBus>(bench.buses.at(1).wire).to.port, 15021);
    EXPECT_TRUE(std::holds_alternative<TextTcpBus>(bench.buses.at(2).wire));

    const auto& a = bench.instruments.at(0);
    EXPECT_EQ(a.bus, 0U);
    EXPECT_EQ(a.server, 7);
    EXPECT_DOUBLE_EQ(a.span_high_pa, 1000e5);
    EXPECT_DOUBLE_EQ(a.mpe_pa, 0.5e5);
    // Lower than the balance is positive: a lower instrument sees more.
    ASSERT_EQ(a.head.size(), 1U);
    EXPECT_DOUBLE_EQ(a.head[0].height_m.value, 0.085);
    EXPECT_DOUBLE_EQ(a.head[0].height_m.u, 0.001);
    EXPECT_DOUBLE_EQ(a.head[0].liquid.density_kg_m3.value, 865);
    EXPECT_DOUBLE_EQ(a.poll_s, 0.05);
    EXPECT_DOUBLE_EQ(a.latency_s, 0.002);
    EXPECT_DOUBLE_EQ(a.resolution_pa, 100);
    EXPECT_DOUBLE_EQ(a.limits.window_s, 1.6);
    EXPECT_DOUBLE_EQ(a.limits.hold_s, 0.6);
    EXPECT_DOUBLE_EQ(a.limits.drift_limit_pa, 2500);   // 0.05 MPE
    EXPECT_DOUBLE_EQ(a.limits.scatter_limit_pa, 5000); // 0.1 MPE
    EXPECT_DOUBLE_EQ(bench.instruments.at(2).head[0].height_m.value, -0.120);
    EXPECT_DOUBLE_EQ(bench.instruments.at(2).limits.drift_limit_pa, 1e4); // 2 q of 0.05 bar is more than 0.05 MPE
    const auto& dial = bench.instruments.at(3);
    EXPECT_TRUE(dial.manual());
    EXPECT_DOUBLE_EQ(dial.resolution_pa, 10e5 / 5);

    const auto& sequence = bench.sequences.at(0);
    EXPECT_EQ(sequence.points.size(), 12U);
    ASSERT_EQ(sequence.series.size(), 2U);
    EXPECT_EQ(sequence.series[0].direction, Direction::rising);
    EXPECT_EQ(sequence.series[1].direction, Direction::falling);
    EXPECT_EQ(sequence.series[1].points.size(), sequence.points.size());
    EXPECT_EQ(sequence.preloads, 1);
    EXPECT_DOUBLE_EQ(sequence.preload_hold_s, 1);
    EXPECT_DOUBLE_EQ(sequence.wait_s, 0.5);
    EXPECT_DOUBLE_EQ(sequence.wait_at_top_s, 1);
    EXPECT_DOUBLE_EQ(sequence.points[1].target_pa, 20e5);
    EXPECT_EQ(sequence.points[1].target, "20 bar");
    EXPECT_EQ(sequence.points[1].range, 0U);
    // Big below small, whatever order the file has: A1 (10 kg), B1 (5 kg), C1, D1.
    EXPECT_EQ(sequence.points[1].discs, (std::vector<std::size_t>{0, 10, 11, 13}));
    EXPECT_TRUE(sequence.points[5].overlap && sequence.points[6].overlap);
}

TEST(BenchFile, LatitudeAndHeightInsteadOfAMeasuredGravity) {
    const BenchFile bench = bench_of(small_bench_text({{R"("gravity": {"value": "9.80731 m/s2", "u": "0.00002 m/s2"})",
                                                        R"("latitude": "48.1 deg", "height": "430 m")"}}));
    const auto expected = metrology::gravity_from_position(48.1 * std::numbers::pi / 180, 430);
    EXPECT_DOUBLE_EQ(bench.site.gravity_m_s2.value, expected.value);
    EXPECT_NEAR(bench.site.gravity_m_s2.value, 9.8077, 5e-4);
    EXPECT_DOUBLE_EQ(bench.site.gravity_m_s2.u, expected.u);
}

TEST(BenchFile, AHeadInSegments) {
    const BenchFile bench =
        bench_of(small_bench_text({{R"("instrument_level": "86 mm below balance")",
                                    R"("head": [{"liquid": "balance", "height": "200 mm down", "u": "2 mm"},
                      {"liquid": {"density": "998 kg/m3"}, "height": "50 mm up"}])"}}));
    const auto& head = bench.instruments[1].head;
    ASSERT_EQ(head.size(), 2U);
    EXPECT_DOUBLE_EQ(head[0].height_m.value, 0.2);
    EXPECT_DOUBLE_EQ(head[0].height_m.u, 0.002);
    EXPECT_DOUBLE_EQ(head[0].liquid.density_kg_m3.value, 865);
    EXPECT_DOUBLE_EQ(head[1].height_m.value, -0.05);
    EXPECT_DOUBLE_EQ(head[1].liquid.density_kg_m3.value, 998);
}

TEST(BenchFile, UncertaintiesInEveryForm) {
    const auto area = [](const std::string& words) {
        return bench_of(small_bench_text(
                            {{R"("area": {"value": "98.07 mm2", "U": "24 ppm", "k": 2})", "\"area\": " + words}}))
            .balance.ranges[0]
            .physics.area_m2;
    };
    EXPECT_DOUBLE_EQ(area(R"({"value": "98.07 mm2", "u": "12 ppm"})").u, 98.07e-6 * 12e-6);
    EXPECT_DOUBLE_EQ(area(R"({"value": "98.07 mm2", "u": "0.001 mm2", "dof": 12})").u, 1e-9);
    EXPECT_DOUBLE_EQ(area(R"({"value": "98.07 mm2", "u": "0.001 mm2", "dof": 12})").dof, 12);
    EXPECT_TRUE(std::isinf(area(R"({"value": "98.07 mm2", "u": "0.001 mm2"})").dof));
    EXPECT_DOUBLE_EQ(area(R"({"value": "98.07 mm2", "U": "0.1 %", "k": 2.5})").u, 98.07e-6 * 1e-3 / 2.5);
    EXPECT_DOUBLE_EQ(area(R"({"value": "98.07 mm2", "limits": "24 ppm"})").u, 98.07e-6 * 24e-6 / std::numbers::sqrt3);
    EXPECT_DOUBLE_EQ(area(R"({"value": "98.07 mm2", "limits": "24 ppm", "distribution": "triangular"})").u,
                     98.07e-6 * 24e-6 / std::sqrt(6.0));
    EXPECT_DOUBLE_EQ(area(R"({"value": "98.07 mm2", "limits": "24 ppm", "distribution": "arcsine"})").u,
                     98.07e-6 * 24e-6 / std::numbers::sqrt2);
    EXPECT_DOUBLE_EQ(area(R"("98.07 mm2")").u, 0);
}

TEST(BenchFile, ALevelBelowTheMarkIsNegative) {
    const BenchFile bench =
        bench_of(small_bench_text({{R"({"above_mark": "1 mm", "u": "0.5 mm"})", R"({"below_mark": "2.5 mm"})"}}));
    EXPECT_DOUBLE_EQ(bench.balance.ranges[0].physics.reference_level_m.value, -0.0025);
    EXPECT_DOUBLE_EQ(bench_of(small_bench_text()).balance.ranges[0].physics.reference_level_m.value, 0.001);
}

TEST(BenchFile, AnInstrumentsOwnRatingMayBeTheLowest) {
    const BenchFile bench = bench_of(small_bench_text({{R"({"part": "high-pressure hose", "rating": "1000 bar"})",
                                                        R"({"part": "high-pressure hose", "rating": "5000 bar"})"}}));
    EXPECT_EQ(bench.weakest().part, "dial D");
    EXPECT_DOUBLE_EQ(bench.weakest().rating_pa, 1100e5);
}

TEST(BenchFile, ALimitOfTheFileStandsBeforeTheDefault) {
    const BenchFile bench = bench_of(small_bench_text(
        {{R"("poll": "51 ms")",
          R"("poll": "51 ms", "drift_limit": "0.2 bar", "scatter_limit": "0.3 bar", "least_readings": 20)"}}));
    EXPECT_DOUBLE_EQ(bench.instruments[1].limits.drift_limit_pa, 2e4);
    EXPECT_DOUBLE_EQ(bench.instruments[1].limits.scatter_limit_pa, 3e4);
    EXPECT_EQ(bench.instruments[1].limits.least_readings, 20);
    EXPECT_DOUBLE_EQ(bench.instruments[1].limits.window_s, 3);
    EXPECT_DOUBLE_EQ(bench.instruments[1].limits.hold_s, 3)
        << "the hold is as long as the window unless it is shortened";
}

TEST(BenchFile, TheRevisionFollowsEveryByteOfItsTexts) {
    const auto text = small_bench_text();
    auto profiles = profile_texts();
    const auto revision = bench_from_texts("a.json", text, profiles)->revision;
    EXPECT_EQ(bench_from_texts("elsewhere/b.json", text, profiles)->revision, revision);
    EXPECT_NE(bench_from_texts("a.json", text + " ", profiles)->revision, revision);
    profiles["invented-dial-gauge.json"] += "\n";
    EXPECT_NE(bench_from_texts("a.json", text, profiles)->revision, revision);
}

TEST(ElectricalOutput, IsReadAsAPressureAndItsResultsAreInTheUnitOfTheSpan) {
    const auto bench = bench_of(small_bench_text({
        {R"("profile": "invented-digital-gauge.json",)",
         R"("profile": "invented-milliammeter.json", "output": ["4 mA", "20 mA"],)"},
    }));
    const auto& instrument = bench.instruments[2];
    EXPECT_EQ(instrument.profile.unit.symbol, "mA");
    EXPECT_EQ(instrument.unit.symbol, "bar");
    EXPECT_NEAR(instrument.profile.unit.to_pa(12), 500e5, 1e-3);
    EXPECT_NEAR(instrument.resolution_pa, 1000e5 * 0.001 / 16, 1e-6);
    EXPECT_EQ(bench.instruments[0].unit.symbol, bench.instruments[0].profile.unit.symbol);
}

/// The demo's bench with other words for the permissible error of its first instrument, and no decision rule there.
BenchFile with_mpe(const std::string& words) {
    std::string text = demo_bench_text();
    const std::string old = "\"mpe\": \"0.05 % of span\", \"decision_rule\": {\"rule\": \"guard band\"}";
    text.replace(text.find(old), old.size(), words);
    return bench_of(text);
}

TEST(Loader, PermissibleErrorsInAllTheirWordsAndTheirSingleFigure) {
    EXPECT_DOUBLE_EQ(with_mpe("\"mpe\": \"0.6 bar\"").instruments[0].mpe_pa, 0.6e5);
    EXPECT_DOUBLE_EQ(with_mpe("\"mpe\": \"class 0.1\"").instruments[0].mpe_pa, 1e5);
    // Of reading: what is permitted at a tenth of the span.
    const auto of_reading = with_mpe("\"mpe\": \"0.5 % of reading\"").instruments[0];
    EXPECT_DOUBLE_EQ(of_reading.mpe_pa, 0.5e5);
    EXPECT_DOUBLE_EQ(metrology::permissible_at(*of_reading.permissible, 400e5, 0, 1000e5), 2e5);
    EXPECT_DOUBLE_EQ(with_mpe("\"mpe\": {\"larger_of\": [\"0.1 % of reading\", \"0.2 bar\"]}").instruments[0].mpe_pa,
                     0.2e5);
}

TEST(Loader, TheDecisionRuleOfAnInstrument) {
    EXPECT_FALSE(bench_of(small_bench_text()).instruments[1].decision.has_value());
    const auto rule =
        with_mpe("\"mpe\": \"0.6 bar\", \"decision_rule\": {\"rule\": \"global risk\", \"risk\": \"2 %\", "
                 "\"process\": {\"sd\": \"0.3 bar\"}}")
            .instruments[0]
            .decision;
    ASSERT_TRUE(rule.has_value());
    EXPECT_EQ(rule->rule, metrology::Rule::global_risk);
    EXPECT_DOUBLE_EQ(rule->risk, 0.02);
    EXPECT_DOUBLE_EQ(rule->process->sd, 0.3e5);
}

} // namespace
} // namespace stillmark::bench::testing
