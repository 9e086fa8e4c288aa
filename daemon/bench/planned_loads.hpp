#pragma once

#include "daemon/bench/bench_file.hpp"

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

namespace stillmark::bench {

/// A pressure to be made.
struct LoadTarget {
    double pressure_pa = 0; ///< at the balance's level mark; not over zero: the line is vented and no load is wanted
    std::size_t range = 0;  ///< of the balance's ranges
};

/// The load for a target and what it will really make.
struct PlannedLoad {
    std::vector<std::size_t> discs; ///< bottom first
    /// At the balance's level mark, under the surroundings that the plan was made for. Not a number where no load of
    /// the range stays within the range's limits and the lowest rating; `discs` is then empty. Zero where vented.
    double pressure_pa = 0;
};

/// The loads for targets in the order visited: each as near to its target as the discs allow (to `load_tolerance`), and
/// over the list the fewest and lightest discs lifted. The head is empty at the start. The same inputs give the same
/// plan on every machine; another build may plan otherwise, so a plan that is to be replayed is kept.
std::vector<PlannedLoad> plan_loads(const BenchFile& bench, std::span<const LoadTarget> targets,
                                    const metrology::Surroundings& air,
                                    const metrology::Uncertain& piston_temperature_c);

/// How much farther from its target than the nearest load a planned one may lie, relative to the target, where that
/// saves lifting: far below what a nominal point is off by anyhow, which the reference pressure takes in.
inline constexpr double load_tolerance = 1e-4;

/// Which load is nearest: by the pressure that it makes under these surroundings, or by what its stated masses would
/// make at standard gravity on A_0 without air, which is the same stack everywhere.
enum class LoadChoice : std::uint8_t { today, nominal };

struct LoadsPlan {
    std::vector<PlannedLoad> loads;
    std::vector<double> nearest_pa; ///< what the load nearest to the target would make, whatever it costs to lift; not
                                    ///< a number for nominal stacks
    std::int64_t lifts = 0;         ///< discs put on and taken off, those counted that only lay on top of others
    double lifted_kg = 0;
    bool proven = true; ///< no plan within the tolerance lifts fewer discs, or as many and less mass
};

/// The same with its figures, from the stack that is on the head now (bottom first).
LoadsPlan plan_loads_with_figures(const BenchFile& bench, std::span<const LoadTarget> targets,
                                  const metrology::Surroundings& air, const metrology::Uncertain& piston_temperature_c,
                                  LoadChoice choice, std::span<const std::size_t> on_head);

/// The pressures that loads of a range may make: its limits with `range_slack`, the lowest rating of the rig, and for a
/// balance of the stopped kind what its pistons need to lie together (low) or to part (high).
struct LoadLimits {
    double lowest_pa = 0;
    double highest_pa = 0;
};
LoadLimits load_limits(const BenchFile& bench, std::size_t range, const metrology::Surroundings& air,
                       const metrology::Uncertain& piston_temperature_c);

/// How far a load may make a pressure beyond the limits of its range (common practice: points are nominal).
inline constexpr double range_slack = 0.02;

} // namespace stillmark::bench
