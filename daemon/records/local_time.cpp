#include "daemon/records/local_time.hpp"

#include <chrono>
#include <date/tz.h>
#include <stdexcept>

namespace stillmark::records {

namespace {

/// Null where it is not known. The library throws for that, and where tzdata is not installed.
const date::time_zone* zone_named(const std::string& name) {
    if (name.empty()) return nullptr;
    try {
        return date::locate_zone(name);
    } catch (const std::runtime_error&) {
        return nullptr;
    }
}

} // namespace

LocalTime local_time(std::int64_t utc_us, const std::string& zone) {
    const date::sys_time<std::chrono::seconds> at{
        std::chrono::floor<std::chrono::seconds>(std::chrono::microseconds(utc_us))};
    const date::time_zone* known = zone_named(zone);
    const std::chrono::seconds offset = known != nullptr ? known->get_info(at).offset : std::chrono::seconds(0);
    const date::local_time<std::chrono::seconds> local{(at + offset).time_since_epoch()};
    LocalTime out{date::format("%F", local), date::format("%H:%M", local), "UTC"};
    if (offset != std::chrono::seconds(0)) {
        const date::sys_time<std::chrono::seconds> apart{std::chrono::abs(offset)};
        out.zone += (offset < std::chrono::seconds(0) ? "-" : "+") + date::format("%H:%M", apart);
    }
    return out;
}

bool is_time_zone(const std::string& name) {
    return zone_named(name) != nullptr;
}

} // namespace stillmark::records
