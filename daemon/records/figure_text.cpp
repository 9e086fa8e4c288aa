#include "daemon/records/figure_text.hpp"

#include "daemon/metrology/rounding.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>

namespace stillmark::records {

namespace {

constexpr std::int64_t us_per_s = 1'000'000;
constexpr std::int64_t first_s = -62'135'596'800; // 0001-01-01T00:00:00Z
constexpr std::int64_t last_s = 253'402'300'799;  // 9999-12-31T23:59:59Z

std::chrono::sys_seconds seconds_of(std::int64_t utc_us) {
    const std::int64_t whole = utc_us / us_per_s - (utc_us % us_per_s < 0 ? 1 : 0);
    return std::chrono::sys_seconds(std::chrono::seconds(std::clamp(whole, first_s, last_s)));
}

std::string date_of(std::chrono::sys_days day) {
    const std::chrono::year_month_day date(day);
    return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(date.year()), static_cast<unsigned>(date.month()),
                       static_cast<unsigned>(date.day()));
}

} // namespace

std::string k_text(double k) {
    return metrology::rounded(k, -2);
}

std::string date_text(std::int64_t utc_us) {
    return date_of(std::chrono::floor<std::chrono::days>(seconds_of(utc_us)));
}

std::string instant_text(std::int64_t utc_us) {
    const auto instant = seconds_of(utc_us);
    const auto day = std::chrono::floor<std::chrono::days>(instant);
    const std::chrono::hh_mm_ss time(instant - day);
    return fmt::format("{}T{:02}:{:02}:{:02}Z", date_of(day), time.hours().count(), time.minutes().count(),
                       time.seconds().count());
}

} // namespace stillmark::records
