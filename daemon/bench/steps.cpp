#include "daemon/bench/steps.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace stillmark::bench {

namespace {

/// Common practice of hydraulic benches; local rules and the makers' manuals come first.
const char* const relieve_first = "Relieve the pressure before undoing anything.";
const char* const eye_protection = "Wear eye protection. Local rules and the makers' manuals come first.";

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

    void prepare() {
        Step& level = add(StepKind::act, "Level the balance");
        level.say = {"Level the balance by its spirit level, and again with the head turned half round."};
        Step& fill = add(StepKind::act, "Fill and purge");
        fill.say = {"Fill the line, purge the air at every instrument, close the vent.",
                    "Check that each instrument shows its zero with the line open to air."};
        fill.caution = {"Trapped air stores energy and makes the line soft: purge until the press feels hard.",
                        eye_protection,
                        fmt::format("Weakest part: {}, {:g} bar. Stay under it.", bench_.weakest().part,
                                    bench_.weakest().rating_pa / 1e5)};
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
        step.say = to.valves;
        if (!first) step.caution = {"Keep the pressure steady: do not wind the press while the valves are turned."};
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
        if (line_open_) step.say.emplace_back("Close the line to air.");
        line_open_ = false;
        step.say.emplace_back(direction == Direction::falling
                                  ? "Wind the press slowly, without going below the point, until the piston floats in "
                                    "the middle of its band."
                                  : "Wind the press slowly, without going beyond the point, until the piston floats in "
                                    "the middle of its band.");
        step.say.emplace_back("Turn the discs by hand.");
        step.say.push_back(
            fmt::format("Confirm when the piston floats in its band ({:g} mm) and turns freely.", band_mm));
        step.caution = {
            fmt::format("Stay under {:g} bar ({}).", bench_.weakest().rating_pa / 1e5, bench_.weakest().part)};
    }

    /// Between two series the instruments are taken out and put in again, so that what clamping does to them shows.
    void reclamp(int series) {
        if (holds_pressure_) relieve("Relieve the pressure before the instruments are clamped anew");
        Step& step = add(StepKind::act, fmt::format("Clamp the instruments anew before series {}", series));
        step.say = {"Undo each instrument, turn it where its thread allows, and clamp it again as before.",
                    "Purge the air at every instrument again."};
        step.caution = {relieve_first, eye_protection,
                        "Trapped air stores energy and makes the line soft: purge until the press feels hard."};
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
        open.say = {"Wind the press out until the piston rests and the line is without pressure.",
                    fmt::format("Open the line to air at {}, and say that it is open.", bench_.balance.level_mark)};
        open.caution = {relieve_first};
        Step& read = add(StepKind::read, about + ": read");
        read.point = index;
        read.direction = direction;
        read.visit = number;
        read.say = {"Leave the line open to air."};
        list_dials(read);
        read.wait_s = sequence_.wait_s;
        holds_pressure_ = false;
        line_open_ = true;
    }

    void list_dials(Step& read) const {
        for (const auto& instrument : bench_.instruments)
            if (instrument.manual())
                read.say.push_back(fmt::format("Read {}: before tapping and after tapping it.", instrument.name));
    }

    void preload(std::size_t top, int number) {
        const auto about =
            fmt::format("Preload {} of {}: {}", number, sequence_.preloads, naming(sequence_.points[top]));
        turn_over(sequence_.points[top].range);
        load(top, Direction::preload, about);
        raise(top, Direction::preload, about, std::nullopt);
        Step& hold = add(StepKind::wait, about + ": hold");
        describe(hold, top, Direction::preload);
        hold.say = {"Hold the pressure."};
        hold.wait_s = sequence_.preload_hold_s;
        holds_pressure_ = true;
        relieve(fmt::format("Relieve the pressure after preload {}", number));
    }

    void relieve(const std::string& title) {
        Step& step = add(StepKind::act, title);
        step.say = {"Wind the press out until the piston rests and the line is without pressure, then open the vent to "
                    "read the zero and close it again."};
        step.caution = {relieve_first};
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
        read.say = {"Hands off the balance and the press."};
        list_dials(read);
        const bool turning_point = index + 1 == sequence_.points.size();
        read.wait_s = turning_point ? sequence_.wait_at_top_s : sequence_.wait_s;
        if (turning_point) read.wait_dial_s = sequence_.wait_at_top_dial_s;
        Step& sight = add(StepKind::sight, about + ": look again");
        describe(sight, index, direction);
        sight.visit = number;
        sight.say = {"Look at the piston: still in its band and turning? Then say that you sighted it.",
                     "If not, say that the float was lost."};
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

void list_moves(Step& step, const BenchFile& bench, const std::vector<std::size_t>& on_head,
                const std::vector<std::size_t>& wanted) {
    const auto missing_in = [](const std::vector<std::size_t>& list, const std::vector<std::size_t>& from) {
        std::vector<std::size_t> missing;
        for (const auto disc : from)
            if (std::find(list.begin(), list.end(), disc) == list.end()) missing.push_back(disc);
        return missing;
    };
    const auto naming = [&bench](std::size_t disc) {
        const auto& one = bench.discs[disc];
        return fmt::format("{} ({:g} kg{})", one.piece.name, one.piece.mass_kg.value,
                           one.two_hands ? ", two hands" : "");
    };
    step.take_off = missing_in(wanted, on_head);
    step.put_on = missing_in(on_head, wanted);
    step.say.clear();
    step.caution.clear();
    for (const auto disc : step.take_off)
        step.say.push_back("Take off: " + naming(disc));
    for (const auto disc : step.put_on)
        step.say.push_back("Put on: " + naming(disc));
    if (step.say.empty())
        step.say.emplace_back(wanted.empty() ? "No discs: the floating parts alone." : "The discs stay as they are.");
    if (!step.take_off.empty())
        step.caution.emplace_back(
            "Let the piston down to rest first: never take discs off a raised piston under load.");
}

Plan plan_steps(const BenchFile& bench, const Sequence& sequence) {
    return Planner(bench, sequence).plan();
}

} // namespace stillmark::bench
