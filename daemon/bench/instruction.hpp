#pragma once

#include <cstdint>
#include <string>

namespace stillmark::bench {

/// What an instruction is about; clients act on it, and only show the text.
enum class InstructionCode : std::uint8_t {
    level,          ///< the balance by its spirit level
    purge,          ///< fill the line and let the air out
    set_valves,     ///< to the first range, in the bench file's own words
    turn_over,      ///< the valves to the other range, in the bench file's own words
    shut_off,       ///< valves for a check, in the bench file's own words
    open_again,     ///< what was shut for a check
    wind,           ///< the press, to a pressure
    wind_out,       ///< until the line is without pressure
    open_vent,      ///< the line to air
    close_vent,     ///< the line to air
    leave_open,     ///< the line to air
    zeros_stay,     ///< nothing is set to zero
    clamp_anew,     ///< the instruments are taken out and put in again
    take_off,       ///< discs, in the order of lifting
    put_on,         ///< discs, from the bottom
    discs_stay,     ///< the load is the one on the head
    turn_discs,     ///< by hand
    confirm_float,  ///< what you see of the piston
    look_again,     ///< at the piston
    hands_off,      ///< balance and press
    hold_pressure,  ///< for a preload
    read_dial,      ///< an instrument without a wire
    state_value,    ///< what a check asks for
    begin_check,    ///< the readings are watched then
    check_zeros,    ///< of all instruments, by eye
    relieve_first,  ///< a caution
    eye_protection, ///< a caution
    trapped_air,    ///< a caution
    stay_under,     ///< a caution: the lowest rating on the bench
    keep_clear,     ///< a caution: joints under pressure
    keep_steady,    ///< a caution: the pressure, while valves are turned
    piston_down     ///< a caution: before discs are lifted off
};
/// The code as clients have it: "take_off".
const char* word(InstructionCode code);

struct Instruction {
    InstructionCode code = InstructionCode::hands_off;
    std::string text;
};

} // namespace stillmark::bench
