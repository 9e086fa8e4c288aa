#include "daemon/cli/follow_keys.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <utility>

namespace stillmark::cli {

namespace {

bool is(int key, Key wanted) {
    return key == static_cast<int>(wanted);
}
bool is_digit(int key) {
    return key >= '0' && key <= '9';
}

const Channel* dial_to_read(const Frame& frame) {
    const Channel* first = nullptr;
    for (const Channel& channel : frame.channels) {
        if (!channel.manual) continue;
        if (channel.mark == "waiting" || channel.mark == "window") return &channel;
        if (first == nullptr) first = &channel;
    }
    return first;
}

bool dial_is_waited_for(const Frame& frame) {
    const Channel* dial = dial_to_read(frame);
    return dial != nullptr && (dial->mark == "waiting" || dial->mark == "window");
}

Request request(std::string verb, std::string what, Micros now_us) {
    return {Json{{"do", std::move(verb)}, {"pressed_us", now_us}}, std::move(what)};
}

Request load_request(const Step& step, Micros now_us) {
    Request asked = request("load", "Load as planned", now_us);
    asked.body["step"] = step.number;
    return asked;
}

Request confirm_request(const std::string& range, Micros now_us) {
    Request asked = request("confirm", fmt::format("Floating, {} range", range), now_us);
    asked.body["range"] = range;
    return asked;
}

/// The keys while a reading is typed.
Pressed press_in_entry(FollowState& state, int key, Micros now_us) {
    DialEntry& entry = *state.entry;
    if (is(key, Key::escape)) {
        state.entry.reset();
        tell(state, "No reading was entered.");
    } else if (is(key, Key::backspace)) {
        entry.erase();
    } else if (is(key, Key::tab)) {
        if (!entry.untouched() || !state.frame) return {};
        std::vector<const Channel*> dials;
        for (const Channel& channel : state.frame->channels)
            if (channel.manual) dials.push_back(&channel);
        const auto at = std::find_if(dials.begin(), dials.end(),
                                     [&](const Channel* dial) { return dial->name == entry.channel(); });
        if (!dials.empty())
            state.entry.emplace(at == dials.end() || at + 1 == dials.end() ? *dials.front() : **(at + 1), now_us);
    } else if (is(key, Key::enter)) {
        if (entry.complete()) return {};
        if (const auto refusal = entry.take()) {
            refuse(state, *refusal);
        } else if (entry.complete()) {
            Request asked = request(
                "enter", fmt::format("{}: {}, tapped {}", entry.channel(), entry.untapped(), entry.tapped()), now_us);
            asked.body["channel"] = entry.channel();
            asked.body["untapped"] = entry.untapped();
            asked.body["tapped"] = entry.tapped();
            asked.body["started_us"] = entry.started_us();
            asked.is_entry = true;
            return {{asked}};
        }
    } else if (key >= ' ' && key <= '~') {
        entry.type(static_cast<char>(key));
    }
    return {};
}

/// The keys while the answer to a check is typed.
Pressed press_in_answer(FollowState& state, int key, Micros now_us) {
    AnswerEntry& answer = *state.answer;
    if (is(key, Key::escape)) {
        state.answer.reset();
        tell(state, "Nothing was stated.");
    } else if (is(key, Key::backspace)) {
        answer.erase();
    } else if (is(key, Key::enter)) {
        if (answer.complete()) return {};
        if (!answer.take()) {
            refuse(state, "Nothing was typed yet.");
            return {};
        }
        Request asked = request("", answer.what(), now_us);
        asked.body.update(answer.request());
        asked.is_answer = true;
        return {{asked}};
    } else if (key >= ' ' && key <= '~') {
        answer.type(static_cast<char>(key));
    }
    return {};
}

/// The keys while instruments contradict a press: looking again, or a reason typed and sent as a press of its own.
Pressed press_in_contradiction(FollowState& state, int key, Micros now_us) {
    constexpr std::size_t longest_reason = 200;
    Contradicted& one = *state.contradicted;
    if (one.sent) return {};
    if (is(key, Key::escape)) {
        if (one.request.is_entry && state.entry && state.entry->complete()) state.entry->reopen();
        if (one.request.is_answer && state.answer) state.answer->reopen();
        state.contradicted.reset();
        tell(state, "Nothing was recorded: look again.");
    } else if (!one.reason) {
        if (key == 'r') one.reason.emplace();
    } else if (is(key, Key::backspace)) {
        if (!one.reason->empty()) one.reason->pop_back();
    } else if (is(key, Key::enter)) {
        if (one.reason->find_first_not_of(' ') == std::string::npos) {
            refuse(state, "A reason is missing: say why it holds although the instruments say otherwise.");
            return {};
        }
        Request again = one.request;
        again.body["pressed_us"] = now_us;
        again.body["despite"] = true;
        again.body["reason"] = *one.reason;
        one.sent = true;
        std::vector<Request> all{std::move(again)};
        for (Request next : one.then) {
            next.body["pressed_us"] = now_us;
            all.push_back(std::move(next));
        }
        return {std::move(all)};
    } else if (key >= ' ' && key <= '~' && one.reason->size() < longest_reason) {
        one.reason->push_back(static_cast<char>(key));
    }
    return {};
}

/// Begins the check of the step: its readings at once, a value with an entry.
Pressed begin_check(FollowState& state, int key, Micros now_us) {
    const auto& step = state.frame->step;
    if (!step || !step->check) {
        refuse(state, "This step checks nothing.");
        return {};
    }
    if (step->check->by == "readings") {
        Request asked = request("check", fmt::format("The {} check begins", step->check->name), now_us);
        asked.body["step"] = step->number;
        return {{asked}};
    }
    state.answer = AnswerEntry::value(*step);
    if (is_digit(key)) state.answer->type(static_cast<char>(key));
    return {};
}

Pressed begin_entry(FollowState& state, int key, Micros now_us) {
    const Channel* dial = dial_to_read(*state.frame);
    if (dial == nullptr) {
        refuse(state, "No instrument of this bench is read by hand.");
        return {};
    }
    state.entry.emplace(*dial, now_us);
    if (is_digit(key)) state.entry->type(static_cast<char>(key));
    return {};
}

std::string range_in_use(const Frame& frame) {
    if (frame.step && !frame.step->range.empty()) return frame.step->range;
    return frame.load ? frame.load->range : "";
}

/// The key that the one wide key stands for at this step; 0 where the step wants none.
int wanted_key(const Frame& frame) {
    if (!frame.step) return 0;
    const std::string& wants = frame.step->wants;
    return wants == "step_done" ? 'n'
           : wants == "load"    ? 'l'
           : wants == "confirm" ? 'f'
           : wants == "sighted" ? 's'
           : wants == "vented"  ? 'v'
           : wants == "check"   ? 'c'
           : wants == "enter"   ? 'd'
                                : 0;
}

/// Refuses in words where the press cannot have been meant for the step that stands there now.
bool too_soon(FollowState& state, Micros now_us) {
    if (now_us - state.step_shown_us >= reading_time_us) return false;
    refuse(state, "The step changed as you pressed: read it, then press again. Nothing was sent.");
    return true;
}

Pressed press_for_float(FollowState& state, int key, Micros now_us) {
    const Frame& frame = *state.frame;
    const std::string range = range_in_use(frame);
    if (range.empty()) {
        refuse(state, "No range is in use at this step: nothing to confirm.");
        return {};
    }
    if (key == 'f') return {{confirm_request(range, now_us)}};
    if (!frame.step || frame.step->range.empty()) {
        refuse(state, "This step plans no load.");
        return {};
    }
    // A load that is stated again closes the float; so it is stated only where it is not yet.
    if (frame.step->wants != "load" && load_is_as_planned(frame)) return {{confirm_request(range, now_us)}};
    return {{load_request(*frame.step, now_us), confirm_request(range, now_us)}};
}

Pressed press_in_view(FollowState& state, int key, Micros now_us) {
    const Frame& frame = *state.frame;
    if (frame.is_over_pressure() && key != 'x') {
        refuse(state, "Over-pressure: let the pressure down first. Nothing was sent.");
        return {};
    }
    if (key == ' ') {
        key = wanted_key(frame);
        if (key == 0) {
            refuse(state, "This step wants no key now.");
            return {};
        }
    }
    const bool at_check = frame.step && frame.step->wants == "check";
    if (key == 'c' || (at_check && is_digit(key))) {
        if (too_soon(state, now_us)) return {};
        return begin_check(state, key, now_us);
    }
    if (key == 'g') {
        if (at_check && frame.step->check && frame.step->check->failed)
            state.answer = AnswerEntry::reason(*frame.step);
        else
            refuse(state, "No check has failed: there is nothing to go on after.");
        return {};
    }
    if (is_digit(key) || key == 'd') return begin_entry(state, key, now_us);
    const bool answers_step = key == 'n' || key == 'l' || key == 'F' || key == 'f';
    if (answers_step && too_soon(state, now_us)) return {};
    switch (key) {
    case 'n':
    case 'l': {
        if (!frame.step) {
            refuse(state, "There is no step to answer.");
            return {};
        }
        if (key == 'l') return {{load_request(*frame.step, now_us)}};
        Request asked = request("step_done", "Step done", now_us);
        asked.body["step"] = frame.step->number;
        return {{asked}};
    }
    case 'F':
    case 'f':
        return press_for_float(state, key, now_us);
    case 's': {
        const bool closes = frame.step && frame.step->wants == "sighted";
        if (closes && too_soon(state, now_us)) return {};
        Request asked = request("sighted", closes ? "Still floating; the float is closed" : "Still floating", now_us);
        asked.body["close"] = closes;
        return {{asked}};
    }
    case 'v':
        if (too_soon(state, now_us)) return {};
        return {{request("vented", "The line is open to air", now_us)}};
    case 'x':
        return {{request("lost", "Float lost", now_us)}};
    case 'u':
        return {{request("undo", "Taken back", now_us)}};
    default:
        return {};
    }
}

} // namespace

bool load_is_as_planned(const Frame& frame) {
    if (!frame.step || !frame.load || frame.load->range != frame.step->range) return false;
    std::vector<std::string> planned = frame.step->discs;
    std::vector<std::string> stated = frame.load->discs;
    std::sort(planned.begin(), planned.end());
    std::sort(stated.begin(), stated.end());
    return planned == stated;
}

Pressed press(FollowState& state, int key, Micros now_us) {
    const bool types_reason = state.contradicted && state.contradicted->reason;
    const bool typing = state.contradicted ? types_reason && !is(key, Key::enter)
                                           : (state.entry || state.answer) && !is(key, Key::enter);
    const bool held = key == state.last_key && now_us - state.last_key_us < held_key_us;
    state.last_key = key;
    state.last_key_us = now_us;
    if (held && !typing) {
        refuse(state, "The same key again so soon counts as held down: nothing was sent.");
        return {};
    }
    state.message.clear();
    state.message_is_refusal = false;
    if (key == 'q' && !typing) return {{}, true};
    if (state.contradicted) {
        if (is(key, Key::enter) && !state.connected) {
            refuse(state, "The service is away: nothing was sent. Press Enter again when it is back.");
            return {};
        }
        return press_in_contradiction(state, key, now_us);
    }
    if (typing || state.entry || state.answer) {
        if (is(key, Key::enter) && !state.connected) {
            refuse(state, "The service is away: nothing was sent. Press Enter again when it is back.");
            return {};
        }
        return state.answer ? press_in_answer(state, key, now_us) : press_in_entry(state, key, now_us);
    }
    if (std::string_view(" nlFfsvxudcg0123456789").find(static_cast<char>(key)) == std::string_view::npos || key > '~')
        return {};
    if (!state.connected) {
        refuse(state, "The service is away: nothing was sent, and nothing is kept for later.");
        return {};
    }
    if (!state.frame) {
        refuse(state, "Nothing is known of the bench yet: nothing was sent.");
        return {};
    }
    return press_in_view(state, key, now_us);
}

namespace {

/// "A shows 0.02 bar, expected 10.00 bar; far is more than 0.50 bar".
std::vector<std::string> instruments_say(const Json& reply) {
    std::vector<std::string> lines;
    std::string objection;
    const Fields fields(reply, "reply", objection);
    if (const Json* list = fields.list("contradicted"))
        for (const Json& one : *list) {
            const Fields of(one, fields.place_of("contradicted"), objection);
            lines.push_back(fmt::format("{} shows {}; expected {}; far is more than {}", of.text("channel"),
                                        of.text("shows"), of.text("expected"), of.text("far")));
        }
    return lines;
}

} // namespace

void answered(FollowState& state, const Request& request, const std::vector<Request>& then, const Reply& reply) {
    if (reply.ok) {
        tell(state, fmt::format("Recorded: {}.", request.what));
        if (request.is_entry) state.entry.reset();
        if (request.is_answer) state.answer.reset();
        state.contradicted.reset();
        std::string objection;
        const Fields fields(reply.body, "reply", objection);
        if (const Json* early = fields.list("too_early"); early != nullptr && !early->empty())
            tell(state, fmt::format("Recorded: {}. Too early for a mark: {}.", request.what, fields.text("why")));
        return;
    }
    if (reply.code == "contradicted") {
        state.contradicted = Contradicted{request, then, instruments_say(reply.body), std::nullopt, false};
        return;
    }
    refuse(state, reply.error);
    // The reason that was typed is kept where the press was refused for another cause than the readings.
    if (state.contradicted) state.contradicted->sent = false;
    if (request.is_entry && state.entry && state.entry->complete()) state.entry->reopen();
    if (request.is_answer && state.answer) state.answer->reopen();
}

std::vector<std::string> offered_keys(const FollowState& state, Micros now_us) {
    if (state.contradicted) {
        if (state.contradicted->sent) return {};
        if (state.contradicted->reason) return {"Enter go on with this reason", "Backspace", "Esc look again"};
        return {"Esc look again", "r go on with a reason"};
    }
    if (state.entry) {
        if (state.entry->complete()) return {"Esc leave"};
        std::vector<std::string> keys{"Enter next", "Backspace"};
        if (state.entry->untouched()) keys.emplace_back("Tab other dial");
        keys.emplace_back("Esc leave");
        return keys;
    }
    if (state.answer) {
        if (state.answer->complete()) return {"Esc leave"};
        return {"Enter send", "Backspace", "Esc leave"};
    }
    std::vector<std::string> keys;
    if (state.connected && state.frame) {
        const Frame& frame = *state.frame;
        const bool confirmed = frame.floating.state == "confirmed";
        if (frame.is_over_pressure()) {
            if (confirmed) keys.emplace_back("x lost");
            keys.emplace_back("q quit");
            return keys;
        }
        const std::string wants = frame.step ? frame.step->wants : "";
        const bool has_range = frame.step && !frame.step->range.empty();
        if (wants == "step_done") keys.emplace_back("SPACE/n done");
        if (wants == "load") keys.emplace_back("SPACE/l load as planned");
        if (wants == "confirm") keys.emplace_back("SPACE/f in the band and turning");
        if (wants == "enter") keys.emplace_back("SPACE/d dial reading");
        if (wants == "vented") keys.emplace_back("SPACE/v the line is open");
        if (wants == "check" && frame.step->check)
            keys.emplace_back(frame.step->check->by == "readings" ? "SPACE/c begin the check"
                                                                  : "SPACE/c state the value");
        if (wants == "check" && frame.step->check && frame.step->check->failed)
            keys.emplace_back("g go on with a reason");
        if (wants == "sighted") keys.emplace_back("SPACE/s still floats, close");
        if (has_range && (wants == "load" || (wants == "confirm" && !load_is_as_planned(frame))))
            keys.emplace_back("F loaded and floating");
        if (!confirmed && has_range && frame.load && wants != "confirm" && wants != "load")
            keys.emplace_back("f floating");
        if (confirmed && wants != "sighted") keys.emplace_back("s still floats");
        if (confirmed) keys.emplace_back("x lost");
        if (wants != "enter" && dial_is_waited_for(frame)) keys.emplace_back("d dial");
        if (frame.undo_until_us && now_us < *frame.undo_until_us) keys.emplace_back("u undo");
    }
    keys.emplace_back("q quit");
    return keys;
}

} // namespace stillmark::cli
