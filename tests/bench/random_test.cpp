#include "bench/world.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <random>

namespace stillmark::bench::testing {
namespace {

/// People and instruments that do anything at any time, mostly what the step asks for.
class AnyCourse {
  public:
    explicit AnyCourse(std::uint64_t seed)
        : draw_(seed), world_(small_bench_text({{R"("fall_rate": "0.6 mm/min")", R"("fall_rate": "20 mm/min")"},
                                                {R"("spin_time": "240 s")", R"("spin_time": "20 s")"},
                                                {R"("spin_time": "180 s")", R"("spin_time": "15 s")"},
                                                {R"("wait": "0.5 s")", R"("wait": "1.1 s")"},
                                                {R"("sequences": [)", checks}})) {}

    static constexpr const char* checks =
        R"("checks": {"warm_up": "1 h", "leak": {"at": "100 bar", "watch": "2 s", "drop": "1 bar"}, "zero": {}},
           "sequences": [)";

    void go(int steps) {
        for (int i = 0; i < steps && !::testing::Test::HasFailure(); ++i) {
            one();
            watch_sightings();
            check();
        }
    }
    const World& world() const { return world_; }

  private:
    int up_to(int most) { return std::uniform_int_distribution<int>(0, most)(draw_); }
    double age_s() { return up_to(9) == 0 ? 0.001 * up_to(4000) : 0.001 * up_to(50); }
    const char* range() { return up_to(1) == 0 ? "low" : "high"; }
    std::size_t channel() { return static_cast<std::size_t>(up_to(3)); }

    void one() {
        const Run* run = world_.state.running();
        if (up_to(2) == 0) return world_.pass(0.001 * up_to(up_to(20) == 0 ? 30000 : 2000));
        if (run != nullptr && run->now() != nullptr && up_to(2) == 0) return as_asked();
        switch (up_to(19)) {
        case 0:
            (void)world_.start(up_to(1) == 0 ? std::vector<std::string>{}
                                             : std::vector<std::string>{"transmitter A", "dial D"});
            break;
        case 1:
            if (up_to(20) == 0) (void)world_.does(stop_run(world_.state, world_.press(), "any reason"));
            break;
        case 2:
            if (run != nullptr) (void)world_.step_done();
            break;
        case 3:
            (void)world_.load(range(), {"A1"}, age_s());
            break;
        case 4:
            if (run != nullptr) (void)world_.load_as_planned(age_s());
            break;
        case 5:
            (void)world_.confirm(range(), age_s());
            break;
        case 6:
            (void)world_.sighted(false, age_s());
            break;
        case 7:
            (void)world_.sighted(true, age_s());
            break;
        case 8:
            (void)world_.lost(age_s());
            break;
        case 9:
            (void)world_.undo(age_s());
            break;
        case 10:
            (void)world_.enter("dial D", "2 bar", "20 bar", 0.001 * up_to(3000));
            break;
        case 11:
            (void)world_.void_mark(up_to(20));
            break;
        case 12:
            (void)world_.does(redo_visit(world_.state, world_.press(), up_to(20)));
            break;
        case 13:
            (void)world_.does(state_surroundings(
                world_.state, world_.press(), {up_to(3) == 0 ? "29 degC" : "21.4 degC", "968 hPa", "45 %", "21 degC"}));
            break;
        case 14: {
            using acquisition::Stillness;
            const Stillness any[] = {Stillness::moving, Stillness::settling, Stillness::silent, Stillness::faulty};
            world_.happen(StillnessChanged{up_to(2), any[up_to(3)], 1});
            break;
        }
        case 15:
            if (up_to(20) == 0) restart();
            break;
        case 16:
            any_fact();
            break;
        default:
            window();
            break;
        }
    }

    void as_asked() {
        switch (world_.at()) {
        case StepKind::act:
            (void)world_.step_done();
            break;
        case StepKind::load:
            (void)world_.load_as_planned(age_s());
            break;
        case StepKind::raise:
            (void)world_.confirm(world_.planned_range(), age_s());
            break;
        case StepKind::sight:
            (void)world_.sighted(up_to(3) != 0, age_s());
            break;
        case StepKind::wait:
            world_.pass(0.5);
            break;
        case StepKind::vent:
            (void)world_.does(vent_line(world_.state, world_.press(age_s())));
            break;
        case StepKind::check:
            if (up_to(2) == 0) (void)world_.watch_check(up_to(1) * 1e6, 0, static_cast<std::size_t>(up_to(40)));
            (void)world_.state_check(up_to(1) == 0 ? "2 h" : "0 bar", up_to(1) == 0 ? "dial D" : "");
            if (up_to(2) == 0)
                (void)world_.does(
                    waive_check(world_.state, world_.press(), static_cast<std::int64_t>(world_.run().step), "any"));
            break;
        case StepKind::read:
            for (std::size_t i = 0; i < 3; ++i)
                if (world_.state.channels[i].stillness != acquisition::Stillness::still) world_.still(i);
            window();
            if (up_to(1) == 0) (void)world_.enter("dial D", "2 bar", "2 bar", 0.001 * up_to(1500));
            break;
        }
    }

    // A window from anywhere near now, as a collector with a fault might offer it: it must be judged right.
    void window() {
        const auto which = static_cast<std::size_t>(up_to(2));
        const Micros from_us = world_.now_us + Micros{1000} * (up_to(4000) - 2000);
        (void)world_.window(which, std::max<Micros>(from_us, 1), 0, up_to(1000));
    }

    void restart() {
        world_.happen(ServiceStarted{"invented boot", 1, "", "", "", ""});
        if (const auto* interval = world_.state.open_interval()) world_.happen(FloatUnknown{interval->number});
    }

    // Facts that do not fit change nothing, or at least break nothing.
    void any_fact() {
        const std::int64_t any = up_to(30) - 5;
        const Fact facts[] = {FloatExpired{any},
                              FloatUnknown{any},
                              StepDone{any, ""},
                              WaitElapsed{any},
                              CheckBegun{any, "", 0},
                              CheckRecorded{"R1", any, "any", "any", {}, {}, "", up_to(1) == 0, "", 0, 0, ""},
                              CheckWaived{"R1", any, "any", "any", ""},
                              MarkVoided{any, "any", ""},
                              VisitReopened{any, ""},
                              LoadStated{"middle", {"?"}, "", 0},
                              FloatConfirmed{"middle", "", 0},
                              WindowFailed{any, 0, 0, ""},
                              OvershootSeen{any, 0, 0, 0},
                              RatingRestored{any},
                              LossSuspected{any, {}, {}},
                              WrongLoadSuspected{any, 1e5, 1e4, 2, {}},
                              HealthStated{"middle", "none", -1, 0, "", 0, 0},
                              RunStarted{"R9", "none", "", {}, ""},
                              StillnessChanged{any, acquisition::Stillness::silent, 0}};
        world_.happen(facts[static_cast<std::size_t>(up_to(static_cast<int>(std::size(facts)) - 1))]);
    }

    // The latest sighting of each interval, as its facts tell; kept apart from the state that is tested.
    void watch_sightings() {
        latest_look_us_.resize(world_.state.intervals.size(), 0);
        for (; seen_ < world_.journal.size(); ++seen_) {
            std::string why;
            const auto fact = fact_from_text(world_.journal[seen_].text, why);
            if (const auto* sighted = std::get_if<FloatSighted>(&*fact); sighted != nullptr && !latest_look_us_.empty())
                latest_look_us_.back() = std::max(latest_look_us_.back(), sighted->pressed_us);
        }
    }

    void check() {
        const auto& state = world_.state;
        const double settle_s = state.bench->balance.settle_guard_s;
        std::size_t open = 0;
        for (const auto& interval : state.intervals) {
            if (interval.end == IntervalEnd::open) ++open;
        }
        ASSERT_LE(open, 1U);
        for (const auto& mark : state.marks) {
            if (mark.status == MarkStatus::voided) continue;
            const auto& taken = mark.taken;
            ASSERT_LE(static_cast<std::size_t>(taken.interval), state.intervals.size());
            const auto& interval = state.intervals[static_cast<std::size_t>(taken.interval - 1)];
            const auto& instrument = state.bench->instruments[static_cast<std::size_t>(taken.channel)];
            // The sequence's wait may have passed in an interval before this one, at the same pressure.
            const auto guard_us = static_cast<Micros>((settle_s + instrument.latency_s) * 1e6);
            ASSERT_GE(taken.from_us - taken.timing_us, interval.from_us + guard_us) << "mark " << taken.mark;
            ASSERT_LE(taken.to_us + taken.timing_us, interval.expires_us) << "mark " << taken.mark;
            if (interval.end == IntervalEnd::lost) {
                ASSERT_LE(taken.to_us + taken.timing_us + static_cast<Micros>(state.bench->balance.loss_guard_s * 1e6),
                          interval.to_us)
                    << "mark " << taken.mark;
            }
            if (mark.status == MarkStatus::provisional) {
                ASSERT_EQ(interval.end, IntervalEnd::open) << "mark " << taken.mark;
            }
            if (mark.status == MarkStatus::sighted) {
                ASSERT_LE(taken.to_us + taken.timing_us, latest_look_us_[static_cast<std::size_t>(taken.interval - 1)])
                    << "mark " << taken.mark;
            }
        }
        // One channel has one mark that stands in a visit.
        if (state.running() == nullptr) return;
        std::vector<std::pair<std::int64_t, std::int64_t>> standing;
        for (const auto& mark : state.marks)
            if (mark.taken.run == state.runs.back().id &&
                (mark.status == MarkStatus::provisional || mark.status == MarkStatus::sighted))
                standing.emplace_back(mark.taken.channel, mark.taken.visit);
        std::sort(standing.begin(), standing.end());
        ASSERT_EQ(std::adjacent_find(standing.begin(), standing.end()), standing.end());
    }

    std::mt19937_64 draw_;
    World world_;
    std::size_t seen_ = 0;
    std::vector<Micros> latest_look_us_;
};

class Courses : public ::testing::TestWithParam<int> {};

// Whatever people do, no mark stands whose window is not wholly inside its float and the guards; and folding the
// journalled texts again leads to the same state, to the last bit.
TEST_P(Courses, LeaveNoMarkOutsideItsFloat) {
    std::size_t marks = 0, finished = 0;
    for (std::uint64_t seed = 0; seed < 12; ++seed) {
        SCOPED_TRACE(::testing::Message() << "seed " << seed << " of " << GetParam());
        AnyCourse course(1000 * static_cast<std::uint64_t>(GetParam()) + seed);
        course.go(500);
        if (HasFailure()) return;
        State again;
        for (const auto& line : course.world().journal) {
            std::string why;
            auto fact = fact_from_text(line.text, why);
            ASSERT_TRUE(fact) << why;
            apply(again, {line.number, line.at_us, std::move(*fact)});
        }
        ASSERT_EQ(dump(again), dump(course.world().state));
        marks += course.world().state.marks.size();
        for (const auto& run : course.world().state.runs)
            finished += run.end == RunEnd::finished ? 1 : 0;
    }
    EXPECT_GT(marks, 50U) << "courses that take no marks prove nothing";
}
INSTANTIATE_TEST_SUITE_P(Of, Courses, ::testing::Range(0, 4));

} // namespace
} // namespace stillmark::bench::testing
