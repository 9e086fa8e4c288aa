#include "daemon/bench/steps.hpp"

#include "daemon/metrology/loads/disc_moves.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace stillmark::bench {

namespace {

/// Common practice of hydraulic benches; local rules and the makers' manuals come first.
Instruction relieve_first() {
    return {InstructionCode::relieve_first, "Relieve the pressure before undoing anything."};
}
Instruction eye_protection() {
    return {InstructionCode::eye_protection, "Wear eye protection. Local rules and the makers' manuals come first."};
}
Instruction trapped_air() {
    return {InstructionCode::trapped_air,
            "Trapped air stores energy and makes the line soft: purge until the press feels hard."};
}

/// The bench file's own words.
std::vector<Instruction> in_own_words(InstructionCode code, const std::vector<std::string>& texts) {
    std::vector<Instruction> list;
    for (const auto& text : texts)
        list.push_back({code, text});
    return list;
}

std::string duration_words(double seconds) {
    return seconds >= 60 ? fmt::format("{:g} min", seconds / 60) : fmt::format("{:g} s", seconds);
}

class Planner {
  public:
    Planner(const BenchFile& bench, const Sequence& sequence) : bench_(bench), sequence_(sequence) {}

    Plan plan() {
        prepare();
        const std::size_t top = sequence_.points.size() - 1;
        for (int i = 1; i <= sequence_.preloads; ++i)
            preload(top, i);
        int number = 0;
        for (const SequenceSeries& series : sequence_.series) {
            ++number;
            if (series.reclamp_before) reclamp(number);
            auto points = series.points;
            if (series.direction == Direction::falling)
                std::reverse(points.begin(), points.end());
            else if (holds_pressure_ && !sequence_.points[points.front()].zero)
                relieve("Relieve the pressure before the next rising series");
            for (const std::size_t point : points) {
                if (sequence_.points[point].zero)
                    zero(point, series.direction, number);
                else
                    visit(point, series.direction, number);
            }
        }
        if (holds_pressure_) relieve("Relieve the pressure: the last point is done");
        return std::move(plan_);
    }

  private:
    Step& add(StepKind kind, std::string title) {
        Step step;
        step.kind = kind;
        step.title = std::move(title);
        return plan_.steps.emplace_back(std::move(step));
    }

    Step& add_check(CheckKind kind, std::string title) {
        Step& step = add(StepKind::check, std::move(title));
        step.check = kind;
        return step;
    }

    void prepare() {
        const Checks& checks = bench_.checks;
        if (checks.warm_up_s) {
            Step& warm = add_check(CheckKind::warm_up, "Check the warm-up");
            warm.say = {{InstructionCode::state_value,
                         fmt::format("State how long every instrument has been powered: at least {}.",
                                     duration_words(*checks.warm_up_s))}};
        }
        Step& level = add(checks.level_rad ? StepKind::check : StepKind::act, "Level the balance");
        level.say = {{InstructionCode::level,
                      "Level the balance by its spirit level, and again with the head turned half round."}};
        if (checks.level_rad) {
            level.check = CheckKind::level;
            level.say.push_back(
                {InstructionCode::state_value,
                 fmt::format("State what the level still shows: at most {:g} mrad.", *checks.level_rad * 1e3)});
        }
        Step& fill = add(StepKind::act, "Fill and purge");
        fill.say = {{InstructionCode::purge, "Fill the line, purge the air at every instrument, close the vent."}};
        if (!checks.zero)
            fill.say.push_back(
                {InstructionCode::check_zeros, "Check that each instrument shows its zero with the line open to air."});
        fill.caution = {
            trapped_air(),
            eye_protection(),
            {InstructionCode::stay_under, fmt::format("Weakest part: {}, {:g} bar. Stay under it.",
                                                      bench_.weakest().part, bench_.weakest().rating_pa / 1e5)}};
        if (checks.purge) check_purge(*checks.purge);
        if (checks.leak) check_leak(*checks.leak);
        if (checks.zero) check_zero();
    }

    void check_purge(const Checks::Purge& purge) {
        Step& step = add_check(CheckKind::purge, "Check the purge");
        step.say = in_own_words(InstructionCode::shut_off, purge.valves);
        step.say.push_back(
            {InstructionCode::wind,
             fmt::format("Wind the press from the first resistance to {}, and count its turns.", purge.to)});
        step.say.push_back({InstructionCode::state_value,
                            fmt::format("State the turns: more than {:g} mean air in the line.", purge.most_turns)});
        step.caution = {{InstructionCode::trapped_air,
                         "Trapped air stores energy: relieve the pressure before it is purged again."},
                        eye_protection()};
        holds_pressure_ = true;
        if (bench_.checks.leak) return;
        relieve("Relieve the pressure after the purge was checked");
        open_again(purge.valves);
    }

    void open_again(const std::vector<std::string>& shut) {
        if (!shut.empty())
            plan_.steps.back().say.push_back({InstructionCode::open_again, "Open again what was shut for the check."});
    }

    void check_leak(const Checks::Leak& leak) {
        const auto& channel = bench_.instruments[leak.channel].name;
        Step& step = add_check(CheckKind::leak, "Check for leaks");
        step.say = in_own_words(InstructionCode::shut_off, leak.valves);
        step.say.push_back(
            {InstructionCode::wind, fmt::format("Wind the press to {}, and take the hands off it.", leak.at)});
        step.say.push_back(
            {InstructionCode::begin_check,
             fmt::format("Then begin: after {} of rest {} is watched for {}; it may fall by {:g} bar.",
                         duration_words(leak.settle_s), channel, duration_words(leak.watch_s), leak.drop_pa / 1e5)});
        step.caution = {
            {InstructionCode::keep_clear, fmt::format("Stay under {:g} bar ({}). Keep clear of joints under pressure.",
                                                      bench_.weakest().rating_pa / 1e5, bench_.weakest().part)},
            relieve_first(),
            eye_protection()};
        holds_pressure_ = true;
        relieve("Relieve the pressure after the leak check");
        open_again(leak.valves);
    }

    void check_zero() {
        Step& step = add_check(CheckKind::zero, "Check the zeros");
        step.say = {{InstructionCode::open_vent,
                     fmt::format("Open the line to air at {}, and say that it is open: then the zeros are read.",
                                 bench_.balance.level_mark)}};
        for (const auto& instrument : bench_.instruments)
            if (instrument.manual() && !instrument.pointer_stop)
                step.say.push_back(
                    {InstructionCode::read_dial, fmt::format("Tap {} and state what it shows.", instrument.name)});
        step.say.push_back({InstructionCode::zeros_stay,
                            "Nothing is set to zero: what an instrument is off stays part of its result."});
        step.caution = {relieve_first()};
        line_open_ = true;
    }

    void turn_over(std::size_t range) {
        if (range_ == range) return;
        const bool first = !range_.has_value();
        range_ = range;
        const auto& to = bench_.balance.ranges[range];
        if (to.valves.empty()) return;
        Step& step = add(StepKind::act,
                         fmt::format("{} to the {} range", first ? "Set the valves" : "Turn over", to.physics.name));
        step.range = range;
        step.say = in_own_words(first ? InstructionCode::set_valves : InstructionCode::turn_over, to.valves);
        if (!first)
            step.caution = {{InstructionCode::keep_steady,
                             "Keep the pressure steady: do not wind the press while the valves are turned."}};
    }

    std::string naming(const SequencePoint& point) const {
        return bench_.balance.ranges.size() > 1
                   ? fmt::format("{}, {} range", point.target, bench_.balance.ranges[point.range].physics.name)
                   : point.target;
    }

    void describe(Step& step, std::size_t index, Direction direction) const {
        step.point = index;
        step.range = sequence_.points[index].range;
        step.direction = direction;
    }

    void load(std::size_t index, Direction direction, const std::string& about) {
        const auto& point = sequence_.points[index];
        if (loaded_ && on_head_ == point.discs && loaded_range_ == point.range) return;
        Step& step = add(StepKind::load, about + ": load");
        describe(step, index, direction);
        list_moves(step, bench_, on_head_, point.discs);
        on_head_ = point.discs;
        loaded_ = true;
        loaded_range_ = point.range;
    }

    void raise(std::size_t index, Direction direction, const std::string& about, std::optional<std::size_t> visit) {
        Step& step = add(StepKind::raise, about + ": raise and turn");
        describe(step, index, direction);
        step.visit = visit;
        const double band_mm = bench_.balance.ranges[sequence_.points[index].range].float_band_m * 1000;
        if (line_open_) step.say.push_back({InstructionCode::close_vent, "Close the line to air."});
        line_open_ = false;
        step.say.push_back({InstructionCode::wind,
                            direction == Direction::falling
                                ? "Wind the press slowly, without going below the point, until the piston floats in "
                                  "the middle of its band."
                                : "Wind the press slowly, without going beyond the point, until the piston floats in "
                                  "the middle of its band."});
        step.say.push_back({InstructionCode::turn_discs, "Turn the discs by hand."});
        step.say.push_back(
            {InstructionCode::confirm_float,
             fmt::format("Confirm when the piston floats in its band ({:g} mm) and turns freely.", band_mm)});
        step.caution = {
            {InstructionCode::stay_under,
             fmt::format("Stay under {:g} bar ({}).", bench_.weakest().rating_pa / 1e5, bench_.weakest().part)}};
    }

    /// Between two series the instruments are taken out and put in again, so that what clamping does to them shows.
    void reclamp(int series) {
        if (holds_pressure_) relieve("Relieve the pressure before the instruments are clamped anew");
        Step& step = add(StepKind::act, fmt::format("Clamp the instruments anew before series {}", series));
        step.say = {{InstructionCode::clamp_anew,
                     "Undo each instrument, turn it where its thread allows, and clamp it again as before."},
                    {InstructionCode::purge, "Purge the air at every instrument again."}};
        step.caution = {relieve_first(), eye_protection(), trapped_air()};
        step.lets_down = true;
    }

    /// A zero: nothing floats, the line is open to air at the level mark.
    void zero(std::size_t index, Direction direction, int series) {
        const std::size_t number = plan_.visits.size();
        plan_.visits.push_back({index, direction, series, true});
        const auto about = fmt::format("Point {} of {}, {}: zero", index + 1, sequence_.points.size(), word(direction));
        Step& open = add(StepKind::vent, about + ": open the line");
        open.point = index;
        open.direction = direction;
        open.visit = number;
        open.say = {
            {InstructionCode::wind_out, "Wind the press out until the piston rests and the line is without pressure."},
            {InstructionCode::open_vent,
             fmt::format("Open the line to air at {}, and say that it is open.", bench_.balance.level_mark)}};
        open.caution = {relieve_first()};
        Step& read = add(StepKind::read, about + ": read");
        read.point = index;
        read.direction = direction;
        read.visit = number;
        read.say = {{InstructionCode::leave_open, "Leave the line open to air."}};
        list_dials(read, true);
        read.wait_s = sequence_.wait_s;
        holds_pressure_ = false;
        line_open_ = true;
    }

    void list_dials(Step& read, bool at_zero = false) const {
        for (const auto& instrument : bench_.instruments)
            if (instrument.manual() && !(at_zero && instrument.pointer_stop))
                read.say.push_back({InstructionCode::read_dial,
                                    fmt::format("Read {}: before tapping and after tapping it.", instrument.name)});
    }

    void preload(std::size_t top, int number) {
        const auto about =
            fmt::format("Preload {} of {}: {}", number, sequence_.preloads, naming(sequence_.points[top]));
        turn_over(sequence_.points[top].range);
        load(top, Direction::preload, about);
        raise(top, Direction::preload, about, std::nullopt);
        Step& hold = add(StepKind::wait, about + ": hold");
        describe(hold, top, Direction::preload);
        hold.say = {{InstructionCode::hold_pressure, "Hold the pressure."}};
        hold.wait_s = sequence_.preload_hold_s;
        hold.check = CheckKind::preload;
        holds_pressure_ = true;
        relieve(fmt::format("Relieve the pressure after preload {}", number));
    }

    void relieve(const std::string& title) {
        Step& step = add(StepKind::act, title);
        step.say = {
            {InstructionCode::wind_out, "Wind the press out until the piston rests and the line is without pressure."},
            {InstructionCode::open_vent, "Open the vent to read the zero, and close it again."}};
        step.caution = {relieve_first()};
        step.lets_down = true;
        holds_pressure_ = false;
    }

    void visit(std::size_t index, Direction direction, int series) {
        const auto& point = sequence_.points[index];
        const std::size_t number = plan_.visits.size();
        plan_.visits.push_back({index, direction, series, false});
        const auto about =
            fmt::format("Point {} of {}, {}: {}", index + 1, sequence_.points.size(), word(direction), naming(point));
        // Under the few discs of the high range the wide piston would rise as soon as its valve opens, and the pressure
        // fall far below the point: on the way down its load goes on first.
        if (direction == Direction::falling) {
            load(index, direction, about);
            turn_over(point.range);
        } else {
            turn_over(point.range);
            load(index, direction, about);
        }
        raise(index, direction, about, number);
        Step& read = add(StepKind::read, about + ": read");
        describe(read, index, direction);
        read.visit = number;
        read.say = {{InstructionCode::hands_off, "Hands off the balance and the press."}};
        list_dials(read);
        const bool turning_point = index + 1 == sequence_.points.size();
        read.wait_s = turning_point ? sequence_.wait_at_top_s : sequence_.wait_s;
        if (turning_point) read.wait_dial_s = sequence_.wait_at_top_dial_s;
        Step& sight = add(StepKind::sight, about + ": look again");
        describe(sight, index, direction);
        sight.visit = number;
        sight.say = {{InstructionCode::look_again,
                      "Look at the piston: still in its band and turning? Then say that you sighted it."},
                     {InstructionCode::look_again, "If not, say that the float was lost."}};
        holds_pressure_ = true;
    }

    const BenchFile& bench_;
    const Sequence& sequence_;
    Plan plan_;
    std::optional<std::size_t> range_;
    std::vector<std::size_t> on_head_;
    std::size_t loaded_range_ = 0;
    bool loaded_ = false;
    bool holds_pressure_ = false;
    bool line_open_ = false;
};

} // namespace

const char* word(CheckKind kind) {
    switch (kind) {
    case CheckKind::warm_up:
        return "warm-up";
    case CheckKind::level:
        return "level";
    case CheckKind::purge:
        return "purge";
    case CheckKind::leak:
        return "leak";
    case CheckKind::zero:
        return "zero";
    case CheckKind::preload:
        return "preload";
    }
    return "";
}

bool is_raising_of(const Step& step, const Step& next) {
    return step.kind == StepKind::load && next.kind == StepKind::raise && step.point == next.point &&
           step.direction == next.direction;
}

void list_moves(Step& step, const BenchFile& bench, const std::vector<std::size_t>& on_head,
                const std::vector<std::size_t>& wanted) {
    step.take_off.clear();
    step.put_on.clear();
    for (const auto& move : metrology::disc_moves(on_head, wanted))
        (move.on ? step.put_on : step.take_off).push_back(move.disc);
    const auto naming = [&bench](const std::vector<std::size_t>& discs) {
        std::string names;
        for (const auto disc : discs) {
            const auto& one = bench.discs[disc];
            names += fmt::format("{}{} ({:g} kg{})", names.empty() ? "" : ", ", one.piece.name, one.piece.mass_kg.value,
                                 one.two_hands ? ", two hands" : "");
        }
        return names;
    };
    step.say.clear();
    step.caution.clear();
    if (!step.take_off.empty())
        step.say.push_back(
            {InstructionCode::take_off, fmt::format("Take off, from the top: {}.", naming(step.take_off))});
    if (!step.put_on.empty())
        step.say.push_back({InstructionCode::put_on, fmt::format("Put on, from the bottom: {}.", naming(step.put_on))});
    if (step.say.empty())
        step.say.push_back({InstructionCode::discs_stay,
                            wanted.empty() ? "No discs: the floating parts alone." : "The discs stay as they are."});
    if (!step.take_off.empty())
        step.caution.push_back({InstructionCode::piston_down,
                                "Let the piston down to rest first: never take discs off a raised piston under load."});
}

Plan plan_steps(const BenchFile& bench, const Sequence& sequence) {
    return Planner(bench, sequence).plan();
}

} // namespace stillmark::bench
