#pragma once

#include "daemon/bench/overlap_finding.hpp"
#include "daemon/bench/state.hpp"
#include "daemon/metrology/evaluation/evaluation.hpp"

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

namespace stillmark::bench {

/// One nominal pressure realised in both ranges, as proof of the balance: the deviations of one instrument should agree
/// within the uncertainty of their difference, in which what both ranges share (gravity, air, discs) cancels.
struct OverlapProof {
    std::string target;
    Direction direction = Direction::rising;
    int series = 1;
    double deviation_low_pa = 0;
    double deviation_high_pa = 0;
    double expanded_pa = 0; ///< U = k u of the difference, for 95.45 % (Student's t)
    double k = 2;
    double en = 0;             ///< |difference| / expanded
    bool fine_enough = true;   ///< the resolution is small beside what the ranges may differ by
    std::int64_t mark_low = 0; ///< the marks that were compared
    std::int64_t mark_high = 0;
    /// What every document and every gate says: agreement where E_n is at most 1 (ISO/IEC 17043, from memory).
    OverlapFinding finding() const {
        if (!fine_enough) return OverlapFinding::too_coarse;
        return en <= 1 ? OverlapFinding::agree : OverlapFinding::differ;
    }
};

/// One instrument of a run: its observations in pascals and what is said of them.
struct RunEvaluation {
    std::vector<metrology::Observation> observations;
    metrology::Evaluation evaluation;
    std::vector<OverlapProof> overlaps;
};

/// "rising", "falling", "preload".
metrology::Sentence direction_words(Direction direction);
/// "low range": what sentences call a range of the balance.
metrology::Sentence range_words(const std::string& name);

/// The overlap points of one instrument's run alone.
std::vector<OverlapProof> overlap_proofs(const State& state, const Run& run, std::size_t channel);

/// Evaluates one instrument of a run from the marks that stand (run_marks.hpp); the others, and points without any, are
/// named. Pure: the same state gives the same result.
RunEvaluation evaluate_run(const State& state, const Run& run, std::size_t channel);

} // namespace stillmark::bench
