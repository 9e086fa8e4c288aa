#pragma once

#include <optional>
#include <regex>
#include <string>

namespace stillmark::drivers {

/// The pattern of a text reply (ECMAScript), compiled for a matcher that neither recurses nor backtracks: no reply can
/// make it slow or overflow the stack. Nothing where it is no regular expression; `why` then says what is wrong.
std::optional<std::regex> compile_pattern(const std::string& pattern, std::string& why);

} // namespace stillmark::drivers
