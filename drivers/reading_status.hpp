#pragma once

#include "drivers/driver.hpp"

#include <string_view>

namespace stillmark::drivers {

/// The status that a profile's `means` names; `instrument_fault` for any other word.
ReadingStatus status_named(std::string_view meaning);

ReadingStatus status_of(protocols::Fault fault);

/// No pressure that an instrument shows is greater, in Pa (100 kbar): a number beyond was read in the wrong order or is
/// none.
constexpr double greatest_pressure_pa = 1e10;

/// A reading that has no value, at an instant.
DriverReading reading_without_value(ReadingStatus status, std::string detail, Micros before_us, Micros after_us);

/// A good reading, or `not_a_number` where no pressure can be so great. Stamped at the middle of its exchange, with
/// half of it as timing uncertainty.
DriverReading reading_of(double value_pa, Micros before_us, Micros after_us);

} // namespace stillmark::drivers
