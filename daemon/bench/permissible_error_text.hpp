#pragma once

#include "daemon/bench/file_place.hpp"
#include "daemon/metrology/evaluation/permissible_error.hpp"

#include <functional>
#include <optional>
#include <string>

namespace stillmark::bench {

/// A permissible error in words, absolute terms in pascals:
///   "class 1.6" (EN 837-1), "verification class 1.6", "in-service class 1.6", "grade 2A" (ASME B40.100),
///   "0.1 % of reading", "0.05 % of span", "0.5 bar",
///   {"larger_of": [two or more of these]}, {"sum_of": [...]}.
/// What is none of these is told at its place.
/// `other` may read an absolute term in words of its own, in pascals.
using AbsoluteTerm = std::function<std::optional<double>(const std::string& words)>;
metrology::PermissibleError read_permissible_error(const Place& place, const AbsoluteTerm& other = {});

} // namespace stillmark::bench
