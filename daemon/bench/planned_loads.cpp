#include "daemon/bench/planned_loads.hpp"

#include "daemon/bench/pressure_of_mass.hpp"
#include "daemon/metrology/dual_range.hpp"
#include "daemon/metrology/loads/load_plan.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace stillmark::bench {

namespace {

constexpr double standard_gravity_m_s2 = 9.80665;

/// What the discs must weigh, stated masses, so that the narrow piston of a stopped balance lies on the wide one.
double least_discs_kg(const BenchFile& bench) {
    double carried_kg = -bench.balance.stop_piston_mass_kg;
    for (const auto& part : bench.balance.ranges[0].physics.floating_parts)
        carried_kg += part.mass_kg.value;
    const metrology::ConcentricPistons pistons{bench.balance.stop_piston_mass_kg,
                                               bench.balance.ranges[0].physics.area_m2.value,
                                               bench.balance.ranges[1].physics.area_m2.value};
    return metrology::least_load_n(pistons) - carried_kg; // forces over g throughout
}

/// Masses of the discs and of the points as one of the two choices sees them.
struct Weighing {
    std::vector<metrology::LoadDisc> discs;
    std::vector<metrology::LoadPoint> points;
};

bool serves(const Disc& disc, std::size_t range) {
    return disc.ranges.empty() || std::find(disc.ranges.begin(), disc.ranges.end(), range) != disc.ranges.end();
}

Weighing weigh(const BenchFile& bench, std::span<const LoadTarget> targets, const metrology::Surroundings& air,
               const metrology::Uncertain& piston_temperature_c, LoadChoice choice) {
    Weighing weighing;
    std::vector<PressureOfMass> ranges;
    std::vector<LoadLimits> limits;
    for (std::size_t i = 0; i < bench.balance.ranges.size(); ++i) {
        ranges.emplace_back(bench, i, air, piston_temperature_c);
        limits.push_back(load_limits(bench, i, air, piston_temperature_c));
    }
    for (const Disc& disc : bench.discs) {
        metrology::LoadDisc one;
        one.lifted_kg = disc.piece.mass_kg.value;
        one.effective_kg = choice == LoadChoice::nominal ? one.lifted_kg : ranges[0].effective_kg(disc.piece);
        for (std::size_t i = 0; i < bench.balance.ranges.size(); ++i)
            one.serves.push_back(serves(disc, i));
        weighing.discs.push_back(std::move(one));
    }
    for (const LoadTarget& target : targets) {
        auto& range = ranges[target.range];
        const auto& physics = bench.balance.ranges[target.range].physics;
        metrology::LoadPoint point;
        point.range = target.range;
        point.wanted_kg = range.mass_kg(target.pressure_pa);
        point.least_kg = range.mass_kg(limits[target.range].lowest_pa);
        point.most_kg = range.mass_kg(limits[target.range].highest_pa);
        point.tolerance_kg =
            load_tolerance * target.pressure_pa * physics.area_m2.value / bench.site.gravity_m_s2.value;
        if (choice == LoadChoice::nominal) {
            point.wanted_kg = target.pressure_pa * physics.area_m2.value / standard_gravity_m_s2;
            for (const auto& part : physics.floating_parts)
                point.wanted_kg -= part.mass_kg.value;
        }
        weighing.points.push_back(point);
    }
    return weighing;
}

} // namespace

LoadLimits load_limits(const BenchFile& bench, std::size_t range, const metrology::Surroundings& air,
                       const metrology::Uncertain& piston_temperature_c) {
    const auto& of = bench.balance.ranges[range];
    LoadLimits limits{of.lowest_pa * (1 - range_slack),
                      std::min(of.highest_pa * (1 + range_slack), bench.weakest().rating_pa)};
    if (bench.balance.kind != metrology::DualRange::stopped) return limits;
    constexpr double clear = 1 + 1e-6; // at the limit itself nothing presses
    if (range == 0) {
        const double least_kg = least_discs_kg(bench);
        PressureOfMass low(bench, range, air, piston_temperature_c);
        if (least_kg >= 0) limits.lowest_pa = std::max(limits.lowest_pa, clear * low.pressure_pa(least_kg));
    } else {
        const metrology::ConcentricPistons pistons{bench.balance.stop_piston_mass_kg * bench.site.gravity_m_s2.value,
                                                   bench.balance.ranges[0].physics.area_m2.value,
                                                   bench.balance.ranges[1].physics.area_m2.value};
        limits.lowest_pa = std::max(limits.lowest_pa, clear * metrology::stop_pressure_pa(pistons));
    }
    return limits;
}

LoadsPlan plan_loads_with_figures(const BenchFile& bench, std::span<const LoadTarget> targets,
                                  const metrology::Surroundings& air, const metrology::Uncertain& piston_temperature_c,
                                  LoadChoice choice, std::span<const std::size_t> on_head) {
    // A vented visit leaves the head as it is.
    std::vector<LoadTarget> loaded;
    for (const LoadTarget& target : targets)
        if (target.pressure_pa > 0) loaded.push_back(target);
    const Weighing weighing = weigh(bench, loaded, air, piston_temperature_c, choice);
    auto plan = metrology::plan_stacks(weighing.discs, weighing.points, on_head);
    LoadsPlan out;
    out.lifts = plan.lifts;
    out.lifted_kg = plan.lifted_kg;
    out.proven = plan.proven;
    std::size_t next = 0;
    for (const LoadTarget& target : targets) {
        PlannedLoad load;
        double nearest_pa = 0;
        if (target.pressure_pa > 0) {
            auto& stack = plan.stacks[next++];
            load.pressure_pa = nearest_pa = std::numeric_limits<double>::quiet_NaN();
            if (stack.possible) {
                load.discs = std::move(stack.discs);
                load.pressure_pa = metrology::reference_pressure_pa(
                    reference_inputs(bench, target.range, load.discs, air, piston_temperature_c, nullptr));
                if (choice == LoadChoice::today)
                    nearest_pa =
                        PressureOfMass(bench, target.range, air, piston_temperature_c).pressure_pa(stack.nearest_kg);
            }
        }
        out.loads.push_back(std::move(load));
        out.nearest_pa.push_back(nearest_pa);
    }
    return out;
}

std::vector<PlannedLoad> plan_loads(const BenchFile& bench, std::span<const LoadTarget> targets,
                                    const metrology::Surroundings& air,
                                    const metrology::Uncertain& piston_temperature_c) {
    return plan_loads_with_figures(bench, targets, air, piston_temperature_c, LoadChoice::today, {}).loads;
}

} // namespace stillmark::bench
