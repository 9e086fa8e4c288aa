#pragma once

#include "drivers/profile.hpp"
#include "protocols/text_link.hpp"

#include <cstdint>
#include <memory>
#include <span>
#include <string>

namespace stillmark::drivers {

/// Whether a reading can count, and if not, why not. The numbers are written into journals: never renumber.
enum class ReadingStatus : std::uint8_t {
    good = 0,
    silent = 1,           ///< no answer in time
    link_down = 2,        ///< adapter or connection gone
    bad_frame = 3,        ///< an answer that could not be trusted
    refused = 4,          ///< the instrument said that it cannot now
    unsupported = 5,      ///< the instrument does not know the register or request
    instrument_fault = 6, ///< the instrument reports a fault of its own
    under_range = 7,
    over_range = 8,
    not_a_number = 9,    ///< NaN, infinity, or beyond anything that a pressure can be
    not_understood = 10, ///< text that does not fit the profile's pattern or unit
    doubtful = 11,       ///< takes the reading before it back: its answer may belong to another request
};

/// The word for people and files: "good", "silent", "bad frame", ...
const char* word(ReadingStatus status);

/// One value in SI with the instant of the middle of its exchange and half the exchange as timing uncertainty.
struct DriverReading {
    double value_pa = 0; ///< meaningful only where status is good
    Micros at_us = 0;
    Micros timing_us = 0; ///< half the exchange
    ReadingStatus status = ReadingStatus::good;
    std::string detail; ///< words for the log where the status is not good
    /// The line has shown that the answer before this one may belong to another request.
    bool doubts_previous = false;
};

/// The number that registers hold, in the profile's unit times nothing: raw * scale + offset, or why it is none.
/// Pure; defined for any registers and any count.
struct Decoded {
    double value = 0;
    ReadingStatus status = ReadingStatus::good;
    bool other_order = false; ///< the number would rather make sense in another order of its bytes
};
Decoded decode(const ModbusReading& how, std::span<const std::uint16_t> registers);

/// The value in pascals in a line of text, or why it is none. Pure; defined for any bytes.
Decoded decode(const TextReading& how, const PressureUnit& unit, const std::string& line);

/// One instrument on one link. Used by the link's one thread.
class Driver {
  public:
    virtual ~Driver() = default;
    virtual DriverReading read() = 0;
};

std::unique_ptr<Driver> make_modbus_driver(const Profile& profile, protocols::ModbusLink& link, int server);
std::unique_ptr<Driver> make_text_driver(const Profile& profile, protocols::TextLink& link);

/// What a person entered for an instrument with no wire: value with unit before and after tapping.
/// Checks unit and division: "12.345 bar" on a 0.2 bar division estimated to fifths is refused, with what would do.
struct ManualEntry {
    double untapped_pa = 0;
    double tapped_pa = 0;
};
QuantityResult<ManualEntry> read_manual_entry(const Profile& profile, const std::string& untapped,
                                              const std::string& tapped);

} // namespace stillmark::drivers
