#pragma once

#include "daemon/metrology/evaluation/evaluation.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::metrology {

/// One way up or down, with what was read at each point of the evaluation.
struct Pass {
    int series = 1;
    bool rising = true;
    SeriesRole role = SeriesRole::cycle;
    std::optional<std::size_t> partner;           ///< the rising pass before a falling one
    std::vector<std::optional<double>> deviation; ///< by point
    std::optional<double> zero;                   ///< deviation at this pass's own zero
};

/// The readings that count, sorted by point and pass.
struct PassTable {
    struct Point {
        std::string target;
        double reference = 0;
        bool zero = false;
        std::vector<const Observation*> readings; ///< of all passes
    };
    std::vector<Point> points; ///< rising
    std::vector<Pass> passes;
};

/// Sorts observations into points and passes. Observations with the same target are one point; without targets those
/// whose references lie closer than a quarter of the least step within a pass. Rows that do not count, and what was
/// averaged, are told in `unsaid`.
PassTable sort_into_passes(std::span<const Observation> observations, const EvaluationSettings& settings,
                           std::vector<Unsaid>& unsaid);

/// A value for a sentence, to seven digits.
std::string number(double value);

} // namespace stillmark::metrology
