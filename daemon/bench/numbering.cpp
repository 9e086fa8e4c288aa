#include "daemon/bench/numbering.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

namespace stillmark::bench {

namespace {

constexpr const char* count_place = "{count}";
constexpr std::size_t least_digits = 4;
constexpr std::size_t most_digits = 9;

std::string with_each(std::string text, const std::string& what, const std::string& by) {
    for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + by.size()))
        text.replace(at, what.size(), by);
    return text;
}

} // namespace

std::string numbering_series(const RecordSettings& records, Micros utc_us) {
    return with_each(records.numbering, "{year}", date_of(utc_us).substr(0, 4));
}

std::string number_in(const std::string& series, std::int64_t count) {
    return with_each(series, count_place, fmt::format("{:04}", count));
}

std::optional<std::int64_t> count_in(const std::string& series, const std::string& number) {
    const auto at = series.find(count_place);
    if (at == std::string::npos || number.size() < at + least_digits) return std::nullopt;
    // Digits may follow the count in the pattern, so each length is tried.
    for (std::size_t digits = least_digits; digits <= most_digits && at + digits <= number.size(); ++digits) {
        std::int64_t count = 0;
        const char* end = number.data() + at + digits;
        const auto read = std::from_chars(number.data() + at, end, count);
        if (read.ec != std::errc() || read.ptr != end) return std::nullopt;
        if (count > 0 && number_in(series, count) == number) return count;
    }
    return std::nullopt;
}

std::optional<std::string> next_number(const State& state, Micros utc_us, const NumbersOutside& outside) {
    const std::string series = numbering_series(state.bench->records, utc_us);
    std::int64_t highest = 0;
    for (const auto& one : state.certificates)
        highest = std::max(highest, count_in(series, one.draft.certificate).value_or(0));
    for (const auto& number : outside.taken)
        highest = std::max(highest, count_in(series, number).value_or(0));
    if (highest >= most_in_series) return std::nullopt;
    return number_in(series, highest + 1);
}

} // namespace stillmark::bench
