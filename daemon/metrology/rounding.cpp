#include "daemon/metrology/rounding.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <string_view>

namespace stillmark::metrology {

namespace {

/// A number over zero in decimal: 0.d1 d2 d3 ... times ten to the power `exponent`; d1 is not 0.
struct Decimal {
    std::string digits; ///< as characters
    int exponent = 0;
};

/// The shortest decimal that reads back as this number. Precondition: finite, not zero.
Decimal shortest(double magnitude) {
    std::array<char, 40> text{};
    const auto end = std::to_chars(text.data(), text.data() + text.size(), magnitude, std::chars_format::scientific);
    const std::string_view all(text.data(), static_cast<std::size_t>(end.ptr - text.data()));
    const auto e = all.find('e');
    Decimal out;
    for (const char one : all.substr(0, e))
        if (one != '.') out.digits.push_back(one);
    int power = 0;
    const auto* first = all.data() + e + 1;
    if (*first == '+') ++first;
    std::from_chars(first, all.data() + all.size(), power);
    out.exponent = power + 1;
    return out;
}

/// Rounds to the digit of the power of ten `place`; no digit is left where the number is under half of that.
void round_to(Decimal& number, int place) {
    const int keep = number.exponent - place;
    if (keep < 0) {
        number.digits.clear();
        return;
    }
    const auto kept = static_cast<std::size_t>(keep);
    if (kept >= number.digits.size()) {
        number.digits.append(kept - number.digits.size(), '0');
        return;
    }
    const std::string rest = number.digits.substr(kept);
    number.digits.resize(kept);
    const bool odd = kept > 0 && (number.digits.back() - '0') % 2 == 1;
    const bool tie =
        rest.front() == '5' && std::all_of(rest.begin() + 1, rest.end(), [](char one) { return one == '0'; });
    const bool up = tie ? odd : rest.front() >= '5';
    if (!up) return;
    for (std::size_t i = kept; i-- > 0;) {
        if (number.digits[i] != '9') {
            ++number.digits[i];
            return;
        }
        number.digits[i] = '0';
    }
    number.digits.insert(number.digits.begin(), '1');
    ++number.exponent;
}

/// Without exponent, its last digit at `place` or, of whole tens, filled with zeros.
std::string written(const Decimal& number, int place) {
    // Digits above and below the point, counted from the last one.
    std::string digits = number.digits;
    if (place > 0) digits.append(static_cast<std::size_t>(place), '0');
    const auto behind = static_cast<std::size_t>(std::max(0, -place));
    if (digits.size() <= behind) digits.insert(0, behind + 1 - digits.size(), '0');
    if (digits.find_first_not_of('0') == std::string::npos) digits = std::string(behind + 1, '0');
    if (behind > 0) digits.insert(digits.size() - behind, 1, '.');
    return digits;
}

constexpr int finest_place = -12;

} // namespace

int place_of(double uncertainty) {
    if (!(uncertainty > 0) || !std::isfinite(uncertainty)) return finest_place;
    Decimal number = shortest(uncertainty);
    const int place = number.exponent - 2;
    round_to(number, place);
    // 0.0996 became 0.100: one digit fewer behind the point.
    return std::max(finest_place, number.exponent - 2);
}

std::string rounded(double value, int place) {
    if (!std::isfinite(value)) return "-";
    Decimal number;
    if (value != 0) number = shortest(std::abs(value));
    if (value != 0) round_to(number, place);
    std::string text = written(number, place);
    const bool nothing = text.find_first_of("123456789") == std::string::npos;
    return value < 0 && !nothing ? "-" + text : text;
}

std::string rounded_uncertainty(double uncertainty) {
    return rounded(uncertainty, place_of(uncertainty));
}

} // namespace stillmark::metrology
