#pragma once

#include "daemon/cli/answer_entry.hpp"
#include "daemon/cli/dial_entry.hpp"
#include "daemon/cli/frame.hpp"

#include <optional>
#include <string>

namespace stillmark::cli {

/// What the live view knows: the last frame, and what happened at its own keys.
struct FollowState {
    std::optional<Frame> frame;
    std::string objection; ///< why the last frame that came could not be read; empty where it could
    bool connected = false;
    Micros away_since_us = 0; ///< since when the service is not there, where not connected
    std::string trouble;      ///< why it is not there
    Micros step_shown_us = 0; ///< since when the step stands on the screen as it does
    std::string message;      ///< stays until the next key
    bool message_is_refusal = false;
    std::optional<DialEntry> entry;
    std::optional<AnswerEntry> answer; ///< never beside `entry`
    int last_key = 0;
    Micros last_key_us = 0;
};

void tell(FollowState& state, std::string message);
void refuse(FollowState& state, std::string message);

/// A line of the subscription: takes its frame, or keeps why there is none. The last readable frame stays.
void take_frame(FollowState& state, const Json& message, Micros now_us);
void came_back(FollowState& state, Micros now_us);
void went_away(FollowState& state, std::string trouble, Micros now_us);

} // namespace stillmark::cli
