#include "daemon/decider/frame.hpp"

#include "daemon/bench/ambient.hpp"
#include "daemon/bench/certificates.hpp"
#include "daemon/bench/checks.hpp"
#include "daemon/bench/health.hpp"
#include "daemon/bench/ledger.hpp"
#include "daemon/bench/mark.hpp"
#include "daemon/bench/reference.hpp"
#include "daemon/bench/runs.hpp"
#include "daemon/bench/written_text.hpp"
#include "daemon/decider/advice.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

namespace stillmark::decider {

using nlohmann::json;

namespace {

json disc_list(const bench::BenchFile& bench, const std::vector<std::size_t>& discs) {
    json list = json::array();
    for (const auto disc : discs)
        list.push_back(bench.discs[disc].piece.name);
    return list;
}

/// How a value is typed that a person states to this check.
const char* typed_unit(const bench::BenchFile& bench, bench::CheckKind kind, const bench::CheckNeed& need) {
    switch (kind) {
    case bench::CheckKind::warm_up:
        return "min";
    case bench::CheckKind::level:
        return "mrad";
    case bench::CheckKind::purge:
        return "turns";
    case bench::CheckKind::zero:
        return need.channel ? bench.instruments[*need.channel].unit.symbol.c_str() : "";
    case bench::CheckKind::leak:
    case bench::CheckKind::preload:
        break;
    }
    return "";
}

/// The check of the present step: what is asked for next, against which limit, and what came last.
json check_json(const Decider& decider, const bench::Run& run, const bench::Step& step) {
    const bool checks = step.kind == bench::StepKind::check || bench::preload_failed(run);
    if (!checks || !step.check) return nullptr;
    const auto needs = bench::open_needs(run, step);
    const auto* last = bench::latest_check(run, run.step);
    const auto* failure = bench::standing_failure(run, run.step);
    if (failure != nullptr) last = failure;
    const auto watch = bench::check_watch(decider.state());
    json check = {{"name", bench::word(*step.check)},
                  {"by", needs.empty() || needs.front().by_readings ? "readings" : "value"},
                  {"unit", nullptr},
                  {"channel", nullptr},
                  {"at_pa", nullptr},
                  {"limit", bench::limit_words(*run.bench, *step.check)},
                  {"measuring", watch.has_value()},
                  {"failed", failure != nullptr},
                  {"words", last != nullptr ? json(last->recorded.words) : json(nullptr)}};
    if (!needs.empty() && !needs.front().by_readings) {
        check["unit"] = typed_unit(*run.bench, *step.check, needs.front());
        if (needs.front().channel) check["channel"] = run.bench->instruments[*needs.front().channel].name;
    }
    if (*step.check == bench::CheckKind::leak) check["at_pa"] = run.bench->checks.leak->at_pa;
    if (*step.check == bench::CheckKind::purge) check["at_pa"] = run.bench->checks.purge->to_pa;
    return check;
}

/// What a check waits for; a failed one says what was found.
std::string waiting_at_check(const Decider& decider, const bench::Run& run, const bench::Step& step,
                             const char*& wants) {
    const auto needs = bench::open_needs(run, step);
    wants = "check";
    if (const auto watch = bench::check_watch(decider.state())) {
        wants = "nothing";
        return fmt::format("the readings are being watched, {:.0f} s to go; hands off",
                           std::max(0.0, static_cast<double>(watch->to_us - decider.now_us()) / 1e6));
    }
    if (const auto* failure = bench::standing_failure(run, run.step))
        return fmt::format("{}. Put it right and check again, or go on with a reason", failure->recorded.words);
    if (needs.empty() || needs.front().by_readings) return "waits until you begin the check";
    if (needs.front().channel)
        return fmt::format("waits for what {} shows", run.bench->instruments[*needs.front().channel].name);
    return "waits for the value that you find";
}

/// What the step waits for, in one sentence.
std::string waiting(const Decider& decider, const bench::Run& run, const bench::Step& step, const char*& wants) {
    const auto& state = decider.state();
    switch (step.kind) {
    case bench::StepKind::act:
        wants = "step_done";
        return "waits until you say that it is done";
    case bench::StepKind::load:
        wants = "load";
        return "waits until you say that the discs are on";
    case bench::StepKind::raise:
        wants = "confirm";
        return "waits until you confirm that the piston floats";
    case bench::StepKind::vent:
        wants = "vented";
        return "waits until you say that the line is open to air";
    case bench::StepKind::sight: {
        // A look before the last reading was surely taken would count for nothing.
        Micros early_us = 0;
        for (const auto& one : bench::look_at_piston(state, decider.now_us()).early)
            early_us = std::max(early_us, one.by_us);
        wants = early_us > 0 ? "nothing" : "sighted";
        if (early_us > 0)
            return fmt::format("every instrument has its mark: a look at the piston counts in {:.1f} s",
                               static_cast<double>(early_us) / 1e6);
        return "every instrument has its mark: look again at the piston";
    }
    case bench::StepKind::wait:
        if (bench::preload_failed(run)) return waiting_at_check(decider, run, step, wants);
        wants = "nothing";
        return "passes by itself";
    case bench::StepKind::check:
        return waiting_at_check(decider, run, step, wants);
    case bench::StepKind::read:
        break;
    }
    wants = "nothing";
    std::string sentence;
    for (std::size_t i = 0; i < run.takes_part.size(); ++i) {
        if (!run.owes_mark(i, *step.visit) || state.standing_mark(i, *step.visit) != nullptr) continue;
        const auto& instrument = state.bench->instruments[i];
        sentence += sentence.empty() ? "waits for " : "; ";
        if (instrument.manual()) {
            wants = "enter";
            sentence += fmt::format("{}: enter its reading", instrument.name);
        } else if (decider.channels()[i].window) {
            sentence += fmt::format("{}: its window", instrument.name);
        } else {
            // Asked now: what held a window back at the last reading may be of the step before.
            std::string why;
            const bool may_open = bench::window_permit(state, i, decider.now_us(), why).has_value();
            sentence += fmt::format("{}: {}", instrument.name, may_open ? "its window" : why);
        }
    }
    return sentence;
}

const char* kind_word(bench::StepKind kind) {
    switch (kind) {
    case bench::StepKind::act:
        return "do";
    case bench::StepKind::load:
        return "load";
    case bench::StepKind::raise:
        return "float";
    case bench::StepKind::read:
        return "read";
    case bench::StepKind::vent:
        return "vent";
    case bench::StepKind::sight:
        return "sight";
    case bench::StepKind::wait:
        return "wait";
    case bench::StepKind::check:
        return "check";
    }
    return "";
}

json instructions(const std::vector<bench::Instruction>& all) {
    json list = json::array();
    for (const auto& one : all)
        list.push_back({{"code", bench::word(one.code)}, {"text", one.text}});
    return list;
}

/// The raising that follows a load at once; nothing where other work comes between, or at another step.
const bench::Step* raising_after(const bench::Run& run, const bench::Step& step) {
    if (run.step + 1 >= run.plan.steps.size()) return nullptr;
    const auto& next = run.plan.steps[run.step + 1];
    return bench::is_raising_of(step, next) ? &next : nullptr;
}

json step_json(const Decider& decider, const bench::Run& run, bench::Step step) {
    const auto& bench = *decider.state().bench;
    const auto& points = bench.sequences[run.sequence].points;
    // The plan knows what should be on the head; what was stated last is what a person starts from.
    if (const auto& load = decider.state().load; step.kind == bench::StepKind::load && step.point && load)
        bench::list_moves(step, bench, load->discs, points[*step.point].discs);
    const char* wants = "nothing";
    const std::string waits_for = waiting(decider, run, step, wants);
    json left = nullptr;
    if (const auto watch = bench::check_watch(decider.state()))
        left = std::max(0.0, static_cast<double>(watch->to_us - decider.now_us()) / 1e6);
    if (step.kind == bench::StepKind::wait && !bench::preload_failed(run))
        left = std::max(0.0, step.wait_s - static_cast<double>(decider.now_us() - run.step_since_us) / 1e6);
    const auto* after = raising_after(run, step);
    const auto* winding = step.kind == bench::StepKind::raise ? &step : after;
    return {
        {"number", run.step},
        {"kind", kind_word(step.kind)},
        {"title", step.title},
        {"say", instructions(step.say)},
        {"caution", instructions(step.caution)},
        {"point", step.point ? json(*step.point + 1) : json(nullptr)},
        {"range", step.range ? json(bench.balance.ranges[*step.range].physics.name) : json(nullptr)},
        {"target", step.point ? json(points[*step.point].target) : json(nullptr)},
        {"target_pa", step.point ? json(points[*step.point].target_pa) : json(nullptr)},
        {"direction", step.point ? json(bench::word(step.direction)) : json(nullptr)},
        {"discs", step.point ? disc_list(bench, points[*step.point].discs) : json::array()},
        {"put_on", disc_list(bench, step.put_on)},
        {"take_off", disc_list(bench, step.take_off)},
        {"turn", winding != nullptr && winding->visit ? json(bench::rotation_word(*winding->visit)) : json(nullptr)},
        // A person who winds before he presses needs the words of what follows too.
        {"then", after != nullptr ? json{{"say", instructions(after->say)}, {"caution", instructions(after->caution)}}
                                  : json(nullptr)},
        {"wants", wants},
        {"waits_for", waits_for},
        {"left_s", std::move(left)},
        {"check", check_json(decider, run, step)}};
}

/// A value as its instrument would show it: no more digits than its resolution has.
std::string shown(double value, double resolution) {
    int digits = 4;
    if (resolution > 0) digits = std::clamp(static_cast<int>(std::ceil(-std::log10(resolution) - 1e-9)), 0, 6);
    return fmt::format("{:.{}f}", value, digits);
}

/// How the pressure comes to the point, told early enough to slow the hand down; nothing where none is approached.
json approach_json(const Decider& decider, std::size_t index) {
    const auto& live = decider.channels()[index];
    const auto* watch = live.whole_approach();
    if (watch == nullptr || live.recent.empty() ||
        live.fresh(decider.now_us(), decider.state().bench->instruments[index].poll_s) == nullptr)
        return nullptr;
    const auto& newest = live.recent.back();
    // The change over about the last second: long enough to stand out of the noise, short enough for a hand at a press.
    const acquisition::TimedValue* before = nullptr;
    for (auto one = live.recent.rbegin(); one != live.recent.rend(); ++one) {
        if (newest.at_us - one->at_us > 1'200'000) break;
        before = &*one;
    }
    const double to_go_pa = watch->to_go_pa(newest.value_pa);
    if (!std::isfinite(to_go_pa)) return nullptr;
    json approach = {{"to_go_pa", to_go_pa},
                     {"rate_pa_per_s", nullptr},
                     {"in_s", nullptr},
                     {"near", false},
                     {"beyond", decider.state().channels[index].beyond_pa.has_value()}};
    const double span_s = before != nullptr ? static_cast<double>(newest.at_us - before->at_us) / 1e6 : 0;
    if (span_s < 0.2) return approach;
    constexpr double time_to_react_s = 5;
    const double rate = watch->towards(newest.value_pa - before->value_pa) / span_s;
    approach["rate_pa_per_s"] = rate;
    if (to_go_pa > 0 && rate > 0) {
        approach["in_s"] = to_go_pa / rate;
        approach["near"] = to_go_pa / rate < time_to_react_s;
    }
    return approach;
}

json channel_json(const Decider& decider, std::size_t index) {
    const auto& state = decider.state();
    const auto& instrument = state.bench->instruments[index];
    const auto& live = decider.channels()[index];
    const auto& unit = instrument.profile.unit;
    const auto* run = state.running();
    const auto* step = run != nullptr ? run->now() : nullptr;
    const char* mark = "none";
    if (step != nullptr && step->visit && run->owes_mark(index, *step->visit) &&
        (step->kind == bench::StepKind::read || step->kind == bench::StepKind::sight))
        mark = state.standing_mark(index, *step->visit) != nullptr ? "taken" : live.window ? "window" : "waiting";
    json channel = {{"name", instrument.name},
                    {"unit", unit.symbol},
                    {"manual", instrument.manual()},
                    {"mark", mark},
                    {"value", nullptr},
                    {"shown", ""},
                    {"age_us", nullptr},
                    {"status", "no reading yet"},
                    {"stillness", nullptr},
                    {"progress", 0.0},
                    {"expected_s", nullptr},
                    {"why", ""},
                    {"poll_us", nullptr},
                    {"window", nullptr},
                    {"approach", nullptr},
                    {"fault", nullptr},
                    {"division", nullptr},
                    {"parts", nullptr}};
    if (const auto* dial = std::get_if<drivers::ManualReading>(&instrument.profile.how)) {
        channel["division"] = dial->division_si / unit.pascals;
        channel["parts"] = dial->parts;
        channel["status"] = "read by a person";
        return channel;
    }
    if (const auto& fault = live.fault)
        channel["fault"] = {{"kind", drivers::word(fault->latest.status)},
                            {"detail", bench::readable_text(fault->latest.detail)},
                            {"at_us", fault->latest.at_us},
                            {"count", fault->count}};
    channel["poll_us"] = static_cast<std::int64_t>(instrument.poll_s * 1e6);
    if (live.latest) {
        channel["status"] = drivers::word(live.latest->status);
        channel["age_us"] = decider.now_us() - live.latest->at_us;
    }
    if (live.latest_good) {
        const double value = unit.from_pa(live.latest_good->value_pa);
        channel["value"] = value;
        channel["shown"] = shown(value, instrument.resolution_pa / std::abs(unit.pascals));
        channel["age_us"] = decider.now_us() - live.latest_good->at_us;
    }
    const auto& detector = *live.detector;
    channel["stillness"] = acquisition::word(detector.now());
    // One bar from the first reading of the first window to the last of the mark's: a person sees one thing fill.
    const auto& limits = instrument.limits;
    const double until_still_s = limits.window_s + limits.hold_s, whole_s = until_still_s + limits.window_s;
    double filled_s = detector.progress() * until_still_s;
    if (live.window && live.window->from_us() > 0) {
        const Micros from_us = live.window->from_us();
        channel["window"] = {{"from_us", from_us}, {"to_us", from_us + static_cast<Micros>(limits.window_s * 1e6)}};
    }
    channel["approach"] = approach_json(decider, index);
    if (live.window) filled_s = until_still_s + live.window->progress() * limits.window_s;
    if (std::string_view(mark) == "taken") filled_s = whole_s;
    channel["progress"] = filled_s / whole_s;
    if (const auto expected_s = detector.expected_s()) channel["expected_s"] = *expected_s;
    if (detector.now() != acquisition::Stillness::still && detector.failing() != acquisition::Criterion::none) {
        std::string why = acquisition::word(detector.failing());
        // While the pressure still moves, the window that would hide it is no advice.
        if (const auto window_s = detector.window_that_would_do_s();
            window_s && detector.now() == acquisition::Stillness::settling && *window_s <= 10 * limits.window_s)
            why += fmt::format("; a window of {:.3g} s would do", *window_s);
        channel["why"] = why;
    }
    return channel;
}

/// What the last press was and until when it can be taken back.
json undo_json(const Decider& decider) {
    const auto until_us = bench::undo_until_us(decider.state());
    if (!until_us || *until_us < decider.now_us()) return nullptr;
    return {{"what", decider.state().undo->what}, {"until_us", *until_us}};
}

json float_json(const bench::State& state) {
    json none = {{"state", "none"},        {"number", nullptr},   {"range", nullptr},
                 {"discs", json::array()}, {"since_us", nullptr}, {"expires_us", nullptr}};
    if (state.intervals.empty()) return none;
    const auto& last = state.intervals.back();
    return {{"state", bench::word(last.end)},
            {"number", last.number},
            {"range", last.range_name},
            // Of a float that has ended the discs may be those of another bench file.
            {"discs", last.end == bench::IntervalEnd::open ? disc_list(*state.bench, last.discs) : json::array()},
            {"since_us", last.from_us},
            {"expires_us", last.expires_us}};
}

/// Ranges that a run uses only with an override.
json poor_ranges(const bench::State& state) {
    std::set<std::string> ranges;
    for (const auto& range : state.bench->balance.ranges)
        ranges.insert(range.physics.name);
    json list = json::array();
    for (const auto entry : bench::poor_health(state, ranges))
        list.push_back({{"range", state.health[entry].range}, {"words", bench::judge_health(state, entry).words}});
    return list;
}

json advice_json(const Decider& decider) {
    json list = json::array();
    for (const auto& one : advice(decider))
        list.push_back(
            {{"code", word(one.code)},
             {"alarm", one.alarm},
             {"text", one.text},
             {"channel", one.channel ? json(decider.state().bench->instruments[*one.channel].name) : json(nullptr)},
             {"ranked", one.ranked}});
    return list;
}

} // namespace

json frame(const Decider& decider) {
    const auto& state = decider.state();
    json channels = json::array();
    for (std::size_t i = 0; i < decider.channels().size(); ++i)
        channels.push_back(channel_json(decider, i));
    json run = nullptr, step = nullptr, marks = json::array();
    if (!state.runs.empty()) {
        const auto& last = state.runs.back();
        run = {{"id", last.id},
               {"sequence", last.bench->sequences[last.sequence].name},
               {"condition", last.condition},
               {"step", last.step},
               {"steps", last.plan.steps.size()},
               {"state", bench::word(last.end)}};
        if (const auto* now = last.now()) step = step_json(decider, last, *now);
        std::size_t first = 0, count = 0;
        for (std::size_t i = state.marks.size(); i-- > 0 && count < 8;)
            if (state.marks[i].taken.run == last.id) {
                ++count;
                first = i;
            }
        for (std::size_t i = first; i < state.marks.size() && count > 0; ++i)
            if (state.marks[i].taken.run == last.id) marks.push_back(mark_json(state, state.marks[i], last));
    }
    return {{"at_us", decider.now_us()},
            {"bench", state.bench->name},
            {"journal", decider.journal_failed() ? "failed" : "recording"},
            {"run", std::move(run)},
            {"step", std::move(step)},
            {"load", state.load ? json({{"range", state.bench->balance.ranges[state.load->range].physics.name},
                                        {"discs", disc_list(*state.bench, state.load->discs)}})
                                : json(nullptr)},
            {"float", float_json(state)},
            {"undo", undo_json(decider)},
            {"surroundings",
             {{"stated", state.conditions.stated},
              {"air_temperature_c", state.conditions.air.temperature_c.value},
              {"air_pressure_pa", state.conditions.air.pressure_pa.value},
              {"humidity", state.conditions.air.humidity.value},
              {"piston_temperature_c", state.conditions.piston_temperature_c.value},
              {"age_us", state.conditions.stated ? json(decider.now_us() - state.conditions.stated_us) : json(nullptr)},
              {"air_pressure_age_us", state.conditions.pressure_read_us
                                          ? json(decider.now_us() - *state.conditions.pressure_read_us)
                                          : json(nullptr)},
              {"asked", bench::surroundings_asked(state, decider.now_us())}}},
            {"channels", std::move(channels)},
            {"marks", std::move(marks)},
            {"poor_ranges", poor_ranges(state)},
            {"advice", advice_json(decider)}};
}

} // namespace stillmark::decider
