// The reference of a zero: the air and what fills the line, and nothing of a balance.
#include "daemon/metrology/reference_components.hpp"
#include "daemon/metrology/vented_line.hpp"
#include "metrology/invented_balance.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <set>

namespace stillmark::metrology {
namespace {

constexpr std::array kinds{PressureKind::gauge, PressureKind::absolute, PressureKind::sealed};

VentedLine line_with(PressureKind counted_from, std::vector<HeadSegment> head) {
    const ReferenceInputs balance = invented_inputs();
    VentedLine line;
    line.site = balance.site;
    line.air = balance.air;
    line.line_temperature_c = balance.piston_temperature_c;
    line.head = std::move(head);
    line.counted_from = counted_from;
    line.sealed_reference_pa = {.value = 101000, .u = 30};
    return line;
}

Gas nitrogen() {
    Gas gas;
    gas.name = "nitrogen";
    gas.molar_mass_kg_mol = {.value = 28.0134e-3, .u = 1e-6};
    gas.density_error.u = gas_density_relative_u;
    return gas;
}

HeadSegment oil(double height_m, double u_m = 1e-3) {
    return {invented_inputs().liquid, {.value = height_m, .u = u_m}};
}

const BudgetLine* line_named(const ReferencePressure& p, const std::string& input) {
    const auto found =
        std::find_if(p.budget.begin(), p.budget.end(), [&](const auto& one) { return one.input == input; });
    return found == p.budget.end() ? nullptr : &*found;
}

TEST(VentedLine, AtTheSameLevelTheReferenceIsTheAirAlone) {
    const auto gauge = vented_pressure(line_with(PressureKind::gauge, {}));
    EXPECT_EQ(gauge.at_instrument_pa, 0);
    EXPECT_EQ(gauge.u_pa, 0);
    const auto absolute = vented_pressure(line_with(PressureKind::absolute, {}));
    EXPECT_EQ(absolute.at_instrument_pa, 96800) << "968 hPa";
    EXPECT_DOUBLE_EQ(absolute.u_pa, 100) << "the barometer's, and nothing beside it";
    const auto sealed = vented_pressure(line_with(PressureKind::sealed, {}));
    EXPECT_EQ(sealed.at_instrument_pa, 96800 - 101000);
    EXPECT_DOUBLE_EQ(sealed.u_pa, std::hypot(100, 30));
}

TEST(VentedLine, NoTermOfABalanceIsInItsBudget) {
    const std::set<std::string> of_air_and_line{"air temperature",
                                                "air pressure",
                                                "humidity",
                                                "equation of the air density",
                                                "sealed reference pressure",
                                                "temperature of the line",
                                                "gravity on the line",
                                                "height of head segment 1",
                                                "height of head segment 2",
                                                "density of the liquid",
                                                "molar mass of nitrogen",
                                                "equation of state of nitrogen"};
    for (const PressureKind kind : kinds) {
        const auto p = vented_pressure(line_with(kind, {oil(0.3), {{}, {.value = 0.2, .u = 1e-3}, nitrogen()}}));
        for (const BudgetLine& one : p.budget)
            EXPECT_TRUE(of_air_and_line.contains(one.input)) << one.input;
        EXPECT_EQ(p.area_m2, 0);
    }
}

// By hand: (rho_f - rho_a) g h of the oil at 21.3 degC and no pressure; the air's own column beside it.
TEST(VentedLine, TheHeadOfAFilledLineStays) {
    const ReferenceInputs balance = invented_inputs();
    const double rho_air = air_density(balance.air).kg_m3, g = balance.site.gravity_m_s2.value;
    const double rho_oil = 865 * (1 - 7e-4 * (21.3 - balance.liquid.reference_temperature_c));
    const double gauge_pa = (rho_oil - rho_air) * g * 0.085;
    EXPECT_NEAR(vented_pressure(line_with(PressureKind::gauge, {oil(0.085)})).at_instrument_pa, gauge_pa, 1e-9);
    EXPECT_NEAR(vented_pressure(line_with(PressureKind::absolute, {oil(0.085)})).at_instrument_pa,
                96800 + rho_oil * g * 0.085, 1e-4);
    const auto p = vented_pressure(line_with(PressureKind::gauge, {oil(0.085)}));
    ASSERT_NE(line_named(p, "height of head segment 1"), nullptr);
    EXPECT_NEAR(line_named(p, "height of head segment 1")->contribution_pa, (rho_oil - rho_air) * g * 1e-3, 1e-9);
    EXPECT_NEAR(line_named(p, "density of the liquid")->contribution_pa, 4.3 * rho_oil / 865 * g * 0.085, 1e-9);
}

TEST(VentedLine, AtZeroHeightALineAddsItsLevelsUncertaintyAndNothingElse) {
    const auto p = vented_pressure(line_with(PressureKind::gauge, {oil(0, 1e-3)}));
    EXPECT_EQ(p.at_instrument_pa, 0);
    const double per_metre = vented_pressure_pa(line_with(PressureKind::gauge, {oil(1)}));
    EXPECT_NEAR(p.u_pa, per_metre * 1e-3, 1e-6);
    EXPECT_EQ(line_named(p, "gravity on the line"), nullptr);
}

// By hand: p exp(rho/p g h); published figure for the sense: S. A. Thulin, Bulletin de l'OIML 123 (1991), 12 Pa a
// metre.
TEST(VentedLine, TheBarometersReadingIsBroughtToTheLevelMark) {
    VentedLine line = line_with(PressureKind::absolute, {});
    line.air.barometer_height_m = {.value = 3.5, .u = 0.05};
    const double per_metre = air_density(line.air).kg_m3 * line.site.gravity_m_s2.value;
    const auto p = vented_pressure(line);
    EXPECT_NEAR(p.at_instrument_pa, 96800 * std::exp(per_metre / 96800 * 3.5), 1e-8);
    EXPECT_NEAR(p.at_instrument_pa - 96800, 12 * 3.5, 3) << "a barometer that hangs higher reads less";
    ASSERT_NE(line_named(p, "level of the barometer"), nullptr);
    EXPECT_NEAR(line_named(p, "level of the barometer")->contribution_pa, per_metre * 0.05, 1e-3);
    // A load's absolute reference sees the same air.
    ReferenceInputs load = invented_inputs();
    load.head.clear();
    load.counted_from = PressureKind::absolute;
    const double before_pa = reference_pressure_pa(load);
    load.air.barometer_height_m = {.value = 3.5, .u = 0.05};
    EXPECT_NEAR(reference_pressure_pa(load) - before_pa, p.at_instrument_pa - 96800, 6)
        << "buoyancy differs by a little";
    EXPECT_GT(reference_pressure_pa(load) - before_pa, 30);
}

/// Every component by the budget against the same component moved both ways by its u.
TEST(VentedLine, DerivativesMeetCentralDifferences) {
    for (const PressureKind kind : kinds) {
        VentedLine line = line_with(kind, {oil(0.3), {{}, {.value = -0.4, .u = 2e-3}, nitrogen()}});
        line.air.barometer_height_m = {.value = -1.2, .u = 0.02};
        const ReferencePressure p = vented_pressure(line);
        auto values = values_of<double>(line);
        const auto inventory = list_inputs(line, values);
        ASSERT_EQ(inventory.components().size(), p.budget.size());
        for (const auto& component : inventory.components()) {
            const auto moved_pa = [&](double by) {
                for (const auto& member : component.members)
                    *member.place = member.input.value + by * member.input.u;
                settle_air(values);
                return instrument_pressure_pa(values);
            };
            const double expected = (8 * (moved_pa(0.5) - moved_pa(-0.5)) - (moved_pa(1) - moved_pa(-1))) / 6;
            (void)moved_pa(0);
            ASSERT_NE(line_named(p, component.name), nullptr) << component.name;
            EXPECT_NEAR(line_named(p, component.name)->contribution_pa, expected, 2e-9 + 1e-6 * std::abs(expected))
                << component.name;
        }
    }
}

TEST(VentedLine, CorrectionsSumAndTheValueAloneIsTheSame) {
    for (const PressureKind kind : kinds) {
        const VentedLine line = line_with(kind, {oil(0.3)});
        const ReferencePressure p = vented_pressure(line);
        double sum = p.nominal_pa;
        for (const Correction& one : p.corrections)
            sum += one.pa;
        EXPECT_NEAR(sum, p.at_instrument_pa, 1e-9);
        EXPECT_EQ(p.at_instrument_pa, vented_pressure_pa(line));
    }
}

} // namespace
} // namespace stillmark::metrology
