#pragma once

#include "daemon/metrology/uncertain.hpp"

namespace stillmark::metrology {

/// The share of the weight that a tilt of the piston's axis takes, 1 - cos(theta), with its standard uncertainty.
///
/// About theta = 0, where a levelled balance stands, the cosine has no slope: first order would say that tilt does not
/// matter at all. So this one input enters by its second-order terms (JCGM 100:2008, 5.1.2, note; the example of
/// F.2.4.4 is this same cosine). With u the standard uncertainty of theta and k the kurtosis of its distribution:
///   expectation  1 - cos(theta) (1 - u^2/2)
///   u            sqrt( sin(theta)^2 u^2 + cos(theta)^2 (k - 1) u^4 / 4 )
/// The expectation is part of the reference pressure: a tilt can only take away.
Uncertain tilt_loss(const Uncertain& tilt_rad);

} // namespace stillmark::metrology
