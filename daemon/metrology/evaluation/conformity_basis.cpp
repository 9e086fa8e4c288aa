#include "daemon/metrology/evaluation/conformity_basis.hpp"

#include "daemon/metrology/propagation/coverage_factor.hpp"

#include <cmath>

namespace stillmark::metrology {

void put_uncertainty(ConformityBasis& basis, const std::vector<Share>& shares, double least_expanded) {
    constexpr double capability_k = 2;
    double square = 0;
    for (const Share& share : shares)
        square += share.u * share.u;
    const double u = std::sqrt(square), dof = effective_dof(shares), k = usual_coverage_factor(dof);
    basis.at_capability = least_expanded > k * u;
    basis.u = basis.at_capability ? least_expanded / capability_k : u;
    basis.k = basis.at_capability ? capability_k : k;
    basis.dof = basis.at_capability ? ConformityBasis::infinite_dof : dof;
    basis.expanded = basis.at_capability ? least_expanded : k * u;
}

void judge(ConformityBasis& basis, double permissible, const std::optional<DecisionRule>& rule) {
    basis.permissible = permissible;
    if (!basis.u || !basis.expanded) return;
    basis.outside = 1 - probability_within(basis.deviation, *basis.u, -permissible, permissible, basis.dof);
    if (!rule) return;
    const Judged judged{basis.deviation, *basis.u, *basis.expanded, permissible, basis.dof};
    basis.acceptance = acceptance_limit(judged, *rule);
    basis.verdict = judge(judged, *rule);
}

} // namespace stillmark::metrology
