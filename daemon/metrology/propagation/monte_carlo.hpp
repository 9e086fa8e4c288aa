#pragma once

#include "daemon/metrology/propagation/draws.hpp"

#include <cstddef>
#include <cstdint>
#include <functional>
#include <span>
#include <string>
#include <vector>

namespace stillmark::metrology {

/// Runs job(0) ... job(count - 1), each once, in any order and on any threads, and returns when all are done. The core
/// has no threads: a program hands in one that has.
using BlockRunner = std::function<void(std::size_t count, const std::function<void(std::size_t)>& job)>;

/// One block after the other, here.
void one_after_the_other(std::size_t count, const std::function<void(std::size_t)>& job);

/// Eight trials of a model: the standardized deviations of all inputs in, the outputs out.
using Trials = std::function<void(std::span<const Lanes> deviations, std::span<Lanes> outputs)>;

/// What is propagated.
struct MonteCarloModel {
    DrawPlan plan;
    std::size_t outputs = 1;
    /// A model of one's own for one block; called on any thread, as often as there are blocks.
    std::function<Trials()> begin;
};

struct MonteCarloSettings {
    double coverage = 0.95; ///< 0.5 to under 1
    int digits = 2;         ///< significant digits of u that are wanted: 1 or 2
    std::uint64_t seed = 1;
    std::size_t trials = 0; ///< rounded up to whole blocks; 0: adaptive
    /// The adaptive procedure gives up beyond this.
    std::size_t most_trials = 10'000'000;
};

struct Interval {
    double low = 0;
    double high = 0;
    double width() const { return high - low; }
};

/// What the trials say of one output.
struct MonteCarloOutput {
    double mean = 0;
    double u = 0;         ///< standard deviation of the trials
    Interval shortest;    ///< JCGM 101:2008, 5.3.4
    Interval symmetric;   ///< probabilistically symmetric: equal tails
    double tolerance = 0; ///< numerical tolerance delta of u (7.9.2), for the digits that were wanted
};

struct MonteCarloResult {
    /// Empty where the trials allow no conclusion: then `trouble` says why.
    std::vector<MonteCarloOutput> outputs;
    std::vector<double> correlation; ///< of the outputs, square, by rows
    std::size_t trials = 0;
    std::size_t undefined = 0; ///< trials in which an output was no finite number; they are left out
    bool adaptive = false;
    bool stable = false; ///< adaptive: the figures hold to the digits that were wanted
    std::string trouble;
};

/// Propagation of distributions by a Monte Carlo method (JCGM 101:2008, clause 7). Adaptive (7.9): blocks of 10^4 until
/// twice the standard deviation of u, of the mean and of the interval's ends is under the tolerance of u; up to 2 10^6
/// trials under a fifth of it for all but u, because clause 8 compares those at the tolerance itself. The same seed
/// gives the same digits whatever runs the blocks. Where more than one trial in 10^4 gives no finite number nothing is
/// concluded.
MonteCarloResult monte_carlo(const MonteCarloModel& model, const MonteCarloSettings& settings,
                             const BlockRunner& runner);

/// Numerical tolerance of a standard uncertainty of which `digits` significant digits count: u = c 10^l with a whole c
/// of that many digits, delta = 10^l / 2 (JCGM 101:2008, 7.9.2). 0 for u = 0.
double numerical_tolerance(double u, int digits);

/// Clause 8 of JCGM 101:2008: does the first-order interval agree with that of the trials?
struct Validation {
    double tolerance = 0; ///< delta, of the first-order u
    double off_low = 0;   ///< d_low
    double off_high = 0;  ///< d_high
    bool validated = false;
};
Validation validate(double y, double expanded_u, double u, const Interval& shortest, int digits);

} // namespace stillmark::metrology
