#pragma once

#include "daemon/decider/decider.hpp"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::decider {

/// What a person is told beside the step. Clients act on the code; the text is for reading.
enum class AdviceCode : std::uint8_t {
    over_pressure,     ///< a reading above the lowest rating on the bench
    journal_failed,    ///< nothing is recorded
    was_away,          ///< the service was away while the piston floated
    fell_away,         ///< the pressure fell far below the point of a falling series
    beyond_point,      ///< the pressure went past the point in the direction of the series
    other_range,       ///< confirmed in another range than the step plans
    float_doubtful,    ///< all readings drift at constant load
    load_doubtful,     ///< all readings at rest lie off in the same way
    all_off,           ///< the same, not at rest yet
    float_expires,     ///< soon
    load_differs,      ///< the stated load is not the planned one
    read_barometer,    ///< an instrument of the run counts from the air pressure
    standard_validity, ///< a standard's certificate has expired, or soon will
    turn_direction     ///< which way to turn the discs this time
};
/// The code as clients have it: "over_pressure".
const char* word(AdviceCode code);

struct Advice {
    AdviceCode code = AdviceCode::turn_direction;
    bool alarm = false; ///< it must not be missed
    std::string text;
    std::optional<std::size_t> channel; ///< the instrument that it is about, where it is about one
    std::vector<std::string> ranked;    ///< explanations of a doubt, the likely first
};

/// Everything that there is to be told now: alarms of pressure first.
std::vector<Advice> advice(const Decider& decider);

} // namespace stillmark::decider
