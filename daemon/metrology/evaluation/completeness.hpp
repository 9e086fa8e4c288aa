#pragma once

#include "daemon/metrology/evaluation/passes.hpp"

#include <vector>

namespace stillmark::metrology {

/// What a verdict would be about.
struct Completeness {
    struct Lacking {
        Sentence words;
        Source source = {}; ///< of what asks for it
    };
    /// What was asked for and not read. Where there is any, nothing can be passed.
    std::vector<Lacking> lacking;
    Sentence covers; ///< the points and directions that were read
};

/// Compares what was read with what is asked for: the points, directions and series of the method; both directions
/// where the permissible error is that of an accuracy class; every reading that is in the table and does not count. A
/// point of a method that spreads its points evenly is read where a reference lies within a quarter of their step of
/// it.
Completeness completeness(const PassTable& table, const EvaluationSettings& settings);

/// The point's target, or its reference.
Sentence name_of(const PassTable::Point& point);

} // namespace stillmark::metrology
