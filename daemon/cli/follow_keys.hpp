#pragma once

#include "daemon/cli/client.hpp"
#include "daemon/cli/follow_state.hpp"

#include <string>
#include <vector>

namespace stillmark::cli {

/// A key as the view knows it: a printable character, or one of these.
enum class Key : int { enter = 10, backspace = 8, tab = 9, escape = 27 };

/// A key that comes again this soon is being held down and not pressed again. Terminals tell no release; they wait up
/// to 0.66 s before a held key repeats, and a person at a bench has no use for the same key twice within that time.
constexpr Micros held_key_us = 700'000;
/// Nobody reads and presses in less: a key that acknowledges what stands on the screen was meant for what stood there
/// before.
constexpr Micros reading_time_us = 300'000;

struct Pressed {
    std::vector<Request> requests; ///< in order; each is sent only when the one before it was accepted
    bool quit = false;
};

/// What a key does. The view refuses only what it cannot put into a request; the service judges the rest.
Pressed press(FollowState& state, int key, Micros now_us);

/// What the reply to a request changes. `then`: what was to follow it, and follows only where this was accepted.
void answered(FollowState& state, const Request& request, const std::vector<Request>& then, const Reply& reply);

/// The keys that do something now, in words: "SPACE load as planned", "q quit".
std::vector<std::string> offered_keys(const FollowState& state, Micros now_us);

/// True where the stated load is the one that the step plans.
bool load_is_as_planned(const Frame& frame);

} // namespace stillmark::cli
