#pragma once

#include "drivers/units.hpp"
#include "protocols/modbus_link.hpp"

#include <chrono>
#include <cstdint>
#include <optional>
#include <regex>
#include <string>
#include <variant>
#include <vector>

namespace stillmark::drivers {

enum class NumberType { int16, uint16, int32, uint32, int64, uint64, float32, float64 };

/// The order in which the bytes of a number travel, most significant byte named A.
enum class ByteOrder {
    abcd, ///< big end first, the standard's own
    cdab, ///< words swapped
    badc, ///< bytes swapped inside each word
    dcba, ///< both: little end first
};

/// A raw register value that is no measurement (as many devices send beyond their range), and what it says.
struct Sentinel {
    std::int64_t raw;
    std::string meaning; ///< "under_range", "over_range" or "instrument_fault"
};

/// Bits of a status register: where (register & mask) is not zero, the reading is bad and `meaning` says why.
struct StatusBits {
    protocols::RegisterKind kind;
    std::uint16_t address;
    std::uint16_t mask;
    std::string meaning;
};

struct ModbusReading {
    protocols::RegisterKind kind = protocols::RegisterKind::holding;
    std::uint16_t address = 0;
    NumberType type = NumberType::float32;
    ByteOrder order = ByteOrder::abcd;
    double scale = 1.0;
    double offset = 0.0; ///< in the profile's unit, after the scale
    std::vector<Sentinel> sentinels;
    std::vector<StatusBits> status;
};

/// A request of a text instrument whose answer is no reading: after a silence it parts late answers from new ones.
struct TextIdentification {
    std::string request;
    std::regex pattern;
    std::string pattern_text;
};

struct TextReading {
    std::string request;
    std::string terminator; ///< "\r\n" and the like
    std::regex pattern;     ///< group 1 the number, group 2 (optional) the unit
    std::string pattern_text;
    std::vector<std::string> bad; ///< replies that mean a fault of the instrument
    std::optional<TextIdentification> identification;
};

/// An instrument with no wire: a person enters what the pointer shows.
struct ManualReading {
    double division_si = 0; ///< distance of two graduation marks
    int parts = 5;          ///< a division is estimated to 1/parts: 1, 2, 5 or 10
};

/// How one model of instrument is read. Inert data: the strict schema is the file's only power.
struct Profile {
    std::string model;
    PressureUnit unit;                     ///< what the raw number counts in, and how values are shown
    std::optional<Dimension> signal;       ///< of an electrical output; `unit` is then complete after through()
    std::optional<double> resolution_pa;   ///< smallest step of the indication
    std::optional<double> resolution_si;   ///< the same of an electrical output, in A, V or V/V
    std::optional<double> response_time_s; ///< first-order response time (tau) to a step of pressure
    double latency_s = 0; ///< from pressure at the sensor to the number on the wire, beyond the response time
    std::chrono::milliseconds deadline{200}; ///< how long an answer may take
    std::variant<ModbusReading, TextReading, ManualReading> how;
};

/// The nominal characteristic of an electrical output: the two ends of the span and the output that belongs to them, in
/// SI; straight in between (common practice: 4 to 20 mA, 0 to 10 V, 0 to 2 mV/V).
struct Characteristic {
    double low_si = 0;
    double high_si = 0;
    double low_pa = 0;
    double high_pa = 0;
};
/// The profile of an instrument with an electrical output, read as pressure through its nominal characteristic, so that
/// its deviations are those of a pressure. low_si and high_si differ.
Profile through(Profile profile, const Characteristic& nominal);

/// A mistake in a file: place inside it, what was found, what would do.
struct FileError {
    std::string message;
};
template <class T>
using FileResult = boost::system::result<T, FileError>;
[[noreturn]] void throw_exception_from_error(const FileError& error, const boost::source_location& at);

/// Reads a profile file (JSON, comments allowed). Messages begin with the file's name and the place in it:
/// "x.json: reading.order: \"acbd\" is not a byte order; use abcd, cdab, badc or dcba".
FileResult<Profile> load_profile(const std::string& path);

/// The same from a text that was read before; `name` stands in front of messages.
FileResult<Profile> read_profile(const std::string& name, const std::string& text);

} // namespace stillmark::drivers
