#include "drivers/reading_status.hpp"

#include <fmt/format.h>

#include <cmath>

namespace stillmark::drivers {

const char* word(ReadingStatus status) {
    switch (status) {
    case ReadingStatus::good:
        return "good";
    case ReadingStatus::silent:
        return "silent";
    case ReadingStatus::link_down:
        return "link down";
    case ReadingStatus::bad_frame:
        return "bad frame";
    case ReadingStatus::refused:
        return "refused";
    case ReadingStatus::unsupported:
        return "unsupported";
    case ReadingStatus::instrument_fault:
        return "instrument fault";
    case ReadingStatus::under_range:
        return "under range";
    case ReadingStatus::over_range:
        return "over range";
    case ReadingStatus::not_a_number:
        return "not a number";
    case ReadingStatus::not_understood:
        return "not understood";
    case ReadingStatus::doubtful:
        return "doubtful";
    }
    return "unknown";
}

ReadingStatus status_named(std::string_view meaning) {
    if (meaning == "under_range") return ReadingStatus::under_range;
    if (meaning == "over_range") return ReadingStatus::over_range;
    return ReadingStatus::instrument_fault;
}

ReadingStatus status_of(protocols::Fault fault) {
    switch (fault) {
    case protocols::Fault::link_down:
        return ReadingStatus::link_down;
    case protocols::Fault::silent:
        return ReadingStatus::silent;
    case protocols::Fault::bad_frame:
        return ReadingStatus::bad_frame;
    case protocols::Fault::refused:
        return ReadingStatus::refused;
    case protocols::Fault::unsupported:
        return ReadingStatus::unsupported;
    }
    return ReadingStatus::bad_frame;
}

DriverReading reading_without_value(ReadingStatus status, std::string detail, Micros before_us, Micros after_us) {
    return {0, before_us + (after_us - before_us) / 2, (after_us - before_us + 1) / 2, status, std::move(detail)};
}

DriverReading reading_of(double value_pa, Micros before_us, Micros after_us) {
    if (!(std::abs(value_pa) <= greatest_pressure_pa)) {
        return reading_without_value(ReadingStatus::not_a_number,
                                     fmt::format("{:g} Pa is no pressure; see that the byte order is right", value_pa),
                                     before_us, after_us);
    }
    return {value_pa, before_us + (after_us - before_us) / 2, (after_us - before_us + 1) / 2, ReadingStatus::good, {}};
}

} // namespace stillmark::drivers
