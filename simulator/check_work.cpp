#include "simulator/check_work.hpp"

#include "simulator/answer_reading.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace stillmark::simulator {

namespace {

/// So many failures of one check, and he leaves it as it is.
constexpr int enough_failures = 2;
/// So much of the operator's patience goes into one wait.
constexpr double patient_part = 0.8;
/// To what the bubble of a level is read.
constexpr double level_step_mrad = 0.01;

/// Whether all these words, which a bench file gives, are among the instructions.
bool stand_in(const std::vector<std::string>& words, const std::vector<Instruction>& say) {
    return !words.empty() &&
           std::all_of(words.begin(), words.end(), [&](const std::string& word) { return has_text(say, word); });
}

/// "Close valve V3." said the other way round.
std::string opened_again(const std::string& words) {
    return words.starts_with("Close ") ? "Open " + words.substr(6) : std::string();
}

} // namespace

CheckStep read_check(const nlohmann::json& step) {
    const auto& json = object_in(step, "check");
    CheckStep check;
    check.number = whole_in(step, "number");
    check.say = instructions_in(step, "say");
    check.name = text_in(json, "name");
    check.by = text_in(json, "by");
    check.unit = text_in(json, "unit");
    check.channel = text_in(json, "channel");
    check.at_pa = number_in(json, "at_pa");
    check.measuring = yes_in(json, "measuring");
    check.failed = yes_in(json, "failed");
    check.words = text_in(json, "words");
    return check;
}

CheckWork::CheckWork(Rig& rig, Hand& hand, Notes& notes, Progress& progress, Tell tell)
    : rig_(rig), hand_(hand), notes_(notes), progress_(progress), tell_(std::move(tell)) {}

std::string CheckStep::asked() const {
    return by + " " + channel;
}

bool CheckWork::turn_valves(const std::vector<Instruction>& say) {
    const auto& shut_off = rig_.scenario().checks.shut_off_words;
    const auto& ranges = rig_.scenario().truth.ranges;
    const auto whole =
        std::find_if(ranges.begin(), ranges.end(), [&](const TrueRange& range) { return stand_in(range.valves, say); });
    // Closing both valves names a part of each range's words: only all of a range's words turn to it then.
    if (whole == ranges.end() && stand_in(shut_off, say)) {
        hand_.shut_off();
        notes_.write("valves", {{"range", nullptr}, {"words", shut_off}});
        return true;
    }
    for (const auto& range : ranges)
        for (const auto& line : say) {
            if (whole != ranges.end() && &range != &*whole) continue;
            if (std::find(range.valves.begin(), range.valves.end(), line.text) == range.valves.end()) continue;
            hand_.turn_valves_to(range.name);
            notes_.write("valves", {{"range", range.name}, {"words", range.valves}});
            return true;
        }
    const bool opened = std::any_of(say.begin(), say.end(), [&](const Instruction& line) {
        return line.code == "open_again" ||
               std::any_of(shut_off.begin(), shut_off.end(),
                           [&](const std::string& closed) { return line.text == opened_again(closed); });
    });
    if (!opened || !hand_.look().shut_off) return false;
    hand_.open_again();
    notes_.write("valves", {{"range", hand_.look().range}, {"words", "open again"}});
    return true;
}

bool CheckWork::answer(const CheckStep& check, const std::string& what, nlohmann::json details) {
    details["step"] = check.number;
    if (!tell_(what, std::move(details))) return false;
    righted_ = false;
    ++told_;
    return true;
}

void CheckWork::work(const CheckStep& check) {
    if (step_ != check.number) {
        step_ = check.number;
        answered_.reset();
        righted_ = opened_ = false;
        failures_ = 0;
        ready_us_ = 0;
    }
    if (check.measuring) return; // hands off
    // Who is asked the same again has failed, whatever passed beside it.
    const bool asked_again = answered_ == check.asked();
    answered_.reset();
    if (asked_again) {
        ++failures_;
        notes_.write("check failed", {{"check", check.name}, {"words", check.words}});
        progress_.say(fmt::format("    (the check failed: {})", check.words));
    }
    if (failures_ >= enough_failures) {
        hand_.take(rig_.scenario().plan.look_s);
        if (answer(check, "go_on",
                   {{"reason", fmt::format("failed {} times, and put right as far as it can be here", failures_)}}))
            failures_ = 0;
        return;
    }
    if ((asked_again || check.failed) && !std::exchange(righted_, true)) put_right(check);
    if (now_us() < ready_us_) return;
    prepare(check);
    nlohmann::json details = nlohmann::json::object();
    if (check.by == "value") {
        auto value = check.name == "zero" ? dial_value(check) : true_value(check);
        if (value.empty()) return;
        progress_.say(fmt::format("    (he states {}{})", check.channel.empty() ? "" : check.channel + ": ", value));
        details["value"] = std::move(value);
        if (!check.channel.empty()) details["channel"] = check.channel;
    }
    if (answer(check, "check", std::move(details))) answered_ = check.asked();
}

/// What comes before the answer.
void CheckWork::prepare(const CheckStep& check) {
    const auto& scenario = rig_.scenario();
    if (check.name != "zero" || !opened_) hand_.take(scenario.plan.instruction_s);
    if (check.name == "zero" && !opened_) {
        hand_.vent();
        notes_.write("vented");
        opened_ = true;
    } else if (check.name == "purge" || check.name == "leak") {
        turn_valves(check.say);
    }
    if (check.name == "leak") {
        const double at_pa = check.at_pa > 0 ? check.at_pa : scenario.checks.leak_at_pa;
        if (!hand_.wind_to(at_pa)) notes_.write("cannot reach", {{"at_pa", at_pa}});
    }
}

std::string CheckWork::true_value(const CheckStep& check) {
    if (check.name == "warm-up") // never more than is true
        return fmt::format("{:.0f} min", std::floor(rig_.powered_s(now_us()) / 60));
    if (check.name == "level")
        return fmt::format("{:.2f} mrad",
                           std::round(rig_.tilt_rad(now_us()) * 1e3 / level_step_mrad) * level_step_mrad);
    if (check.name == "purge") {
        hand_.vent();
        const double to_pa = check.at_pa > 0 ? check.at_pa : rig_.scenario().checks.purge_to_pa;
        const auto wound = hand_.turns_to(to_pa);
        notes_.write("counted turns", {{"turns", wound.turns}, {"from_pa", wound.from_pa}, {"to_pa", wound.to_pa}});
        return fmt::format("{:.1f} turns", wound.turns);
    }
    notes_.write("not understood", {{"check", check.name}, {"unit", check.unit}});
    hand_.take(rig_.scenario().plan.look_s);
    return {};
}

std::string CheckWork::dial_value(const CheckStep& check) {
    const auto& all = rig_.scenario().instruments;
    const auto found =
        std::find_if(all.begin(), all.end(), [&](const InstrumentEntry& entry) { return entry.name == check.channel; });
    if (found == all.end() || !(found->profile.division_pa > 0)) {
        notes_.write("not understood", {{"check", check.name}, {"channel", check.channel}});
        hand_.take(rig_.scenario().plan.look_s);
        return {};
    }
    return hand_.read_dial(static_cast<std::size_t>(found - all.begin()), rig_.scenario().plan.dial_s).tapped;
}

void CheckWork::put_right(const CheckStep& check) {
    const auto& scenario = rig_.scenario();
    hand_.take(scenario.plan.instruction_s);
    if (check.name == "warm-up") {
        const double missing_s = scenario.checks.warm_up_s - rig_.powered_s(now_us());
        // Near the end of his patience he looks whether that was enough.
        const double most_s = patient_part * scenario.plan.patience_s;
        ready_us_ = now_us() + micros(std::clamp(missing_s / scenario.time_factor, 0.0, most_s));
        notes_.write("waited", {{"for", "warm-up"}});
    } else if (check.name == "level") {
        rig_.level(now_us());
        notes_.write("levelled");
    } else if (check.name == "purge") {
        hand_.purge();
        notes_.write("purged");
    } else if (check.name == "leak") {
        hand_.vent(); // no fitting is tightened under pressure
        notes_.write("vented");
        hand_.tighten();
        notes_.write("tightened");
    } else if (check.name == "zero") {
        opened_ = false;
    }
}

} // namespace stillmark::simulator
