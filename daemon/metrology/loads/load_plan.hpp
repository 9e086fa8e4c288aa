#pragma once

#include <cstddef>
#include <cstdint>
#include <limits>
#include <span>
#include <vector>

namespace stillmark::metrology {

/// A disc as the planner sees it.
struct LoadDisc {
    double effective_kg = 0;  ///< what it adds to the load: its mass less the buoyancy of the air; over zero
    double lifted_kg = 0;     ///< what a person lifts, and what decides its place: big below small; over zero
    std::vector<bool> serves; ///< by range; a range beyond its end is served
};

/// A point to be loaded for. All masses effective and of the discs alone, without the floating parts.
struct LoadPoint {
    double wanted_kg = 0;
    double tolerance_kg = 0; ///< how much farther than the nearest load one may be that saves lifting; zero or more
    std::size_t range = 0;
    double least_kg = 0; ///< a load below it or above `most_kg` is not used
    double most_kg = std::numeric_limits<double>::infinity();
};

struct PlanEffort {
    /// Discs that serve the same ranges and whose effective masses agree to this, relative, count as equal: of them
    /// the heaviest are used, of equal ones those that come first in the mass set.
    double alike = 5e-5;
    /// How many loads of a point are kept for the choice of the sequence; where a point has more, the ones with the
    /// fewest discs are kept and the plan is not proven. Every set of 16 discs or fewer stays below the default.
    std::size_t most_loads = 65536;
    /// Of a point with more loads than `most_loads`.
    std::size_t kept_loads = 2048;
};

struct PlannedStack {
    bool possible = false;          ///< some load lies within the point's bounds
    std::vector<std::size_t> discs; ///< bottom first: big below small, equal ones in the set's order
    double effective_kg = 0;
    double nearest_kg = 0; ///< of the load nearest to what was wanted, whatever it costs to lift
};

struct LoadPlan {
    std::vector<PlannedStack> stacks; ///< one a point
    std::int64_t lifts = 0;           ///< discs put on and taken off
    double lifted_kg = 0;
    /// No plan within the tolerances needs fewer lifts, nor the same number with less mass: every load was weighed.
    bool proven = true;
};

/// The stacks for a list of points in the order visited, from the stack that is on the head at the start (bottom
/// first). Lexicographic: each point within its tolerance of the nearest load; the fewest lifts over the list; the
/// least mass lifted; the least distance from what was wanted, summed. Masses are compared as whole micrograms, so the
/// same discs and points give the same plan everywhere. At most 64 discs; of more only the first 64 are used and the
/// plan is not proven. Subset sums by meeting in the middle (E. Horowitz, S. Sahni, J. ACM 21 (1974) 277), then dynamic
/// programming over the points.
LoadPlan plan_stacks(std::span<const LoadDisc> discs, std::span<const LoadPoint> points,
                     std::span<const std::size_t> at_start = {}, const PlanEffort& effort = {});

} // namespace stillmark::metrology
