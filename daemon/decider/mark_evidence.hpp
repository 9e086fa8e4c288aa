#pragma once

#include "daemon/bench/state.hpp"
#include "daemon/journal/journal.hpp"
#include "daemon/metrology/reference_pressure.hpp"
#include "drivers/units.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

// What one mark rests on, from the journal alone.

namespace stillmark::decider {

/// The mark, and its reference pressure made again of the load afloat and the surroundings that were stated then.
struct MarkEvidence {
    bench::MarkTaken taken;
    std::string instrument;
    drivers::PressureUnit unit;
    bool manual = false;      ///< a person read the instrument
    Micros utc_offset_us = 0; ///< UTC less CLOCK_BOOTTIME
    metrology::ReferencePressure reference;
};
/// An error where no run, or not the one that is named, has such a mark, and where the journal cannot be folded.
journal::JournalResult<MarkEvidence> evidence_of(const std::string& journal_path, const std::string& run,
                                                 std::int64_t mark);

/// What the mean of the readings and the instrument add to a mark's uncertainty, with the reference as one line.
struct ReadingLine {
    const char* input;
    double u_pa = 0;
    double share = 0; ///< of the variance of the mark, 0 to 1
};
std::vector<ReadingLine> reading_lines(const bench::MarkTaken& mark);

/// A reading of a mark's window.
struct WindowReading {
    std::uint64_t number = 0; ///< in the journal; 0: entered by a person
    Micros at_us = 0;
    std::optional<double> value_pa; ///< a bad one has none
    std::string status;             ///< "good", "silent"; of a person's "before tapping" and "after tapping"
    Micros timing_us = 0;
};
/// The readings of the mark's channel from the first of its window to the last, in order.
journal::JournalResult<std::vector<WindowReading>> window_readings(const std::string& journal_path,
                                                                   const MarkEvidence& evidence);

} // namespace stillmark::decider
