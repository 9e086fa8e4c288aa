#pragma once

#include "daemon/cli/answer_entry.hpp"
#include "daemon/cli/dial_entry.hpp"
#include "daemon/cli/frame.hpp"

#include <optional>
#include <string>
#include <vector>

namespace stillmark::cli {

/// A request that a key makes, with the instant of the press already in it.
struct Request {
    Json body;
    std::string what;       ///< in words, for the reply: "Load as planned"
    bool is_entry = false;  ///< a dial reading: its reply closes or reopens the entry
    bool is_answer = false; ///< to a check: its reply closes or reopens the line
};

/// A press that instruments contradict, until the person looks again or goes on with a reason.
struct Contradicted {
    Request request;                   ///< what was pressed
    std::vector<Request> then;         ///< what was to follow it
    std::vector<std::string> says;     ///< what each instrument says, one line each
    std::optional<std::string> reason; ///< as far as it is typed; nothing while the choice is open
    bool sent = false;                 ///< with the reason; the answer is on its way
};

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
    std::optional<Contradicted> contradicted;
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
