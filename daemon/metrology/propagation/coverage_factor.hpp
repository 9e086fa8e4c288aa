#pragma once

namespace stillmark::metrology {

/// The value that a variable of Student's t with `dof` degrees of freedom stays below with this probability. `dof` over
/// 0, not necessarily a whole number; infinite is the normal distribution. Probability between 0 and 1, ends excluded.
/// Not a number outside. Boost.Math; relative error below 1e-12.
double t_quantile(double probability, double dof);

/// Coverage factor k for a two-sided interval y +- k u: t_p(nu) of JCGM 100:2008, G.3 and table G.2. `coverage` between
/// 0 and 1, ends excluded; `dof` as above, not cut down to a whole number.
double coverage_factor(double coverage, double dof);

/// The coverage probability that every result is stated with: of a normal distribution within two standard deviations,
/// erf(sqrt 2), 95.45 %.
inline constexpr double usual_coverage = 0.954499736103641585599;

/// The factor for the usual coverage: exactly 2 for infinitely many degrees of freedom, and never that of fewer than
/// one.
double usual_coverage_factor(double dof);

} // namespace stillmark::metrology
