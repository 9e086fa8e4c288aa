#pragma once

#include "daemon/metrology/reference_pressure.hpp"

#include <string_view>
#include <vector>

namespace stillmark::metrology {

/// Whether an input of the budget belongs to one range of a balance alone (its area, level, float ...), so that another
/// range has its own; gravity, air, thermometer, liquid and masses are the same for both.
bool belongs_to_one_range(std::string_view input);

/// Standard uncertainty of the difference of two reference pressures of one balance in its two ranges: what both share
/// moves both and cancels as far as it moves them equally (JCGM 100:2008, 5.2.2 with r = 1).
double u_of_difference_pa(const std::vector<BudgetLine>& low, const std::vector<BudgetLine>& high);

} // namespace stillmark::metrology
