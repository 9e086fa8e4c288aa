#include "daemon/gateway/requests.hpp"

#include "daemon/bench/checks.hpp"
#include "daemon/bench/health.hpp"
#include "daemon/decider/frame.hpp"

#include <fmt/format.h>

#include <map>

namespace stillmark::gateway {

using nlohmann::json;

namespace {

/// Reads the keys of a request; what is missing or of another kind is said once.
class Keys {
  public:
    explicit Keys(const json& request) : request_(request) {}

    std::string text(const char* key) {
        return find(
            key, true, "a text", [](const json& node) { return node.is_string(); }, std::string());
    }
    std::string text_or(const char* key, const std::string& otherwise) {
        return find(
            key, false, "a text", [](const json& node) { return node.is_string(); }, otherwise);
    }
    std::int64_t number(const char* key) {
        return find(
            key, true, "a whole number", [](const json& node) { return node.is_number_integer(); }, std::int64_t{0});
    }
    bool yes_or(const char* key, bool otherwise) {
        return find(
            key, false, "true or false", [](const json& node) { return node.is_boolean(); }, otherwise);
    }
    std::int64_t number_or(const char* key, std::int64_t otherwise) {
        return find(
            key, false, "a whole number", [](const json& node) { return node.is_number_integer(); }, otherwise);
    }
    std::vector<std::string> texts_or_none(const char* key) {
        std::vector<std::string> list;
        const auto node = request_.find(key);
        if (node == request_.end()) return list;
        if (!node->is_array() || node->size() > 1000) {
            wrong_ = fmt::format("\"{}\" is no list of texts", key);
            return list;
        }
        for (const auto& item : *node) {
            if (!item.is_string())
                wrong_ = fmt::format("\"{}\" is no list of texts", key);
            else
                list.push_back(item.get<std::string>());
        }
        return list;
    }
    bool has(const char* key) const { return request_.contains(key); }
    const std::string& wrong() const { return wrong_; }

  private:
    template <class T, class Fits>
    T find(const char* key, bool needed, const char* kind, Fits fits, T otherwise) {
        const auto node = request_.find(key);
        if (node == request_.end()) {
            if (needed && wrong_.empty()) wrong_ = fmt::format("\"{}\" is missing; give {}", key, kind);
            return otherwise;
        }
        if (!fits(*node)) {
            if (wrong_.empty()) wrong_ = fmt::format("\"{}\" is not {}", key, kind);
            return otherwise;
        }
        return node->template get<T>();
    }

    const json& request_;
    std::string wrong_;
};

using Decide = std::function<bench::Decision(const bench::State&, Micros)>;
using Command = std::function<Decide(Keys&)>;

/// A press as the request carries it; completed with the present when it is decided.
std::function<bench::Press(Micros)> press_of(Keys& keys, bool needed) {
    const bool stated = needed || keys.has("pressed_us");
    const std::int64_t pressed_us = stated ? keys.number("pressed_us") : 0;
    const std::string by = keys.text_or("by", "");
    return [stated, pressed_us, by](Micros now_us) { return bench::Press{stated ? pressed_us : now_us, now_us, by}; };
}

const std::map<std::string, Command>& commands() {
    static const std::map<std::string, Command> table = {
        {"run_start",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             return [press, sequence = keys.text("sequence"), condition = keys.text_or("condition", "as found"),
                     instruments = keys.texts_or_none("instruments")](const bench::State& state, Micros now) {
                 return bench::start_run(state, press(now), sequence, condition, instruments);
             };
         }},
        {"run_stop",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, false);
             return [press, reason = keys.text("reason")](const bench::State& state, Micros now) {
                 return bench::stop_run(state, press(now), reason);
             };
         }},
        {"step_done",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             return [press, step = keys.number("step")](const bench::State& state, Micros now) {
                 return bench::step_done(state, press(now), step);
             };
         }},
        {"load",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             if (keys.has("step"))
                 return [press, step = keys.number("step")](const bench::State& state, Micros now) {
                     return bench::state_planned_load(state, press(now), step);
                 };
             return [press, range = keys.text("range"), discs = keys.texts_or_none("discs")](const bench::State& state,
                                                                                             Micros now) {
                 return bench::state_load(state, press(now), range, discs);
             };
         }},
        {"confirm",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             return [press, range = keys.text("range")](const bench::State& state, Micros now) {
                 return bench::confirm_float(state, press(now), range);
             };
         }},
        {"vented",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             return [press](const bench::State& state, Micros now) { return bench::vent_line(state, press(now)); };
         }},
        {"sighted",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             return [press, close = keys.yes_or("close", false)](const bench::State& state, Micros now) {
                 return bench::sight_float(state, press(now), close);
             };
         }},
        {"lost",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             return [press](const bench::State& state, Micros now) { return bench::lose_float(state, press(now)); };
         }},
        {"undo",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             return [press](const bench::State& state, Micros now) { return bench::undo_press(state, press(now)); };
         }},
        {"enter",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             const std::int64_t started_us = keys.number_or("started_us", keys.number_or("pressed_us", 0));
             return [press, started_us, channel = keys.text("channel"), untapped = keys.text("untapped"),
                     tapped = keys.text("tapped")](const bench::State& state, Micros now) {
                 return bench::enter_reading(state, press(now), channel, untapped, tapped, started_us);
             };
         }},
        {"void",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, false);
             return [press, mark = keys.number("mark"), reason = keys.text("reason")](const bench::State& state,
                                                                                      Micros now) {
                 return bench::void_mark(state, press(now), mark, reason);
             };
         }},
        {"redo",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             return [press, mark = keys.number("mark")](const bench::State& state, Micros now) {
                 return bench::redo_visit(state, press(now), mark);
             };
         }},
        {"check",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             return [press, step = keys.number("step"),
                     answer = bench::CheckAnswer{keys.text_or("value", ""), keys.text_or("channel", "")}](
                        const bench::State& state, Micros now) {
                 return bench::answer_check(state, press(now), step, answer);
             };
         }},
        {"go_on",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, true);
             return [press, step = keys.number("step"), reason = keys.text("reason")](const bench::State& state,
                                                                                      Micros now) {
                 return bench::waive_check(state, press(now), step, reason);
             };
         }},
        {"health",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, false);
             return [press, texts = bench::HealthTexts{keys.text("range"), keys.text_or("fall_rate", ""),
                                                       keys.text_or("spin_time", ""), keys.text_or("smallest_disc", ""),
                                                       keys.text_or("at", "")}](const bench::State& state, Micros now) {
                 return bench::state_health(state, press(now), texts);
             };
         }},
        {"surroundings",
         [](Keys& keys) -> Decide {
             auto press = press_of(keys, false);
             return [press, texts = bench::SurroundingsTexts{
                                keys.text_or("air_temperature", ""), keys.text_or("air_pressure", ""),
                                keys.text_or("humidity", ""),
                                keys.text_or("piston_temperature", "")}](const bench::State& state, Micros now) {
                 return bench::state_surroundings(state, press(now), texts);
             };
         }},
    };
    return table;
}

json outcome_json(const json& id, const decider::Outcome& outcome) {
    using Kind = decider::Outcome::Kind;
    if (outcome.kind == Kind::recorded) return {{"id", id}, {"ok", true}};
    const char* code = outcome.kind == Kind::refused     ? "refused"
                       : outcome.kind == Kind::malformed ? "bad_request"
                                                         : "not_recorded";
    return {{"id", id}, {"ok", false}, {"code", code}, {"error", outcome.why}};
}

/// What only asks. Answered from the present state; where that is not on disk yet, the caller asks again.
json look(const decider::Decider& decider, const std::string& what, Keys& keys, const json& id) {
    if (what == "status") return {{"id", id}, {"ok", true}, {"frame", decider::frame(decider)}};
    if (what == "run_list") return {{"id", id}, {"ok", true}, {"runs", decider::run_list(decider.state())}};
    if (what == "health_list") return {{"id", id}, {"ok", true}, {"health", decider::health_list(decider.state())}};
    if (what == "results") {
        const auto run = keys.text_or("run", "");
        if (!keys.wrong().empty()) return malformed(id, keys.wrong());
        auto results = decider::results(decider.state(), run);
        if (results.is_null())
            return {{"id", id},
                    {"ok", false},
                    {"code", "refused"},
                    {"error", run.empty() ? "there was no run yet"
                                          : fmt::format("there is no run \"{}\"; see the list of runs", run)}};
        return {{"id", id}, {"ok", true}, {"results", std::move(results)}};
    }
    return malformed(id, fmt::format("\"{}\" is nothing that can be done; see DEVELOPERS.md", what));
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
        return listed;
    }();
    return names;
}

json malformed(const json& id, const std::string& why) {
    return {{"id", id}, {"ok", false}, {"code", "bad_request"}, {"error", why}};
}

void answer(decider::Decider& decider, const json& request, const std::function<void(json)>& reply) {
    const json id = request.is_object() && request.contains("id") ? request["id"] : json(nullptr);
    if (!request.is_object()) return reply(malformed(id, "a request is a JSON object on one line"));
    Keys keys(request);
    const auto what = keys.text("do");
    if (!keys.wrong().empty()) return reply(malformed(id, keys.wrong()));
    const auto command = commands().find(what);
    if (command == commands().end()) {
        // Nothing may be told of before it is on disk; an empty request waits for that.
        decider.when_all_on_disk([&decider, request, what, id, reply](bool) {
            Keys again(request);
            reply(look(decider, what, again, id));
        });
        return;
    }
    const auto decide = command->second(keys);
    if (!keys.wrong().empty()) return reply(malformed(id, keys.wrong()));
    const bool starts_run = what == "run_start";
    decider.request(decide, [&decider, id, reply, starts_run](const decider::Outcome& outcome) {
        auto json_reply = outcome_json(id, outcome);
        if (starts_run && outcome.kind == decider::Outcome::Kind::recorded && !decider.state().runs.empty())
            json_reply["run"] = decider.state().runs.back().id;
        reply(std::move(json_reply));
    });
}

} // namespace stillmark::gateway
