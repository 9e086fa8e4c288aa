#pragma once

#include "daemon/metrology/evaluation/evaluation.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::metrology {

/// One way up or down.
struct Pass {
    int series = 1;
    bool rising = true;
    SeriesRole role = SeriesRole::cycle;
    std::optional<std::size_t> partner; ///< the rising pass before a falling one
    std::optional<double> zero;         ///< deviation at this pass's own zero
};

/// The readings that count, sorted by point and pass.
struct PassTable {
    /// So much may the pressures of one nominal point differ from pass to pass: loads of the day, or an instrument set
    /// by its own indication.
    static constexpr double joined_part = 0.02;
    /// What one pass read at a point.
    struct Read {
        std::size_t pass = 0;
        double deviation = 0;
    };
    struct Point {
        std::string target;
        Sentence shown_as; ///< the target in sentences
        double reference = 0;
        bool zero = false;
        std::vector<const Observation*> readings; ///< of all passes
        std::vector<Read> by_pass;                ///< rising
        /// What that pass read here, or nothing.
        std::optional<double> of(std::size_t pass) const;
    };
    std::vector<Point> points; ///< rising
    std::vector<Pass> passes;
    std::vector<const Observation*> left_out;
};

/// Sorts observations into points and passes.
///
/// Observations with the same target are one point. Without targets, rows of several passes are one where their
/// references differ by no more than 2 % of them, their own standard uncertainty or the resolution, and by less than a
/// quarter of the step to the next row of their pass; different rows of one pass never are. The zero is what is marked
/// as vented; where nobody marks it, the rows nearest to zero if they are zero within their uncertainty or half the
/// resolution. Rows that do not count, what was averaged, joined or taken as the zero is told in `unsaid`.
PassTable sort_into_passes(std::span<const Observation> observations, const EvaluationSettings& settings,
                           UnsaidList& unsaid);

} // namespace stillmark::metrology
