#include "daemon/records/digital/decimal.hpp"

#include <algorithm>
#include <charconv>
#include <cstddef>
#include <cstdlib>
#include <system_error>
#include <vector>

namespace stillmark::records::digital {

namespace {

/// Digits without sign and point, and how many of them stand behind the point.
struct Digits {
    bool negative = false;
    std::string all;
    std::size_t behind = 0;
};

std::optional<Digits> digits_of(std::string_view text) {
    Digits out;
    if (!text.empty() && (text.front() == '-' || text.front() == '+')) {
        out.negative = text.front() == '-';
        text.remove_prefix(1);
    }
    int exponent = 0;
    if (const auto e = text.find_first_of("eE"); e != std::string_view::npos) {
        std::string_view power = text.substr(e + 1);
        if (power.starts_with('+') && !power.starts_with("+-")) power.remove_prefix(1);
        const auto read = std::from_chars(power.data(), power.data() + power.size(), exponent);
        constexpr int largest = 400; // of a double, with room
        if (read.ec != std::errc() || read.ptr != power.data() + power.size() || std::abs(exponent) > largest)
            return std::nullopt;
        text = text.substr(0, e);
    }
    bool point = false;
    for (const char one : text) {
        if (one == '.' && !point) {
            point = true;
            continue;
        }
        if (one < '0' || one > '9') return std::nullopt;
        out.all += one;
        out.behind += point ? 1 : 0;
    }
    if (out.all.empty()) return std::nullopt;
    // 1e-5 has five digits behind the point, 1e5 five more before it.
    if (exponent < 0) out.behind += static_cast<std::size_t>(-exponent);
    for (; exponent > 0; --exponent) {
        if (out.behind > 0)
            --out.behind;
        else
            out.all += '0';
    }
    return out;
}

} // namespace

bool is_decimal(std::string_view text) {
    return digits_of(text).has_value();
}

std::optional<std::string> product(std::string_view a, std::string_view b) {
    const auto left = digits_of(a), right = digits_of(b);
    if (!left || !right) return std::nullopt;
    // As on paper, the last digit first.
    std::vector<int> columns(left->all.size() + right->all.size(), 0);
    for (std::size_t i = 0; i < left->all.size(); ++i)
        for (std::size_t j = 0; j < right->all.size(); ++j) {
            const std::size_t at = (left->all.size() - 1 - i) + (right->all.size() - 1 - j);
            const int sum = columns[at] + (left->all[i] - '0') * (right->all[j] - '0');
            columns[at] = sum % 10;
            columns[at + 1] += sum / 10;
        }
    std::string digits;
    int carried = 0;
    for (const int one : columns) {
        digits += static_cast<char>('0' + (one + carried) % 10);
        carried = (one + carried) / 10;
    }
    std::size_t behind = left->behind + right->behind;
    if (digits.size() <= behind) digits.append(behind + 1 - digits.size(), '0');
    std::reverse(digits.begin(), digits.end());
    std::string whole = digits.substr(0, digits.size() - behind), part = digits.substr(digits.size() - behind);
    part.erase(part.find_last_not_of('0') + 1);
    whole.erase(0, std::min(whole.find_first_not_of('0'), whole.size() - 1));
    const bool nothing = whole == "0" && part.empty();
    return (left->negative != right->negative && !nothing ? "-" : "") + whole + (part.empty() ? "" : "." + part);
}

} // namespace stillmark::records::digital
