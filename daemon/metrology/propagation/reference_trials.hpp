#pragma once

#include "daemon/metrology/propagation/monte_carlo.hpp"
#include "daemon/metrology/reference_pressure.hpp"
#include "daemon/metrology/vented_line.hpp"

namespace stillmark::metrology {

/// A reference pressure by trials, with its first-order budget judged against them.
struct ReferenceTrials {
    MonteCarloResult trials;  ///< one output: the pressure at the instrument, Pa
    double expanded_u_pa = 0; ///< of the budget, at the coverage asked for
    Validation validation;    ///< all zero and not validated where the trials allow no conclusion
};

/// Monte Carlo (JCGM 101:2008) of the pressure at the instrument's level, over the components of
/// reference_components.hpp by the function that gives the value itself. The tilt is drawn as the angle that it is, so
/// that nothing about its cosine is taken for granted.
ReferenceTrials reference_trials(const ReferenceInputs& inputs, const MonteCarloSettings& settings,
                                 const BlockRunner& runner);

/// The model alone, for whoever propagates it otherwise.
MonteCarloModel reference_model(const ReferenceInputs& inputs);
/// The same of a line that is open to air, over its own components.
MonteCarloModel vented_model(const VentedLine& line);

} // namespace stillmark::metrology
