#include "daemon/cli/follow_state.hpp"

#include "daemon/cli/wording.hpp"

#include <fmt/format.h>

#include <utility>

namespace stillmark::cli {

namespace {

bool same_step(const std::optional<Frame>& before, const Frame& after) {
    if (!before || before->step.has_value() != after.step.has_value()) return false;
    return !after.step || (before->step->number == after.step->number && before->step->wants == after.step->wants);
}

} // namespace

void tell(FollowState& state, std::string message) {
    state.message = std::move(message);
    state.message_is_refusal = false;
}

void refuse(FollowState& state, std::string message) {
    state.message = std::move(message);
    state.message_is_refusal = true;
}

void take_frame(FollowState& state, const Json& message, Micros now_us) {
    std::string objection;
    const Json* body = Fields(message, "", objection).object("frame");
    auto frame = body != nullptr ? read_frame(*body) : Outcome<Frame>(Trouble{"frame: it is missing"});
    if (!frame) {
        state.objection = frame.error().message;
        return;
    }
    state.objection.clear();
    if (!same_step(state.frame, *frame)) state.step_shown_us = now_us;
    state.frame = std::move(*frame);
}

void came_back(FollowState& state, Micros now_us) {
    if (state.connected) return;
    if (state.frame)
        tell(state, fmt::format("Back: the service was away for {}.", span_words(now_us - state.away_since_us)));
    state.connected = true;
    state.trouble.clear();
}

void went_away(FollowState& state, std::string trouble, Micros now_us) {
    if (state.connected) state.away_since_us = now_us;
    state.connected = false;
    state.trouble = std::move(trouble);
}

} // namespace stillmark::cli
