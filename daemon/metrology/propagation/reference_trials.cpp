#include "daemon/metrology/propagation/reference_trials.hpp"

#include "daemon/metrology/propagation/coverage_factor.hpp"
#include "daemon/metrology/propagation/lanes_pressure.hpp"
#include "daemon/metrology/reference_components.hpp"

#include <algorithm>
#include <memory>
#include <utility>

namespace stillmark::metrology {

namespace {

/// Draws the tilt as the angle that it is, where this is its place.
bool draws_tilt(const Member<Lanes>& member, const ReferenceValues<Lanes>& values, const ReferenceInputs& inputs,
                const Lanes& deviation) {
    if (member.place != &values.range.tilt_loss) return false;
    const Uncertain& tilt = inputs.range.tilt_rad;
    const Lanes half_sine = sin((tilt.value + tilt.u * deviation) / 2.0);
    *member.place = 2.0 * half_sine * half_sine;
    return true;
}
bool draws_tilt(const Member<Lanes>&, const VentedValues<Lanes>&, const VentedLine&, const Lanes&) {
    return false; // nothing there is tilted
}

/// One block's own copy of all that the equation reads, and where the draws go.
template <class Inputs>
class PressureTrials {
  public:
    explicit PressureTrials(const Inputs& inputs)
        : inputs_(inputs), values_(values_of<Lanes>(inputs)), inventory_(list_inputs(inputs, values_)) {}
    PressureTrials(const PressureTrials&) = delete;
    PressureTrials& operator=(const PressureTrials&) = delete;

    std::vector<Standardized> inputs() const {
        std::vector<Standardized> all;
        for (const Component<Lanes>& component : inventory_.components()) {
            Standardized one{component.members.front().input.distribution, component.members.front().input.dof};
            for (const Member<Lanes>& member : component.members) {
                one.dof = std::min(one.dof, member.input.dof);
                if (member.input.distribution != one.distribution) one.distribution = Distribution::normal;
            }
            all.push_back(one);
        }
        return all;
    }

    Lanes at_instrument_pa(std::span<const Lanes> deviations) {
        std::size_t i = 0;
        for (const Component<Lanes>& component : inventory_.components()) {
            for (const Member<Lanes>& member : component.members) {
                if (!draws_tilt(member, values_, inputs_, deviations[i]))
                    *member.place = member.input.value + member.input.u * deviations[i];
            }
            ++i;
        }
        settle_air(values_);
        return instrument_pressure_pa(values_);
    }

  private:
    Inputs inputs_;
    decltype(values_of<Lanes>(std::declval<const Inputs&>())) values_;
    Inventory<Lanes> inventory_; ///< points into values_
};

template <class Inputs>
MonteCarloModel model_of(const Inputs& inputs) {
    return {DrawPlan(PressureTrials<Inputs>(inputs).inputs(), {}), 1, [inputs]() -> Trials {
                const auto trials = std::make_shared<PressureTrials<Inputs>>(inputs);
                return [trials](std::span<const Lanes> deviations, std::span<Lanes> outputs) {
                    outputs[0] = trials->at_instrument_pa(deviations);
                };
            }};
}

} // namespace

MonteCarloModel reference_model(const ReferenceInputs& inputs) {
    return model_of(inputs);
}

MonteCarloModel vented_model(const VentedLine& line) {
    return model_of(line);
}

ReferenceTrials reference_trials(const ReferenceInputs& inputs, const MonteCarloSettings& settings,
                                 const BlockRunner& runner) {
    ReferenceTrials out;
    out.trials = monte_carlo(reference_model(inputs), settings, runner);
    const ReferencePressure first_order = reference_pressure(inputs);
    out.expanded_u_pa = coverage_factor(settings.coverage, first_order.dof) * first_order.u_pa;
    if (!out.trials.outputs.empty())
        out.validation = validate(first_order.at_instrument_pa, out.expanded_u_pa, first_order.u_pa,
                                  out.trials.outputs.front().shortest, settings.digits);
    return out;
}

} // namespace stillmark::metrology
