#pragma once

#include "daemon/cli/follow_state.hpp"

#include <fstream>
#include <sstream>
#include <string>

namespace stillmark::cli {

/// The instant of every frame in tests/cli/frames/.
constexpr Micros frame_at_us = 5'000'000'000;

inline std::string folder_of_test() {
    return std::string(STILLMARK_SOURCE_DIR) + "/tests/cli/";
}

inline std::string text_of_file(const std::string& path) {
    std::ifstream file(path);
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
}

/// The frame in tests/cli/frames/NAME.json; a null value where there is no such file.
inline Json frame_of_test(const std::string& name) {
    const auto frame = parse_line(text_of_file(folder_of_test() + "frames/" + name + ".json"));
    return frame.value_or(nullptr);
}

/// A view that has stood on this frame for a while, with the service there.
inline FollowState view_of(const Json& frame) {
    FollowState state;
    state.connected = true;
    take_frame(state, {{"frame", frame}}, frame_at_us - 10'000'000);
    return state;
}

inline FollowState view_of_test(const std::string& name) {
    return view_of(frame_of_test(name));
}

} // namespace stillmark::cli
