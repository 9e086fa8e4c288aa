#pragma once

#include <string>

namespace stillmark::metrology {

// The one place where a result is rounded for people: ISO 80000-1:2009, annex B (rule A: of two multiples equally near
// the even one), applied to the shortest decimal number that is the value, as a person would write it. Verdicts never
// come from what is rounded here.

/// The power of ten of the last digit of an uncertainty that is shown with two significant digits (JCGM 100:2008,
/// 7.2.6): -3 for 0.012, 1 for 120. Looks at the rounded uncertainty: of 0.0996 it is -2, because that is shown as
/// 0.10. `uncertainty` is finite and over zero; for anything else the place is that of 1e-12.
int place_of(double uncertainty);

/// The uncertainty to two significant digits, without exponent. Never smaller than the value by more than 5 % of it
/// (EA-4/02 M:2022, 6.3): with two digits the nearest never is.
std::string rounded_uncertainty(double uncertainty);

/// A value to the digit of that power of ten, without exponent: (12.3456, -2) is "12.35", (1234, 2) is "1200". Never
/// "-0". What is no number is "-".
std::string rounded(double value, int place);

} // namespace stillmark::metrology
