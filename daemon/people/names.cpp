#include "daemon/people/names.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstdint>

namespace stillmark::people {

namespace {

/// How many bytes follow the first one of a character, or nothing where no character begins so.
std::optional<unsigned> bytes_after(unsigned char first) {
    if (first < 0x80) return 0;
    if (first >= 0xC2 && first <= 0xDF) return 1;
    if (first >= 0xE0 && first <= 0xEF) return 2;
    if (first >= 0xF0 && first <= 0xF4) return 3;
    return std::nullopt;
}

bool is_control(char32_t c) {
    return c < 0x20 || (c >= 0x7F && c <= 0x9F);
}

/// Separators of lines, marks of direction, and what has no width (Unicode, general categories Zl, Zp and Cf).
bool is_invisible(char32_t c) {
    return c == 0xAD || c == 0x61C || (c >= 0x200B && c <= 0x200F) || (c >= 0x2028 && c <= 0x202E) ||
           (c >= 0x2060 && c <= 0x206F) || c == 0xFEFF || (c >= 0xFFF9 && c <= 0xFFFB) || c == 0x180E ||
           (c >= 0xE0000 && c <= 0xE007F);
}

char32_t lower(char32_t c) {
    return c >= 'A' && c <= 'Z' ? c + ('a' - 'A') : c;
}

std::string lower(std::string_view text) {
    std::string low(text);
    std::ranges::transform(low, low.begin(),
                           [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + ('a' - 'A')) : c; });
    return low;
}

/// "aaaaaaaa", "12345678", "hgfedcba": the step from character to character is always the same, and at most one.
bool is_one_step(const std::vector<char32_t>& text) {
    const auto step = [&text](std::size_t i) {
        return static_cast<std::int64_t>(lower(text[i])) - static_cast<std::int64_t>(lower(text[i - 1]));
    };
    if (text.size() < 2 || std::abs(step(1)) > 1) return false;
    for (std::size_t i = 2; i < text.size(); ++i) {
        if (step(i) != step(1)) return false;
    }
    return true;
}

/// What is tried first; from memory of lists of passwords that leaked, and the words of this trade.
constexpr std::array<std::string_view, 28> tried_first{
    "password",  "password1", "password12", "password123", "passw0rd", "iloveyou",      "qwertyuiop",
    "qwerty123", "1q2w3e4r",  "1q2w3e4r5t", "1qaz2wsx",    "abcd1234", "11223344",      "12341234",
    "87654321",  "123456789", "1234567890", "0123456789",  "sunshine", "football",      "baseball",
    "superman",  "trustno1",  "welcome1",   "letmein1",    "changeme", "administrator", "stillmark",
};

} // namespace

std::optional<std::vector<char32_t>> characters(std::string_view text) {
    std::vector<char32_t> found;
    found.reserve(text.size());
    for (std::size_t i = 0; i < text.size();) {
        const auto first = static_cast<unsigned char>(text[i]);
        const auto more = bytes_after(first);
        if (!more || i + *more >= text.size()) return std::nullopt;
        char32_t c = *more == 0 ? first : first & (0x3FU >> *more);
        for (unsigned k = 1; k <= *more; ++k) {
            const auto next = static_cast<unsigned char>(text[i + k]);
            if ((next & 0xC0U) != 0x80) return std::nullopt;
            c = (c << 6U) | (next & 0x3FU);
        }
        constexpr std::array<char32_t, 4> least{0, 0x80, 0x800, 0x10000};
        if (c < least.at(*more) || c > 0x10FFFF || (c >= 0xD800 && c <= 0xDFFF)) return std::nullopt;
        found.push_back(c);
        i += *more + 1;
    }
    return found;
}

std::string trimmed(std::string_view text) {
    const auto first = text.find_first_not_of(" \t\r\n");
    if (first == std::string_view::npos) return {};
    return std::string(text.substr(first, text.find_last_not_of(" \t\r\n") - first + 1));
}

std::optional<std::string> objection_to_name(std::string_view name) {
    const auto found = characters(name);
    if (!found) return "a name is text in UTF-8; this is none";
    if (found->empty()) return "a name is empty; give one, such as \"Ada B.\"";
    if (found->size() > longest_name)
        return fmt::format("a name has at most {} characters; this one has {}", longest_name, found->size());
    if (std::ranges::any_of(*found, is_control))
        return "a name holds a control character, such as a tab or a line end; leave it out";
    if (std::ranges::any_of(*found, is_invisible))
        return "a name holds a character that shows nothing or turns the direction of writing; leave it out";
    return std::nullopt;
}

std::optional<std::string> objection_to_password(std::string_view name, std::string_view password) {
    const auto found = characters(password);
    if (!found) return "a password is text in UTF-8; this is none";
    if (found->size() < shortest_password)
        return fmt::format("a password has at least {} characters; this one has {}. A few words in a row do well",
                           shortest_password, found->size());
    if (found->size() > longest_password)
        return fmt::format("a password has at most {} characters; this one has {}", longest_password, found->size());
    if (std::ranges::any_of(*found, is_control))
        return "a password holds a control character, such as a tab or a line end; leave it out";
    const std::string low = lower(password);
    if (is_one_step(*found) || std::ranges::find(tried_first, low) != tried_first.end() || low == lower(name))
        return "this password is among the first that anybody would try; a few words in a row do better";
    return std::nullopt;
}

} // namespace stillmark::people
