#pragma once

#include "daemon/bench/bench_file.hpp"
#include "daemon/bench/instruction.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::bench {

enum class StepKind : std::uint8_t {
    act,   ///< an instruction that a person acknowledges
    load,  ///< the discs on the head, and the load stated
    raise, ///< raise, turn, confirm the float
    vent,  ///< open the line to air, and say so
    read,  ///< marks are taken
    sight, ///< a second sighting of the floating piston
    wait,  ///< passes by itself
    check, ///< something is looked at before the run and held against its limit
};

/// What is looked at before a run.
enum class CheckKind : std::uint8_t { warm_up, level, purge, leak, zero, preload };
const char* word(CheckKind kind);

/// One step of a run as a person is guided through it.
struct Step {
    StepKind kind = StepKind::act;
    std::string title;
    std::vector<Instruction> say;
    std::vector<Instruction> caution;
    std::optional<std::size_t> visit; ///< which visit to a point; none for preparations
    std::optional<std::size_t> point; ///< of the sequence; the pressure that the step is about
    std::optional<std::size_t> range;
    std::optional<CheckKind> check; ///< of a check; of the hold of a preload, which is one too
    Direction direction = Direction::rising;
    std::vector<std::size_t> take_off; ///< in the order of lifting: from the top, also what goes on again afterwards
    std::vector<std::size_t> put_on;   ///< then, from the bottom
    bool lets_down = false;            ///< once done, the line is without pressure
    double wait_s = 0;                 ///< of a wait; of a read: what must pass after the confirmation
    double wait_dial_s = 0;            ///< the same for an instrument that a person reads, where it is longer
};

/// One visit to a point: where marks are taken.
struct Visit {
    std::size_t point = 0;
    Direction direction = Direction::rising;
    int series = 1;
    bool vented = false; ///< a zero
};

struct Plan {
    std::vector<Step> steps;
    std::vector<Visit> visits;
};

/// Every step of a sequence on this bench, in order: level, fill and purge, preloads, series, changeovers, relief.
Plan plan_steps(const BenchFile& bench, const Sequence& sequence);

/// Whether `next` is the raising for which `step` puts the load on, with no other work between them.
bool is_raising_of(const Step& step, const Step& next);

/// Words a load step for the stack on the head now: the lifts in their order, and the caution that goes with them.
void list_moves(Step& step, const BenchFile& bench, const std::vector<std::size_t>& on_head,
                const std::vector<std::size_t>& wanted);

} // namespace stillmark::bench
