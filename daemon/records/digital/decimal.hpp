#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace stillmark::records::digital {

/// That a text is a decimal number, "-0.02" or "1e-05".
bool is_decimal(std::string_view text);

/// The product of two such numbers, exact, without exponent and without a zero at its end:
/// "40.00" times "100000" is "4000000". Nothing where a factor is no such number.
std::optional<std::string> product(std::string_view a, std::string_view b);

} // namespace stillmark::records::digital
