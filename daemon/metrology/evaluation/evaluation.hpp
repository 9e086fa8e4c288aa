#pragma once

#include "daemon/metrology/evaluation/conformity_basis.hpp"
#include "daemon/metrology/evaluation/linearity.hpp"
#include "daemon/metrology/evaluation/method.hpp"
#include "daemon/metrology/evaluation/observation.hpp"
#include "daemon/metrology/evaluation/permissible_error.hpp"
#include "daemon/metrology/evaluation/reading_fit.hpp"
#include "daemon/metrology/evaluation/unsaid.hpp"

#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace stillmark::metrology {

/// A pointer on a scale.
struct Dial {
    double division = 0;
    int parts = 5;             ///< a division is estimated to 1/parts, which is the resolution
    bool pointer_stop = false; ///< the pointer rests on a stop at zero: no zero can be read there
};

/// A standard or expanded uncertainty as a function of the pressure.
using UncertaintyAt = std::function<double(double pressure)>;

/// What an evaluation may use; what is absent is left out of it, and it says so.
struct EvaluationSettings {
    const Method* method = nullptr; ///< none: a free sequence, IEC 61298-2 definitions (from memory)
    bool method_confirmed = false;
    std::vector<SeriesRole> roles; ///< of the passes in their order, where the method does not say
    std::optional<double> resolution;
    bool zeros_are_marked = false; ///< only readings marked as vented are zeros; else the least reference may be one
    bool zeroed = false;           ///< readings have their zero taken off: the resolution enters twice
    std::optional<double> span_low;
    std::optional<double> span_high;
    UncertaintyAt u_reference; ///< standard, for observations that carry none
    UncertaintyAt u_meter;     ///< standard, of the meter of an electrical output: the same in every reading
    UncertaintyAt capability;  ///< expanded (k = 2): no smaller one is reported; see capability_at()
    std::optional<PermissibleError> permissible;
    std::optional<DecisionRule> decision;
    std::optional<Dial> dial;
    std::optional<double> method_low; ///< where the points of the method begin and end; absent: as the span
    std::optional<double> method_high;
    Sentence unfinished; ///< why more is still to be read; empty: nothing is
    /// How pressures are written in sentences where the observations are in another unit.
    double written_unit = 1;
    std::string written_symbol;

    /// As given, or of a dial the part of a division to which it is estimated.
    std::optional<double> own_resolution() const;
    /// The stated capability at a pressure, expanded (k = 2). Below zero that of the magnitude counts, or what is
    /// stated for the negative pressure itself where that is larger; 0 where none is stated.
    double capability_at(double pressure) const;
    /// A pressure for a sentence.
    std::string written(double pressure) const;
};

/// A rule of a standard and whether it is met.
struct RuleFinding {
    Sentence rule;
    bool met = false;
    Sentence found;
    bool decides = false; ///< not met, the instrument fails
    Source source = {};
};

struct PointEvaluation {
    std::string target;
    Sentence shown_as;    ///< the target, or the reference, in sentences
    double reference = 0; ///< mean over the readings that count
    bool zero = false;
    std::optional<ConformityBasis> up;   ///< hysteresis left out of its uncertainty
    std::optional<ConformityBasis> down; ///< likewise
    /// Of both directions, hysteresis within its uncertainty; or of the one there is. It carries no verdict.
    std::optional<ConformityBasis> mean;
    std::optional<double> hysteresis;
    std::optional<double> repeatability;
    std::optional<double> reproducibility;
    std::optional<double> tapping_shift;
    std::optional<double> error_span; ///< U' = U + |deviation|, added linearly
    std::optional<double> permissible;
    std::optional<double> capability_index; ///< C_m of the mean: see conformity.hpp
    std::optional<double> outside;          ///< probability of not conforming, the larger of both directions
    std::optional<Verdict> verdict;         ///< the worse of both directions
};

/// U(p) = a + b p that lies nowhere below the expanded uncertainties of the points, with the least sum of what it lies
/// above them.
struct UncertaintyLine {
    double a = 0;
    double b = 0;
};

struct Evaluation {
    std::vector<PointEvaluation> points; ///< rising
    std::optional<double> zero_deviation;
    std::optional<ReadingFit> line;      ///< reading as a function of the reference, over all readings that count
    std::vector<ReadingFit> polynomials; ///< of the second and third degree, over the same readings
    std::string weighting;               ///< how readings count in these fits, in words
    std::optional<Linearity> linearity;  ///< of the mean readings
    std::optional<double> most_negative; ///< deviation of any single reading: measured accuracy (ISA-51.1)
    std::optional<double> most_positive;
    std::optional<double> span_error; ///< mean deviation at the highest point less that at the lowest (IEC 61298-2)
    std::optional<double> largest_deviation; ///< the one of the largest size, with its sign
    std::optional<double> largest_hysteresis;
    std::optional<double> largest_repeatability;
    std::optional<double> largest_reproducibility;
    std::optional<double> largest_expanded;
    std::optional<double> largest_error_span;
    std::optional<double> largest_tapping_shift;
    std::optional<UncertaintyLine> uncertainty_line;
    std::optional<DecisionRule> decision; ///< behind the verdicts, with the permissible error (ISO/IEC 17025, 7.8.6.2)
    Sentence specification;               ///< the permissible error in words
    std::optional<Verdict> verdict;
    Sentence verdict_covers; ///< which points and directions the verdict is about
    std::vector<RuleFinding> findings;
    std::vector<Unsaid> unsaid;
};

/// Evaluates one instrument. Zero deviation, hysteresis, repeatability and reproducibility as DKD-R 6-1, 8 defines them
/// (EURAMET cg-17, 7 is equivalent; both from memory), of a free sequence hysteresis and repeatability as IEC 61298-2
/// does. Each spread enters the uncertainty as the full width of a rectangular distribution, spread/(2 sqrt 3).
/// Total: bad rows are named in `unsaid` and left out, the rest is evaluated.
Evaluation evaluate(std::span<const Observation> observations, const EvaluationSettings& settings);

/// The line over points: see UncertaintyLine. Nothing for no points; a constant for one.
std::optional<UncertaintyLine> line_above(std::span<const double> pressure, std::span<const double> expanded);

} // namespace stillmark::metrology
