#pragma once

#include <array>

namespace stillmark::acquisition {

/// One-sided 95 % point of Student's t for `dof` > 0 degrees of freedom, not necessarily a whole number
/// (JCGM 100:2008, G.3 and table G.2). Boost.Math; relative error below 1e-12.
double t_95(double dof);

/// The same for 3 degrees of freedom and more, fast enough for every reading: interpolated in 1/dof, where the
/// function is smooth up to infinity. Absolute error below 2e-9. Under 3 degrees of freedom it gives NaN.
class StudentT95 {
  public:
    /// The one table of the program.
    static const StudentT95& table();

    double operator()(double dof) const {
        if (!(dof >= least_dof)) return unknown;
        const double place = steps_per_unit / dof;
        // The cubic through four neighbouring nodes; the inner interval wherever there is one.
        int node = static_cast<int>(place);
        node = node < 1 ? 1 : node > steps - 2 ? steps - 2 : node;
        const double u = place - node;
        const double* const y = &values_[static_cast<std::size_t>(node - 1)];
        const double down = u * (u - 1) / 6;
        const double up = (u + 1) * (u - 2) / 2;
        return -down * (u - 2) * y[0] + up * (u - 1) * y[1] - up * u * y[2] + down * (u + 1) * y[3];
    }

  private:
    StudentT95();
    static constexpr int steps = 192;
    static constexpr double least_dof = 3;
    static constexpr double steps_per_unit = steps * least_dof;
    static const double unknown;
    std::array<double, steps + 1> values_{}; ///< at dof = steps_per_unit / i
};

} // namespace stillmark::acquisition
