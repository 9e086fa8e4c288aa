#include "daemon/metrology/propagation/measurement_model.hpp"

#include "daemon/metrology/effective_dof.hpp"
#include "daemon/metrology/propagation/evaluate_expression.hpp"

#include <boost/math/differentiation/autodiff.hpp>

#include <algorithm>
#include <cmath>
#include <memory>
#include <numeric>

namespace stillmark::metrology {

namespace {

namespace differentiation = boost::math::differentiation;
using Dual = differentiation::autodiff_fvar<double, 1>;
using Series = differentiation::autodiff_fvar<double, 3>;

std::vector<double> estimates(const MeasurementModel& model) {
    std::vector<double> out;
    out.reserve(model.inputs.size());
    for (const ModelInput& input : model.inputs)
        out.push_back(input.known.value);
    return out;
}

/// The outputs' derivatives along one input, in units of that input.
class AlongInputs {
  public:
    explicit AlongInputs(const MeasurementModel& model) : model_(model) {
        for (const ModelInput& input : model.inputs)
            places_.emplace_back(input.known.value);
    }
    double derivative(const Expression& output, std::size_t input) {
        const double estimate = model_.inputs[input].known.value;
        places_[input] = differentiation::make_fvar<double, 1>(estimate);
        const double out = value_of<Dual>(output.steps(), places_, stack_).derivative(1);
        places_[input] = Dual(estimate);
        return out;
    }

  private:
    const MeasurementModel& model_;
    std::vector<Dual> places_;
    std::vector<Dual> stack_;
};

/// Correlations of the inputs that have any, as a full matrix.
std::vector<double> correlation_of(const MeasurementModel& model, const std::vector<std::size_t>& inputs) {
    const std::size_t size = inputs.size();
    std::vector<double> matrix(size * size, 0.0);
    for (std::size_t i = 0; i < size; ++i)
        matrix[i * size + i] = 1;
    const auto place = [&inputs](std::size_t input) {
        return static_cast<std::size_t>(std::find(inputs.begin(), inputs.end(), input) - inputs.begin());
    };
    for (const InputCorrelation& one : model.correlations) {
        const std::size_t a = place(one.a);
        const std::size_t b = place(one.b);
        if (a < size && b < size) matrix[a * size + b] = matrix[b * size + a] = one.r;
    }
    return matrix;
}

/// Covariance that one group gives to two outputs whose contributions are these.
double covariance(const InputGroup& group, const std::vector<Sensitivity>& first,
                  const std::vector<Sensitivity>& second) {
    const std::size_t size = group.inputs.size();
    double sum = 0;
    for (std::size_t i = 0; i < size; ++i)
        for (std::size_t j = 0; j < size; ++j)
            sum += group.correlation[i * size + j] * first[group.inputs[i]].contribution *
                   second[group.inputs[j]].contribution;
    return sum;
}

FirstOrder first_order(const MeasurementModel& model, const std::vector<InputGroup>& groups, const Expression& output,
                       AlongInputs& along, std::vector<double>& stack) {
    FirstOrder out;
    const std::vector<double> at = estimates(model);
    const std::vector<bool> used = output.used(model.inputs.size());
    out.y = value_of<double>(output.steps(), at, stack);
    out.inputs.resize(model.inputs.size());
    for (std::size_t i = 0; i < model.inputs.size(); ++i) {
        if (!used[i]) continue;
        out.inputs[i].coefficient = along.derivative(output, i);
        // An exact input adds nothing, however steep the model is there.
        const double u = model.inputs[i].known.u;
        out.inputs[i].contribution = u > 0 ? out.inputs[i].coefficient * u : 0;
        out.defined = out.defined && std::isfinite(out.inputs[i].contribution);
    }
    if (!out.defined) {
        out.u = out.dof = std::numeric_limits<double>::quiet_NaN();
        return out;
    }
    double variance = 0;
    std::vector<Share> shares;
    for (const InputGroup& group : groups) {
        const double part = std::max(0.0, covariance(group, out.inputs, out.inputs));
        variance += part;
        shares.push_back({std::sqrt(part), group.dof});
    }
    out.u = std::sqrt(variance);
    out.dof = effective_dof(shares);
    for (const InputGroup& group : groups) {
        const std::size_t size = group.inputs.size();
        for (std::size_t i = 0; i < size && variance > 0; ++i) {
            double with_others = 0;
            for (std::size_t j = 0; j < size; ++j)
                with_others += group.correlation[i * size + j] * out.inputs[group.inputs[j]].contribution;
            Sensitivity& one = out.inputs[group.inputs[i]];
            one.share = one.contribution * with_others / variance;
        }
    }
    return out;
}

} // namespace

std::vector<InputGroup> groups_of(const MeasurementModel& model) {
    std::vector<std::size_t> root(model.inputs.size());
    std::iota(root.begin(), root.end(), std::size_t{0});
    const auto find = [&root](std::size_t i) {
        while (root[i] != i)
            i = root[i];
        return i;
    };
    for (const InputCorrelation& one : model.correlations)
        if (one.r != 0) root[std::max(find(one.a), find(one.b))] = std::min(find(one.a), find(one.b));
    std::vector<InputGroup> groups;
    std::vector<std::size_t> group_of_root(model.inputs.size(), model.inputs.size());
    for (std::size_t i = 0; i < model.inputs.size(); ++i) {
        std::size_t& group = group_of_root[find(i)];
        if (group == model.inputs.size()) {
            group = groups.size();
            groups.emplace_back();
        }
        groups[group].inputs.push_back(i);
        if (model.inputs[i].known.u > 0) groups[group].dof = std::min(groups[group].dof, model.inputs[i].known.dof);
    }
    for (InputGroup& group : groups)
        group.correlation = correlation_of(model, group.inputs);
    return groups;
}

Propagated propagate(const MeasurementModel& model) {
    Propagated out;
    const std::vector<InputGroup> groups = groups_of(model);
    AlongInputs along(model);
    std::vector<double> stack;
    for (const Expression& output : model.outputs)
        out.outputs.push_back(first_order(model, groups, output, along, stack));
    const std::size_t size = model.outputs.size();
    out.correlation.assign(size * size, 1.0);
    for (std::size_t i = 0; i < size; ++i) {
        for (std::size_t j = 0; j < i; ++j) {
            const double scale = out.outputs[i].u * out.outputs[j].u;
            double sum = 0;
            for (const InputGroup& group : groups)
                sum += covariance(group, out.outputs[i].inputs, out.outputs[j].inputs);
            out.correlation[i * size + j] = out.correlation[j * size + i] =
                scale > 0 ? std::clamp(sum / scale, -1.0, 1.0) : 0;
        }
    }
    return out;
}

std::optional<SecondOrder> second_order(const MeasurementModel& model, std::size_t output) {
    for (const InputCorrelation& one : model.correlations)
        if (one.r != 0) return std::nullopt;
    const Expression& expression = model.outputs[output];
    const std::vector<bool> used = expression.used(model.inputs.size());
    std::vector<std::size_t> inputs;
    for (std::size_t i = 0; i < model.inputs.size(); ++i)
        if (used[i] && model.inputs[i].known.u > 0) inputs.push_back(i);

    std::vector<Series> places;
    for (const ModelInput& input : model.inputs)
        places.emplace_back(input.known.value);
    std::vector<Series> stack;
    // The derivatives along a u_a + sign b u_b: everything is in units of the inputs' own uncertainties.
    const auto along = [&](std::size_t a, std::size_t b, double sign) {
        const auto step = differentiation::make_fvar<double, 3>(0.0);
        const auto moved = [&](std::size_t i, double part) {
            places[i] = step * (part * model.inputs[i].known.u) + model.inputs[i].known.value;
        };
        moved(a, 1);
        if (b != a) moved(b, sign);
        Series found = value_of<Series>(expression.steps(), places, stack);
        places[a] = Series(model.inputs[a].known.value);
        places[b] = Series(model.inputs[b].known.value);
        return found;
    };

    SecondOrder out;
    out.y = value_of<Series>(expression.steps(), places, stack).derivative(0);
    std::vector<Series> own;
    double variance = 0;
    for (const std::size_t i : inputs) {
        own.push_back(along(i, i, 1));
        const Series& f = own.back();
        out.y += f.derivative(2) / 2;
        variance += f.derivative(1) * f.derivative(1) + f.derivative(2) * f.derivative(2) / 2 +
                    f.derivative(1) * f.derivative(3);
    }
    for (std::size_t i = 0; i < inputs.size(); ++i) {
        for (std::size_t j = 0; j < i; ++j) {
            const Series plus = along(inputs[i], inputs[j], 1);
            const Series minus = along(inputs[i], inputs[j], -1);
            // The mixed derivatives out of those along the two diagonals.
            const double ij = (plus.derivative(2) - minus.derivative(2)) / 4;
            const double ijj = (plus.derivative(3) + minus.derivative(3) - 2 * own[i].derivative(3)) / 6;
            const double iij = (plus.derivative(3) - minus.derivative(3) - 2 * own[j].derivative(3)) / 6;
            variance += ij * ij + own[i].derivative(1) * ijj + own[j].derivative(1) * iij;
        }
    }
    out.u = std::sqrt(variance);
    if (!std::isfinite(out.y) || !std::isfinite(out.u)) return std::nullopt;
    return out;
}

MonteCarloModel trials_of(const MeasurementModel& model) {
    std::vector<std::size_t> uncertain;
    std::vector<std::size_t> place(model.inputs.size(), 0);
    std::vector<Standardized> drawn;
    for (std::size_t i = 0; i < model.inputs.size(); ++i) {
        const Uncertain& known = model.inputs[i].known;
        if (!(known.u > 0)) continue;
        place[i] = uncertain.size();
        uncertain.push_back(i);
        drawn.push_back({known.distribution, known.dof});
    }
    std::vector<CorrelatedGroup> correlated;
    for (InputGroup& group : groups_of(model)) {
        if (group.inputs.size() < 2) continue;
        for (std::size_t& input : group.inputs)
            input = place[input];
        correlated.push_back({std::move(group.inputs), std::move(group.correlation), group.dof});
    }
    struct Shared {
        MeasurementModel model;
        std::vector<std::size_t> uncertain;
    };
    const auto shared = std::make_shared<const Shared>(Shared{model, std::move(uncertain)});
    return {DrawPlan(std::move(drawn), std::move(correlated)), model.outputs.size(), [shared]() -> Trials {
                std::vector<Lanes> values;
                for (const ModelInput& input : shared->model.inputs)
                    values.emplace_back(input.known.value);
                return [shared, values, stack = std::vector<Lanes>()](std::span<const Lanes> deviations,
                                                                      std::span<Lanes> outputs) mutable {
                    for (std::size_t k = 0; k < deviations.size(); ++k) {
                        const Uncertain& known = shared->model.inputs[shared->uncertain[k]].known;
                        values[shared->uncertain[k]] = known.value + known.u * deviations[k];
                    }
                    for (std::size_t i = 0; i < outputs.size(); ++i)
                        outputs[i] = value_of<Lanes>(shared->model.outputs[i].steps(), values, stack);
                };
            }};
}

} // namespace stillmark::metrology
