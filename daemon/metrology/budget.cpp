#include "daemon/metrology/budget.hpp"

#include "daemon/metrology/effective_dof.hpp"
#include "daemon/metrology/reference_components.hpp"

#include <boost/math/differentiation/autodiff.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

namespace stillmark::metrology {

namespace {

namespace differentiation = boost::math::differentiation;
using Dual = differentiation::autodiff_fvar<double, 1>;

/// What the pressure moves by when all members of the component move by their u: the derivative along that direction.
template <class Values>
double contribution_pa(const Component<Dual>& component, Values& values) {
    for (const Member<Dual>& member : component.members) {
        *member.place = differentiation::make_fvar<double, 1>(0.0) * member.input.u + member.input.value;
    }
    settle_air(values);
    const double moved = instrument_pressure_pa(values).derivative(1);
    for (const Member<Dual>& member : component.members) {
        *member.place = Dual(member.input.value);
    }
    return moved;
}

BudgetLine line(const Component<Dual>& component, double contribution_pa) {
    const Uncertain& first = component.members.front().input;
    BudgetLine out;
    out.input = component.name;
    out.dof = std::numeric_limits<double>::infinity();
    out.distribution = first.distribution;
    out.contribution_pa = contribution_pa;
    for (const Member<Dual>& member : component.members) {
        out.dof = std::min(out.dof, member.input.dof);
        if (member.input.distribution != first.distribution) out.distribution = Distribution::normal;
    }
    if (component.is_group && component.members.size() > 1) {
        out.u = std::abs(contribution_pa);
        out.sensitivity = contribution_pa < 0 ? -1 : 1;
    } else {
        out.estimate = first.value;
        out.u = first.u;
        out.sensitivity = contribution_pa / first.u;
    }
    return out;
}

template <class Inputs>
Budget first_order(const Inputs& inputs) {
    auto values = values_of<Dual>(inputs);
    const Inventory<Dual> inventory = list_inputs(inputs, values);
    Budget out{{}, 0, 0};
    std::vector<Share> shares;
    double variance = 0;
    for (const Component<Dual>& component : inventory.components()) {
        out.lines.push_back(line(component, contribution_pa(component, values)));
        const BudgetLine& latest = out.lines.back();
        variance += latest.contribution_pa * latest.contribution_pa;
        shares.push_back({std::abs(latest.contribution_pa), latest.dof});
    }
    out.u_pa = std::sqrt(variance);
    out.dof = effective_dof(shares);
    if (variance > 0)
        for (BudgetLine& one : out.lines)
            one.share = one.contribution_pa * one.contribution_pa / variance;
    std::stable_sort(out.lines.begin(), out.lines.end(), [](const BudgetLine& a, const BudgetLine& b) {
        return std::abs(a.contribution_pa) > std::abs(b.contribution_pa);
    });
    return out;
}

} // namespace

Budget budget(const ReferenceInputs& inputs) {
    return first_order(inputs);
}

Budget budget(const VentedLine& line) {
    return first_order(line);
}

} // namespace stillmark::metrology
