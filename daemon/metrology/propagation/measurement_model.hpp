#pragma once

#include "daemon/metrology/propagation/expression.hpp"
#include "daemon/metrology/propagation/monte_carlo.hpp"
#include "daemon/metrology/uncertain.hpp"

#include <cstddef>
#include <limits>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::metrology {

struct ModelInput {
    std::string name;
    Uncertain known;
};

struct InputCorrelation {
    std::size_t a = 0;
    std::size_t b = 0;
    double r = 0; ///< -1 to 1
};

/// Quantities that follow from measured ones by formulas.
struct MeasurementModel {
    std::vector<ModelInput> inputs;
    std::vector<InputCorrelation> correlations; ///< each pair at most once; others are independent
    std::vector<Expression> outputs;
};

/// Inputs that hang together by their correlations, each such set once; inputs without any stand alone.
struct InputGroup {
    std::vector<std::size_t> inputs;
    std::vector<double> correlation;                      ///< square, by rows
    double dof = std::numeric_limits<double>::infinity(); ///< the least of its inputs'
};
std::vector<InputGroup> groups_of(const MeasurementModel& model);

/// What one input does to one output.
struct Sensitivity {
    double coefficient = 0;  ///< partial derivative
    double contribution = 0; ///< coefficient times u, signed
    double share = 0;        ///< of the variance; with correlations a share may be negative, and they sum to 1
};

/// One output by the law of propagation of uncertainty (JCGM 100:2008, 5.1.2, 5.2.2 and G.4.1).
struct FirstOrder {
    double y = 0;
    double u = 0;
    double dof = 0; ///< Welch-Satterthwaite over groups of correlated inputs, each with its least degrees of freedom
    std::vector<Sensitivity> inputs;
    bool defined = true; ///< false where a derivative is no finite number: u and dof then say nothing
};

/// With the terms of next higher order (JCGM 100:2008, 5.1.2, note): for independent inputs of about normal shape.
struct SecondOrder {
    double y = 0; ///< with half the second derivatives times the variances
    double u = 0;
};

struct Propagated {
    std::vector<FirstOrder> outputs;
    std::vector<double> correlation; ///< of the outputs, square, by rows
};
Propagated propagate(const MeasurementModel& model);

/// Nothing where inputs are correlated, or a derivative up to the third is no finite number. The variance of these
/// terms can come out negative for a model that is far from linear: then nothing too.
std::optional<SecondOrder> second_order(const MeasurementModel& model, std::size_t output);

/// The same model for trials. Inputs without uncertainty are constants; correlated ones are normal, or t.
MonteCarloModel trials_of(const MeasurementModel& model);

} // namespace stillmark::metrology
