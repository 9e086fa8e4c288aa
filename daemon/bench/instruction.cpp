#include "daemon/bench/instruction.hpp"

namespace stillmark::bench {

const char* word(InstructionCode code) {
    switch (code) {
    case InstructionCode::level:
        return "level";
    case InstructionCode::purge:
        return "purge";
    case InstructionCode::set_valves:
        return "set_valves";
    case InstructionCode::turn_over:
        return "turn_over";
    case InstructionCode::shut_off:
        return "shut_off";
    case InstructionCode::open_again:
        return "open_again";
    case InstructionCode::wind:
        return "wind";
    case InstructionCode::wind_out:
        return "wind_out";
    case InstructionCode::open_vent:
        return "open_vent";
    case InstructionCode::close_vent:
        return "close_vent";
    case InstructionCode::leave_open:
        return "leave_open";
    case InstructionCode::zeros_stay:
        return "zeros_stay";
    case InstructionCode::clamp_anew:
        return "clamp_anew";
    case InstructionCode::take_off:
        return "take_off";
    case InstructionCode::put_on:
        return "put_on";
    case InstructionCode::discs_stay:
        return "discs_stay";
    case InstructionCode::turn_discs:
        return "turn_discs";
    case InstructionCode::confirm_float:
        return "confirm_float";
    case InstructionCode::look_again:
        return "look_again";
    case InstructionCode::hands_off:
        return "hands_off";
    case InstructionCode::hold_pressure:
        return "hold_pressure";
    case InstructionCode::read_dial:
        return "read_dial";
    case InstructionCode::state_value:
        return "state_value";
    case InstructionCode::begin_check:
        return "begin_check";
    case InstructionCode::check_zeros:
        return "check_zeros";
    case InstructionCode::relieve_first:
        return "relieve_first";
    case InstructionCode::eye_protection:
        return "eye_protection";
    case InstructionCode::trapped_air:
        return "trapped_air";
    case InstructionCode::stay_under:
        return "stay_under";
    case InstructionCode::keep_clear:
        return "keep_clear";
    case InstructionCode::keep_steady:
        return "keep_steady";
    case InstructionCode::piston_down:
        return "piston_down";
    }
    return "";
}

} // namespace stillmark::bench
