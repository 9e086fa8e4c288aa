#pragma once

#include "daemon/bench/contradiction.hpp"
#include "daemon/bench/seen_reading.hpp"
#include "daemon/bench/state.hpp"

#include <boost/system/result.hpp>

#include <span>
#include <string>
#include <vector>

namespace stillmark::bench {

/// Why a request was not granted, for a person. `malformed`: the request itself makes no sense.
struct Refusal {
    std::string why;
    bool malformed = false;
    /// The instruments that contradict the press: it may be pressed again with a reason. Empty: it is refused for good.
    std::vector<Contradiction> contradicted = {};
};
Refusal refused(std::string why);
Refusal malformed(std::string why);
using Decision = boost::system::result<std::vector<Fact>, Refusal>;
[[noreturn]] void throw_exception_from_error(const Refusal& refusal, const boost::source_location& at);

/// A key that a person pressed.
struct Press {
    Micros pressed_us = 0;
    Micros now_us = 0;
    std::string by;
    bool logged_in = false;             ///< the service knows by a password that it is `by`
    std::vector<SeenReading> seen = {}; ///< what the wired instruments show as it is decided
    bool despite = false;               ///< the person saw what contradicts it, and presses all the same
    std::string reason = {};            ///< of that
};

/// The present, as a request is decided in it.
struct Moment {
    Micros now_us = 0;
    std::vector<SeenReading> seen = {}; ///< of the wired instruments that take part, the good readings of now
};

/// Why a press can no longer, or not yet, tell what is; nothing where it can.
std::optional<Refusal> stale_press(const Press& press);

/// The facts of a press that states something of the pressure. Where instruments contradict it: a refusal that names
/// them, or with `press.despite` and a reason the facts, and that they were overruled. `what`: press_confirm ...
Decision held_against_readings(const State& state, const Press& press, const char* what, std::vector<Fact> facts,
                               std::vector<Contradiction> contradicted);

// What a person or a controller asks for becomes facts, or is refused with the reason. Pure; nothing is changed here.
/// `override_health`: why the run starts although a range of its sequence is in poor health; empty: there is no reason.
Decision start_run(const State& state, const Press& press, const std::string& sequence, const std::string& condition,
                   std::vector<std::string> instruments, const std::string& override_health = "");
Decision stop_run(const State& state, const Press& press, const std::string& reason);
Decision step_done(const State& state, const Press& press, std::int64_t step);
/// The load is as the present step plans; `step` is the number that the person saw.
Decision state_planned_load(const State& state, const Press& press, std::int64_t step);
Decision state_load(const State& state, const Press& press, const std::string& range,
                    const std::vector<std::string>& discs);
/// The line is open to air, where the present step asks for it.
Decision vent_line(const State& state, const Press& press);
Decision confirm_float(const State& state, const Press& press, const std::string& range);
/// A look that would close the float before it can count for a mark is refused, with how much it came too early.
Decision sight_float(const State& state, const Press& press, bool close);
/// What a look at the piston at an instant counts for.
struct Look {
    std::vector<std::int64_t> brackets; ///< marks that it makes sighted
    struct Early {
        std::int64_t mark = 0;
        Micros by_us = 0; ///< so much before the mark's last reading may have been taken
    };
    std::vector<Early> early;
    std::string why; ///< why it brackets no mark; empty where it brackets one
};
Look look_at_piston(const State& state, Micros pressed_us);
Decision lose_float(const State& state, const Press& press);
Decision undo_press(const State& state, const Press& press);
/// Until when the last press can be taken back, while nothing else happens; nothing where there is none.
std::optional<Micros> undo_until_us(const State& state);
Decision enter_reading(const State& state, const Press& press, const std::string& channel, const std::string& untapped,
                       const std::string& tapped, Micros started_us);
Decision void_mark(const State& state, const Press& press, std::int64_t mark, const std::string& reason);

/// Goes back to the visit that a mark belongs to, which is void or unbracketed.
Decision redo_visit(const State& state, const Press& press, std::int64_t mark);

/// Texts with units; an empty one is not stated.
struct SurroundingsTexts {
    std::string air_temperature, air_pressure, humidity, piston_temperature;
};
Decision state_surroundings(const State& state, const Press& press, const SurroundingsTexts& texts);

/// Facts that time alone brings about: an expiry, a wait that has passed, the end of a run. The hold of a preload is
/// held against the readings `seen` at its end.
std::vector<Fact> due_facts(const State& state, Micros now_us, std::span<const SeenReading> seen = {});
/// When due_facts has something next, or nothing.
std::optional<Micros> next_due_us(const State& state);

} // namespace stillmark::bench
