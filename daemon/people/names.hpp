#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace stillmark::people {

constexpr std::size_t longest_name = 64; ///< characters
/// Length is what makes a password hard to guess, not its mixture: NIST SP 800-63B (2017), 5.1.1.2.
constexpr std::size_t shortest_password = 8;  ///< characters
constexpr std::size_t longest_password = 256; ///< characters

/// The characters of a text, or nothing where it is no UTF-8 (overlong forms and surrogates are none).
std::optional<std::vector<char32_t>> characters(std::string_view text);

/// The text without the blanks at its ends. Names are compared in this form, byte by byte.
std::string trimmed(std::string_view text);

/// Why this trimmed text cannot be a person's name, as a sentence; nothing where it can. Characters that show nothing
/// or turn the direction of writing are no part of a name, or two names could look the same in a record.
std::optional<std::string> objection_to_name(std::string_view name);

/// Why this cannot be the password of that person, as a sentence; nothing where it can.
std::optional<std::string> objection_to_password(std::string_view name, std::string_view password);

} // namespace stillmark::people
