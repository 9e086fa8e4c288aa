#include "daemon/gateway/requests.hpp"

#include "daemon/bench/certificates.hpp"
#include "daemon/bench/checks.hpp"
#include "daemon/bench/health.hpp"
#include "daemon/decider/frame.hpp"
#include "daemon/gateway/certificate_office.hpp"
#include "daemon/gateway/request_keys.hpp"
#include "daemon/records/gates.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <map>
#include <memory>

namespace stillmark::gateway {

using nlohmann::json;

namespace {

using Decide = std::function<bench::Decision(const bench::State&, const bench::Moment&)>;
using Command = std::function<Decide(Keys&)>;

/// A press as the request carries it; completed with the present when it is decided.
std::function<bench::Press(const bench::Moment&)> press_of(Keys& keys, bool needed) {
    const bool stated = needed || keys.has("pressed_us");
    const std::int64_t pressed_us = stated ? keys.number("pressed_us") : 0;
    const std::string by = keys.text_or("by", "");
    const bool logged_in = keys.yes_or("logged_in", false);
    return [stated, pressed_us, by, logged_in](const bench::Moment& moment) {
        return bench::Press{stated ? pressed_us : moment.now_us, moment.now_us, by, logged_in, moment.seen};
    };
}

/// A press that readings may contradict, and that then stands with a reason.
std::function<bench::Press(const bench::Moment&)> contradictable_press_of(Keys& keys) {
    return [press_of = press_of(keys, true), despite = keys.yes_or("despite", false),
            reason = keys.text_or("reason", "")](const bench::Moment& moment) {
        auto press = press_of(moment);
        press.despite = despite;
        press.reason = reason;
        return press;
    };
}

/// The channel of this name, or why nothing on a wire has it.
boost::system::result<std::uint32_t, std::string> wired_channel(const bench::State& state, const std::string& name) {
    std::vector<std::string> wired;
    for (std::size_t i = 0; i < state.bench->instruments.size(); ++i) {
        const auto& instrument = state.bench->instruments[i];
        if (instrument.name == name && !instrument.manual()) return static_cast<std::uint32_t>(i);
        if (instrument.name == name) return fmt::format("\"{}\" has no wire; a person reads it", name);
        if (!instrument.manual()) wired.push_back(instrument.name);
    }
    return fmt::format("there is no channel \"{}\"; use one of {}", name, fmt::join(wired, ", "));
}

const std::map<std::string, Command>& commands() {
    static const std::map<std::string, Command> table = {
        {"run_start",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             return [press, sequence = keys.text("sequence"), condition = keys.text_or("condition", "as found"),
                     instruments = keys.texts_or_none("instruments"),
                     override_health = keys.text_or("override_health", "")](const bench::State& state,
                                                                            const bench::Moment& now) {
                 return bench::start_run(state, press(now), sequence, condition, instruments, override_health);
             };
         }},
        {"run_stop",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, false);
             return [press, reason = keys.text("reason")](const bench::State& state, const bench::Moment& now) {
                 return bench::stop_run(state, press(now), reason);
             };
         }},
        {"step_done",
         [](Keys& keys) -> Decide {
             auto press = contradictable_press_of(keys);
             return [press, step = keys.number("step")](const bench::State& state, const bench::Moment& now) {
                 return bench::step_done(state, press(now), step);
             };
         }},
        {"load",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             if (keys.has("step"))
                 return [press, step = keys.number("step")](const bench::State& state, const bench::Moment& now) {
                     return bench::state_planned_load(state, press(now), step);
                 };
             return [press, range = keys.text("range"), discs = keys.texts_or_none("discs")](const bench::State& state,
                                                                                             const bench::Moment& now) {
                 return bench::state_load(state, press(now), range, discs);
             };
         }},
        {"confirm",
         [](Keys& keys) -> Decide {
             auto press = contradictable_press_of(keys);
             return [press, range = keys.text("range")](const bench::State& state, const bench::Moment& now) {
                 return bench::confirm_float(state, press(now), range);
             };
         }},
        {"vented",
         [](Keys& keys) -> Decide {
             auto press = contradictable_press_of(keys);
             return [press](const bench::State& state, const bench::Moment& now) {
                 return bench::vent_line(state, press(now));
             };
         }},
        {"sighted",
         [](Keys& keys) -> Decide {
             auto press = contradictable_press_of(keys);
             return [press, close = keys.yes_or("close", false)](const bench::State& state, const bench::Moment& now) {
                 return bench::sight_float(state, press(now), close);
             };
         }},
        {"lost",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             return [press](const bench::State& state, const bench::Moment& now) {
                 return bench::lose_float(state, press(now));
             };
         }},
        {"undo",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             return [press](const bench::State& state, const bench::Moment& now) {
                 return bench::undo_press(state, press(now));
             };
         }},
        {"enter",
         [](Keys& keys) -> Decide {
             auto press = contradictable_press_of(keys);
             const std::int64_t started_us = keys.number_or("started_us", keys.number_or("pressed_us", 0));
             return [press, started_us, channel = keys.text("channel"), untapped = keys.text("untapped"),
                     tapped = keys.text("tapped")](const bench::State& state, const bench::Moment& now) {
                 return bench::enter_reading(state, press(now), channel, untapped, tapped, started_us);
             };
         }},
        {"void",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, false);
             return [press, mark = keys.number("mark"), reason = keys.text("reason")](const bench::State& state,
                                                                                      const bench::Moment& now) {
                 return bench::void_mark(state, press(now), mark, reason);
             };
         }},
        {"redo",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             return [press, mark = keys.number("mark")](const bench::State& state, const bench::Moment& now) {
                 return bench::redo_visit(state, press(now), mark);
             };
         }},
        {"check",
         [](Keys& keys) -> Decide {
             auto press = contradictable_press_of(keys);
             return [press, step = keys.number("step"),
                     answer = bench::CheckAnswer{keys.text_or("value", ""), keys.text_or("channel", "")}](
                        const bench::State& state, const bench::Moment& now) {
                 return bench::answer_check(state, press(now), step, answer);
             };
         }},
        {"go_on",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             return [press, step = keys.number("step"), reason = keys.text("reason")](const bench::State& state,
                                                                                      const bench::Moment& now) {
                 return bench::waive_check(state, press(now), step, reason);
             };
         }},
        {"health",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, false);
             return [press, texts = bench::HealthTexts{keys.text("range"), keys.text_or("fall_rate", ""),
                                                       keys.text_or("spin_time", ""), keys.text_or("smallest_disc", ""),
                                                       keys.text_or("at", "")}](const bench::State& state,
                                                                                const bench::Moment& now) {
                 return bench::state_health(state, press(now), texts);
             };
         }},
        {"particulars",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, false);
             bench::ParticularsStated what;
             what.run = keys.text("run");
             what.instrument = keys.text_or("instrument", "");
             const std::pair<const char*, std::optional<std::string>*> texts[] = {
                 {"customer", &what.customer},   {"customer_country", &what.customer_country},
                 {"order", &what.order},         {"customer_email", &what.customer_email},
                 {"received", &what.received},   {"place", &what.place},
                 {"condition", &what.condition}, {"mounting", &what.mounting},
                 {"remark", &what.remark},       {"worked_by", &what.worked_by}};
             for (const auto& [key, to] : texts)
                 if (keys.has(key)) *to = keys.text(key);
             if (keys.has("customer_address")) what.customer_address = keys.texts_or_none("customer_address");
             return [press, what](const bench::State& state, const bench::Moment& now) {
                 return bench::state_particulars(state, press(now), what);
             };
         }},
        {"accept",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, false);
             return [press, mark = keys.number("mark"), reason = keys.text("reason")](const bench::State& state,
                                                                                      const bench::Moment& now) {
                 return bench::accept_mark(state, press(now), mark, reason);
             };
         }},
        {"allow_expiry",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, false);
             return [press, run = keys.text("run"), certificate = keys.text("certificate"),
                     reason = keys.text("reason")](const bench::State& state, const bench::Moment& now) {
                 return bench::allow_expiry(state, press(now), run, certificate, reason);
             };
         }},
        {"override",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, false);
             return [press, what = bench::OverrideRequest{keys.text("certificate"), keys.text_or("run", ""),
                                                          keys.text("code"), keys.text_or("subject", ""),
                                                          keys.text("reason")}](const bench::State& state,
                                                                                const bench::Moment& now) {
                 const auto* recorded = bench::certificate_numbered(state, what.certificate);
                 const auto gates = recorded != nullptr ? records::gates_before_signature(state, recorded->draft)
                                                        : std::vector<bench::Gate>{};
                 return bench::override_gate(state, press(now), what, gates);
             };
         }},
        {"retry",
         [](Keys& keys) -> Decide {
             return
                 [channel = keys.text("channel")](const bench::State& state, const bench::Moment&) -> bench::Decision {
                     if (const auto found = wired_channel(state, channel); !found) return bench::refused(found.error());
                     return std::vector<bench::Fact>{};
                 };
         }},
        {"surroundings",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, false);
             return [press,
                     texts = bench::SurroundingsTexts{keys.text_or("air_temperature", ""),
                                                      keys.text_or("air_pressure", ""), keys.text_or("humidity", ""),
                                                      keys.text_or("piston_temperature", "")}](
                        const bench::State& state, const bench::Moment& now) {
                 return bench::state_surroundings(state, press(now), texts);
             };
         }},
    };
    return table;
}

/// What a person answers for by name: where there are passwords, it takes one.
constexpr std::string_view by_a_checked_person[] = {"accept", "sign", "allow_expiry", "override"};

const char* code_of(decider::Outcome::Kind kind) {
    using Kind = decider::Outcome::Kind;
    switch (kind) {
    case Kind::refused:
        return "refused";
    case Kind::malformed:
        return "bad_request";
    case Kind::contradicted:
        return "contradicted";
    case Kind::not_recorded:
    case Kind::recorded:
        break;
    }
    return "not_recorded";
}

json contradiction_json(const bench::BenchFile& bench, const bench::Contradiction& one) {
    const auto& instrument = bench.instruments[one.channel];
    // A distance has no zero of its own, unlike a unit that an output counts in.
    const double zero_pa = instrument.unit.pascals_at_zero;
    return {{"channel", instrument.name},
            {"shows", bench::pressure_words(instrument, one.shows_pa)},
            {"shows_pa", one.shows_pa},
            {"expected", bench::pressure_words(instrument, one.expected_pa)},
            {"expected_pa", one.expected_pa},
            {"far", bench::pressure_words(instrument, one.far_pa + zero_pa)},
            {"far_pa", one.far_pa}};
}

json outcome_json(const json& id, const decider::Outcome& outcome, const bench::BenchFile* bench) {
    if (outcome.kind == decider::Outcome::Kind::recorded) return {{"id", id}, {"ok", true}};
    json reply = {{"id", id}, {"ok", false}, {"code", code_of(outcome.kind)}, {"error", outcome.why}};
    if (outcome.contradicted.empty() || bench == nullptr) return reply;
    reply["contradicted"] = json::array();
    for (const auto& one : outcome.contradicted)
        if (one.channel < bench->instruments.size()) reply["contradicted"].push_back(contradiction_json(*bench, one));
    return reply;
}

/// What a look at the piston counted for.
void put_look(json& reply, const bench::Look& look) {
    reply["brackets"] = look.brackets;
    reply["too_early"] = json::array();
    for (const auto& one : look.early)
        reply["too_early"].push_back({{"mark", one.mark}, {"by_us", one.by_us}});
    reply["why"] = look.why.empty() ? json(nullptr) : json(look.why);
}

/// What only asks. Answered from the present state; where that is not on disk yet, the caller asks again.
json look(const decider::Decider& decider, const std::string& what, Keys& keys, const json& id) {
    constexpr std::string_view questions[] = {"status", "run_list", "health_list", "results"};
    if (std::ranges::find(questions, what) == std::end(questions))
        return malformed(id, fmt::format("\"{}\" is nothing that can be done; see DEVELOPERS.md", what));
    const auto run = what == "results" ? keys.text_or("run", "") : std::string();
    if (!keys.wrong().empty()) return malformed(id, keys.wrong());
    if (what == "status") return {{"id", id}, {"ok", true}, {"frame", decider::frame(decider)}};
    if (what == "run_list") return {{"id", id}, {"ok", true}, {"runs", decider::run_list(decider.state())}};
    if (what == "health_list") return {{"id", id}, {"ok", true}, {"health", decider::health_list(decider.state())}};
    auto results = decider::results(decider.state(), run);
    if (results.is_null())
        return {{"id", id},
                {"ok", false},
                {"code", "refused"},
                {"error", run.empty() ? "there was no run yet"
                                      : fmt::format("there is no run \"{}\"; see the list of runs", run)}};
    return {{"id", id}, {"ok", true}, {"results", std::move(results)}};
}

} // namespace

std::optional<json> parse_request(const std::string& text) {
    constexpr int deepest_request = 8;
    bool too_deep = false;
    const json::parser_callback_t watch = [&too_deep](int depth, json::parse_event_t, const json&) {
        too_deep = too_deep || depth > deepest_request;
        return !too_deep;
    };
    json request = json::parse(text, watch, false);
    if (too_deep || !request.is_object()) return std::nullopt;
    return request;
}

const std::vector<std::string>& command_names() {
    static const std::vector<std::string> names = [] {
        std::vector<std::string> listed;
        for (const auto& [name, command] : commands())
            listed.push_back(name);
        for (const auto& name : CertificateOffice::commands())
            listed.push_back(name);
        std::ranges::sort(listed);
        return listed;
    }();
    return names;
}

std::function<void(json, std::function<void(json)>)> guarded(std::function<void(json, std::function<void(json)>)> ask,
                                                             bool has_users) {
    return [ask = std::move(ask), has_users](json request, std::function<void(json)> reply) {
        request.erase("logged_in");
        const auto what = request.find("do");
        if (has_users && what != request.end() && what->is_string() &&
            std::ranges::find(by_a_checked_person, what->get<std::string>()) != std::end(by_a_checked_person))
            return reply({{"id", request.value("id", json(nullptr))},
                          {"ok", false},
                          {"code", "refused"},
                          {"error", "this needs somebody who has logged in; do it in the console"}});
        ask(std::move(request), std::move(reply));
    };
}

json malformed(const json& id, const std::string& why) {
    return {{"id", id}, {"ok", false}, {"code", "bad_request"}, {"error", why}};
}

void answer(decider::Decider& decider, const json& request, const std::function<void(json)>& reply) {
    const json id = request.is_object() && request.contains("id") ? request["id"] : json(nullptr);
    if (!request.is_object()) return reply(malformed(id, "a request is a JSON object on one line"));
    Keys keys(request);
    const auto what = keys.text("do");
    if (const auto wrong = keys.wrong_so_far(); !wrong.empty()) return reply(malformed(id, wrong));
    const auto command = commands().find(what);
    if (command == commands().end()) {
        // Nothing may be told of before it is on disk; an empty request waits for that.
        decider.when_all_on_disk([&decider, request, what, id, reply](bool) {
            Keys again(request);
            reply(look(decider, what, again, id));
        });
        return;
    }
    auto decide = command->second(keys);
    if (!keys.wrong().empty()) return reply(malformed(id, keys.wrong()));
    const bool starts_run = what == "run_start";
    std::shared_ptr<bench::Look> look;
    if (what == "sighted") {
        look = std::make_shared<bench::Look>();
        decide = [decide, look, pressed_us = keys.number("pressed_us")](const bench::State& state,
                                                                        const bench::Moment& moment) {
            *look = bench::look_at_piston(state, pressed_us);
            return decide(state, moment);
        };
    }
    const std::string asked_again = what == "retry" ? keys.text("channel") : std::string();
    decider.request(decide, [&decider, id, reply, starts_run, asked_again, look](const decider::Outcome& outcome) {
        if (!asked_again.empty() && outcome.kind == decider::Outcome::Kind::recorded) {
            if (const auto channel = wired_channel(decider.state(), asked_again)) decider.ask_again(*channel);
        }
        auto json_reply = outcome_json(id, outcome, decider.state().bench.get());
        if (look && outcome.kind == decider::Outcome::Kind::recorded) put_look(json_reply, *look);
        if (starts_run && outcome.kind == decider::Outcome::Kind::recorded && !decider.state().runs.empty())
            json_reply["run"] = decider.state().runs.back().id;
        reply(std::move(json_reply));
    });
}

} // namespace stillmark::gateway
