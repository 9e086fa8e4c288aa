#include "daemon/decider/advice.hpp"

#include "daemon/bench/ambient.hpp"
#include "daemon/bench/certificates.hpp"
#include "daemon/bench/health.hpp"
#include "daemon/bench/ledger.hpp"
#include "daemon/bench/mark.hpp"
#include "daemon/bench/reference.hpp"
#include "daemon/bench/runs.hpp"
#include "daemon/bench/suspicion.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace stillmark::decider {

namespace {

using Code = AdviceCode;

std::string disc_names(const bench::BenchFile& bench, const std::vector<std::size_t>& discs) {
    std::string names;
    for (const auto disc : discs)
        names += (names.empty() ? "" : " ") + bench.discs[disc].piece.name;
    return names.empty() ? "none" : names;
}

class Adviser {
  public:
    explicit Adviser(const Decider& decider)
        : decider_(decider), state_(decider.state()), run_(state_.running()),
          step_(run_ != nullptr ? run_->now() : nullptr) {}

    std::vector<Advice> all() {
        over_pressure();
        if (decider_.journal_failed())
            alarm(Code::journal_failed, "the journal cannot be written: nothing is recorded until it can");
        if (state_.was_away)
            say(Code::was_away, "the service was away while the piston floated: look at the piston and confirm again");
        if (run_ == nullptr) return std::move(all_);
        before_the_points();
        if (step_ != nullptr) at_step();
        if (const auto* interval = state_.open_interval()) at_float(*interval);
        return std::move(all_);
    }

  private:
    Advice& say(Code code, std::string text) {
        Advice one;
        one.code = code;
        one.text = std::move(text);
        return all_.emplace_back(std::move(one));
    }
    Advice& alarm(Code code, std::string text) {
        Advice& one = say(code, std::move(text));
        one.alarm = true;
        return one;
    }

    void over_pressure() {
        const auto& weakest = state_.bench->weakest();
        for (std::size_t i = 0; i < state_.channels.size(); ++i)
            if (state_.channels[i].above_rating)
                alarm(Code::over_pressure,
                      fmt::format("{} reads above the lowest rating on the bench ({}, {:g} bar): let the pressure down "
                                  "now",
                                  state_.bench->instruments[i].name, weakest.part, weakest.rating_pa / 1e5))
                    .channel = i;
    }

    void before_the_points() {
        if (bench::surroundings_asked(state_, decider_.now_us()) == std::vector<std::string>{"air_pressure"})
            say(Code::read_barometer,
                "read the barometer and enter the air pressure: an instrument of this run counts from it");
        // While the rig is made ready there is still time to see to a certificate; at the points it would only stand in
        // the way.
        const auto loads = [](const bench::Step& one) { return one.kind == bench::StepKind::load; };
        const auto& steps = run_->plan.steps;
        if (step_ != nullptr &&
            std::none_of(steps.begin(), steps.begin() + static_cast<std::ptrdiff_t>(run_->step) + 1, loads))
            for (auto& words : bench::validity_warnings(*run_))
                say(Code::standard_validity, std::move(words));
    }

    void at_step() {
        const auto& bench = *state_.bench;
        if (step_->point)
            for (std::size_t i = 0; i < state_.channels.size(); ++i)
                if (state_.channels[i].beyond_pa) beyond(i, *state_.channels[i].beyond_pa);
        if (state_.load && step_->point && step_->kind == bench::StepKind::load &&
            !bench::load_agrees(state_, *step_) && state_.load->range == *step_->range &&
            run_->step_since_us <= decider_.now_us() && state_.undo && state_.undo->what == "the stated load")
            say(Code::load_differs,
                fmt::format("the stated load ({}) is not the planned one ({})", disc_names(bench, state_.load->discs),
                            disc_names(bench, bench.sequences[run_->sequence].points[*step_->point].discs)));
        if (step_->kind == bench::StepKind::raise && step_->visit)
            say(Code::turn_direction, fmt::format("turn the discs {} this time: the way alternates from point to point",
                                                  bench::rotation_word(*step_->visit)));
    }

    /// Past the point by a hand at the press, or fallen: a hand that winds down does not miss by a quarter.
    void beyond(std::size_t channel, double beyond_pa) {
        constexpr double least_part = 0.75;
        const auto& instrument = state_.bench->instruments[channel];
        const bool falling = step_->direction == bench::Direction::falling;
        const double target_pa = state_.bench->sequences[run_->sequence].points[*step_->point].target_pa;
        if (falling && beyond_pa < least_part * target_pa)
            alarm(Code::fell_away,
                  fmt::format("the pressure fell: {} read {}, far below the point: look at the piston, the valves and "
                              "the line; then go above the point and return",
                              instrument.name, bench::pressure_words(instrument, beyond_pa)))
                .channel = channel;
        else
            alarm(Code::beyond_point, fmt::format("{} went beyond the point: go {} and return", instrument.name,
                                                  falling ? "above it" : "below it"))
                .channel = channel;
    }

    void at_float(const bench::FloatInterval& interval) {
        const auto& ranges = state_.bench->balance.ranges;
        if (step_ != nullptr && step_->range && *step_->range != interval.range)
            say(Code::other_range,
                fmt::format("the {} range was confirmed, the step plans the {} range: no mark is taken",
                            ranges[interval.range].physics.name, ranges[*step_->range].physics.name));
        const auto* of_load = bench::load_suspicion(state_);
        if (const auto* of_float = bench::float_suspicion(state_))
            say(Code::float_doubtful, of_float->words).ranked = best(of_float->ranked);
        if (of_load != nullptr) say(Code::load_doubtful, of_load->words).ranked = best(of_load->ranked);
        const double left_s = static_cast<double>(interval.expires_us - decider_.now_us()) / 1e6;
        if (left_s < 15)
            alarm(Code::float_expires,
                  fmt::format("the float expires in {:.0f} s: look at the piston and say sighted to renew it",
                              std::max(0.0, left_s)));
        if (of_load == nullptr) all_off(interval);
    }

    /// Every instrument far off in the same direction is hardly the instruments' doing, at rest or not.
    void all_off(const bench::FloatInterval& interval) {
        double least_pa = 0;
        int sign = 0;
        std::size_t seen = 0;
        for (std::size_t i = 0; i < decider_.channels().size(); ++i) {
            const auto& live = decider_.channels()[i];
            if (!live.detector || !run_->takes_part[i]) continue;
            const auto& instrument = state_.bench->instruments[i];
            const auto* reading = live.fresh(decider_.now_us(), instrument.poll_s);
            if (reading == nullptr) return;
            const double off_pa =
                reading->value_pa - metrology::reference_pressure_pa(bench::reference_inputs(
                                        *state_.bench, interval.range, interval.discs, state_.conditions.air,
                                        state_.conditions.piston_temperature_c, &instrument));
            const int way = off_pa > 3 * instrument.mpe_pa ? 1 : off_pa < -3 * instrument.mpe_pa ? -1 : 0;
            if (way == 0 || (sign != 0 && way != sign)) return;
            sign = way;
            least_pa = seen == 0 || std::abs(off_pa) < std::abs(least_pa) ? off_pa : least_pa;
            ++seen;
        }
        if (seen > 0)
            say(Code::all_off,
                fmt::format("all instruments read at least {:.3g} bar {} what this load makes afloat: look at the "
                            "piston, and count the discs",
                            std::abs(least_pa) / 1e5, sign > 0 ? "above" : "below"));
    }

    static std::vector<std::string> best(const std::vector<std::string>& ranked) {
        constexpr std::size_t most = 3;
        return {ranked.begin(), ranked.begin() + static_cast<std::ptrdiff_t>(std::min(most, ranked.size()))};
    }

    const Decider& decider_;
    const bench::State& state_;
    const bench::Run* run_;
    const bench::Step* step_;
    std::vector<Advice> all_;
};

} // namespace

const char* word(AdviceCode code) {
    switch (code) {
    case Code::over_pressure:
        return "over_pressure";
    case Code::journal_failed:
        return "journal_failed";
    case Code::was_away:
        return "was_away";
    case Code::fell_away:
        return "fell_away";
    case Code::beyond_point:
        return "beyond_point";
    case Code::other_range:
        return "other_range";
    case Code::float_doubtful:
        return "float_doubtful";
    case Code::load_doubtful:
        return "load_doubtful";
    case Code::all_off:
        return "all_off";
    case Code::float_expires:
        return "float_expires";
    case Code::load_differs:
        return "load_differs";
    case Code::read_barometer:
        return "read_barometer";
    case Code::standard_validity:
        return "standard_validity";
    case Code::turn_direction:
        return "turn_direction";
    }
    return "";
}

std::vector<Advice> advice(const Decider& decider) {
    return Adviser(decider).all();
}

} // namespace stillmark::decider
