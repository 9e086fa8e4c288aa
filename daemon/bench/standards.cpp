#include "daemon/bench/standards.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <chrono>

namespace stillmark::bench {

namespace {

constexpr Micros day_us = 86'400'000'000;

std::optional<int> digits(const std::string& text, std::size_t from, std::size_t count) {
    int value = 0;
    const char* begin = text.data() + from;
    for (const char* at = begin; at != begin + count; ++at)
        if (*at < '0' || *at > '9') return std::nullopt;
    std::from_chars(begin, begin + count, value);
    return value;
}

} // namespace

std::optional<Micros> utc_us_of_date(const std::string& date) {
    if (date.size() != 10 || date[4] != '-' || date[7] != '-') return std::nullopt;
    const auto year = digits(date, 0, 4), month = digits(date, 5, 2), day = digits(date, 8, 2);
    if (!year || !month || !day) return std::nullopt;
    const std::chrono::year_month_day whole{std::chrono::year(*year), std::chrono::month(static_cast<unsigned>(*month)),
                                            std::chrono::day(static_cast<unsigned>(*day))};
    if (!whole.ok()) return std::nullopt;
    return std::chrono::sys_days(whole).time_since_epoch().count() * day_us;
}

std::string date_of(Micros utc_us) {
    const auto days = std::chrono::floor<std::chrono::days>(std::chrono::microseconds(utc_us));
    const std::chrono::year_month_day date{std::chrono::sys_days(days)};
    return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(date.year()), static_cast<unsigned>(date.month()),
                       static_cast<unsigned>(date.day()));
}

std::vector<const StandardCertificate*> expired_at(const std::vector<StandardCertificate>& standards, Micros utc_us,
                                                   Micros within_us) {
    std::vector<const StandardCertificate*> list;
    for (const auto& one : standards)
        if (utc_us + within_us >= one.valid_until_utc_us) list.push_back(&one);
    return list;
}

std::vector<std::string> unstated_standards(const std::vector<StandardCertificate>& standards, bool rests_on_ambient) {
    std::vector<const char*> needed{"balance", "discs"};
    if (rests_on_ambient) needed.push_back("barometer");
    std::vector<std::string> list;
    for (const char* what : needed)
        if (std::none_of(standards.begin(), standards.end(),
                         [what](const StandardCertificate& one) { return one.what == what; }))
            list.emplace_back(what);
    return list;
}

} // namespace stillmark::bench
