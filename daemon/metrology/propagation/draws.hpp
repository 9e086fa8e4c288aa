#pragma once

#include "daemon/metrology/propagation/lanes.hpp"
#include "daemon/metrology/propagation/random_stream.hpp"
#include "daemon/metrology/uncertain.hpp"

#include <array>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <span>
#include <vector>

namespace stillmark::metrology {

/// What is known about the deviation of one input from its estimate, in units of its standard uncertainty u.
///
/// Finite degrees of freedom: a normal input becomes a t distribution scaled by u (JCGM 101:2008, 6.4.9). One with
/// limits has limits that are themselves known only to a part 1/sqrt(2 dof) (JCGM 100:2008, G.4.2), drawn evenly: for
/// the rectangular distribution that is the curvilinear trapezoid of JCGM 101:2008, 6.4.3.
struct Standardized {
    Distribution distribution = Distribution::normal;
    double dof = std::numeric_limits<double>::infinity();
};

/// Inputs that are correlated: a multivariate normal distribution (JCGM 101:2008, 6.4.8), with the least of their
/// degrees of freedom as multivariate t where that is finite.
struct CorrelatedGroup {
    std::vector<std::size_t> inputs;
    std::vector<double> correlation; ///< square, by rows, in the order of `inputs`; ones on the diagonal
    double dof = std::numeric_limits<double>::infinity();
};

/// Lower triangle L with L L^T = matrix, by rows; empty where the matrix is not positive semidefinite (to 1e-10, so
/// that fully correlated inputs pass).
std::vector<double> cholesky(std::span<const double> matrix, std::size_t size);

/// How all inputs are drawn.
class DrawPlan {
  public:
    /// A group's correlation matrix must be positive semidefinite; its inputs' own entries in `inputs` are not used.
    DrawPlan(std::vector<Standardized> inputs, std::vector<CorrelatedGroup> groups);

    std::size_t inputs() const { return inputs_.size(); }

  private:
    friend class Draws;
    struct Group {
        std::vector<std::size_t> inputs;
        std::vector<double> factor; ///< lower triangle, by rows
        double dof;
    };
    std::vector<Standardized> inputs_;
    std::vector<std::size_t> independent_;
    std::vector<Group> groups_;
};

/// The draws of one block of trials. `plan` must outlive them.
class Draws {
  public:
    /// From `start` on, nine streams a jump apart belong to these draws: one for each lane and one for what few lanes
    /// need. Draws whose starts are a long jump apart never meet.
    Draws(const DrawPlan& plan, const RandomStream& start);

    /// The next eight trials: one standardized deviation for each input of the plan.
    void next(std::span<Lanes> deviations);

    Lanes uniform(); ///< of (0, 1)
    Lanes normal();
    Lanes of(const Standardized& what);

  private:
    using Bits = std::array<std::uint64_t, Lanes::width>;
    Bits bits();
    double slow_normal(std::uint64_t bits);
    double chi_square(double dof);
    Lanes t_scale(double dof);

    const DrawPlan* plan_;
    std::array<Bits, 4> state_{};
    RandomStream rare_;
    std::vector<Lanes> scratch_;
};

} // namespace stillmark::metrology
