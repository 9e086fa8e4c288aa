#pragma once

#include <cstdint>
#include <string>

namespace stillmark::records {

/// An instant as paper shows it, to the minute.
struct LocalTime {
    std::string date;        ///< "2026-09-21"
    std::string time_of_day; ///< "16:13"
    std::string zone;        ///< "UTC+02:00", or "UTC"
    std::string words() const { return date + " " + time_of_day + " " + zone; }
};

/// Local to a zone by its IANA name; an empty name, and one that this machine does not know, is UTC.
LocalTime local_time(std::int64_t utc_us, const std::string& zone);

/// Whether this machine's tzdata has such a zone.
bool is_time_zone(const std::string& name);

} // namespace stillmark::records
