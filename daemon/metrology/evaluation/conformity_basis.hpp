#pragma once

#include "daemon/metrology/effective_dof.hpp"
#include "daemon/metrology/evaluation/conformity.hpp"

#include <limits>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::metrology {

/// One contribution to an uncertainty.
struct Part {
    std::string name;
    double value = 0; ///< what was observed or stated: a spread, a resolution, a standard uncertainty
    double u = 0;     ///< standard uncertainty, in the unit of the deviation
};

/// Everything that a verdict at one point and in one direction rests on, in the unit of the evaluation, unrounded. It
/// is made once, here; every screen and document shows it and works nothing out again. The mean of both directions has
/// one too, without limits and verdict: limits hold for rising and falling pressure, so the mean decides nothing.
struct ConformityBasis {
    int readings = 0;                  ///< how many the deviation is the mean of
    double deviation = 0;              ///< mean reading - reference
    std::optional<double> u;           ///< standard uncertainty of the deviation; of the capability U/2
    double k = 2;                      ///< coverage factor for 95.45 %: Student's t with `dof`
    double dof = infinite_dof;         ///< effective degrees of freedom of u (Welch-Satterthwaite)
    std::optional<double> expanded;    ///< U = k u
    bool at_capability = false;        ///< U is the capability that the laboratory states; then k = 2
    std::vector<Part> contains;        ///< what was combined; where the capability decides, it is the larger
    std::optional<double> permissible; ///< largest deviation, either way, that the specification permits
    std::optional<double> acceptance;  ///< largest deviation, either way, that the decision rule accepts
    std::optional<double> outside;     ///< probability that the deviation is in truth beyond the permissible one
    std::optional<Verdict> verdict;

    static constexpr double infinite_dof = std::numeric_limits<double>::infinity();
};

/// Combines shares of an uncertainty into u, k, U and the degrees of freedom. `least_expanded` is the smallest U that
/// may be reported (stated with k = 2, 0 or less: none): where it is larger than k u it takes the place of all four.
void put_uncertainty(ConformityBasis& basis, const std::vector<Share>& shares, double least_expanded);

/// Holds the deviation against a permissible one: acceptance limit, probability and verdict. Without an uncertainty
/// nothing can be said; without a rule there is the probability alone.
void judge(ConformityBasis& basis, double permissible, const std::optional<DecisionRule>& rule);

} // namespace stillmark::metrology
