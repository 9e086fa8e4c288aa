#pragma once

#include "daemon/metrology/loads/load_plan.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <span>
#include <tuple>
#include <vector>

// The plan by trying everything, written without the planner's means: every subset for every point, every way through.
namespace stillmark::metrology::testing {

using Subset = std::vector<std::size_t>;

struct Effort {
    std::int64_t lifts = 0;
    double lifted_kg = 0;
};

/// Lifts and kilograms from one stack to the next, counted on the discs themselves.
inline Effort effort_between(std::span<const LoadDisc> discs, Subset from, const Subset& to) {
    Effort effort;
    const auto lift = [&](std::size_t disc) {
        ++effort.lifts;
        effort.lifted_kg += discs[disc].lifted_kg;
    };
    // Off, as long as what is left is not the lower part of what is wanted.
    while (from.size() > to.size() || !std::equal(from.begin(), from.end(), to.begin())) {
        lift(from.back());
        from.pop_back();
    }
    for (std::size_t i = from.size(); i < to.size(); ++i)
        lift(to[i]);
    return effort;
}

/// Every load of a point within bounds and tolerance; big below small.
inline std::vector<Subset> loads_of(std::span<const LoadDisc> discs, const LoadPoint& point) {
    Subset order(discs.size());
    for (std::size_t i = 0; i < order.size(); ++i)
        order[i] = i;
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return discs[a].lifted_kg > discs[b].lifted_kg; });
    struct Load {
        Subset discs;
        double off_kg;
    };
    std::vector<Load> all;
    for (std::uint32_t bits = 0; bits < (1U << discs.size()); ++bits) {
        Load load{{}, 0};
        double kg = 0;
        bool allowed = true;
        for (const std::size_t disc : order)
            if ((bits >> disc & 1U) != 0) {
                load.discs.push_back(disc);
                kg += discs[disc].effective_kg;
                allowed = allowed && (point.range >= discs[disc].serves.size() || discs[disc].serves[point.range]);
            }
        load.off_kg = std::abs(kg - point.wanted_kg);
        if (allowed && kg >= point.least_kg - 1e-12 && kg <= point.most_kg + 1e-12) all.push_back(load);
    }
    double nearest = std::numeric_limits<double>::infinity();
    for (const Load& load : all)
        nearest = std::min(nearest, load.off_kg);
    std::vector<Subset> near;
    for (const Load& load : all)
        if (load.off_kg <= nearest + point.tolerance_kg + 1e-12) near.push_back(load.discs);
    return near;
}

/// The least effort over all ways through the points.
inline Effort least_effort(std::span<const LoadDisc> discs, std::span<const LoadPoint> points, const Subset& at_start) {
    struct Way {
        Subset at;
        Effort effort;
    };
    std::vector<Way> ways{{at_start, {}}};
    for (const LoadPoint& point : points) {
        const auto loads = loads_of(discs, point);
        if (loads.empty()) continue;
        std::vector<Way> next;
        for (const Subset& load : loads) {
            Way best{load, {std::numeric_limits<std::int64_t>::max(), 0}};
            for (const Way& way : ways) {
                Effort effort = effort_between(discs, way.at, load);
                effort.lifts += way.effort.lifts;
                effort.lifted_kg += way.effort.lifted_kg;
                if (std::tuple(effort.lifts, effort.lifted_kg) <
                    std::tuple(best.effort.lifts, best.effort.lifted_kg - 1e-9))
                    best.effort = effort;
            }
            next.push_back(best);
        }
        ways = std::move(next);
    }
    Effort least{std::numeric_limits<std::int64_t>::max(), 0};
    for (const Way& way : ways)
        if (std::tuple(way.effort.lifts, way.effort.lifted_kg) < std::tuple(least.lifts, least.lifted_kg))
            least = way.effort;
    return least;
}

} // namespace stillmark::metrology::testing
