#include "daemon/people/roles.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>

namespace stillmark::people {

namespace {

struct Right {
    std::string_view what;
    bool by_operator;
    bool by_reviewer;
    bool by_administrator = true;
};

/// An administrator may all of it but what a reviewer answers for. The operator may void too: who put on the wrong disc
/// must be able to say so at once and take the point again; a void stays on record with name and reason.
constexpr std::array<Right, 25> rights{{
    {"look", true, true},
    {"run_start", true, false},
    {"run_stop", true, false},
    {"step_done", true, false},
    {"load", true, false},
    {"vented", true, false},
    {"check", true, false},
    {"go_on", true, false},
    {"confirm", true, false},
    {"sighted", true, false},
    {"lost", true, false},
    {"undo", true, false},
    {"enter", true, false},
    {"void", true, true},
    {"redo", true, false},
    {"health", true, false},
    {"retry", true, false},
    {"surroundings", true, false},
    {"particulars", true, true},
    {"draft", true, true},
    {"accept", false, true, false},
    {"sign", false, true, false},
    {"override", false, true, false},
    {"allow_expiry", false, false},
    {"users", false, false},
}};

constexpr std::array<std::string_view, 3> role_words{"operator", "reviewer", "administrator"};

Roles those_who_may(std::string_view what) {
    const auto* const right = std::ranges::find(rights, what, &Right::what);
    if (right == rights.end()) return {};
    Roles roles;
    if (right->by_administrator) roles.insert(Role::administrator);
    if (right->by_operator) roles.insert(Role::bench_operator);
    if (right->by_reviewer) roles.insert(Role::reviewer);
    return roles;
}

} // namespace

std::string_view word(Role role) {
    return role_words.at(static_cast<std::size_t>(role));
}

std::optional<Role> role_of(std::string_view word) {
    const auto* const found = std::ranges::find(role_words, word);
    if (found == role_words.end()) return std::nullopt;
    return static_cast<Role>(found - role_words.begin());
}

std::vector<std::string> words(const Roles& roles) {
    std::vector<std::string> list;
    for (const Role role : roles)
        list.emplace_back(word(role));
    return list;
}

bool may(const Roles& roles, std::string_view what) {
    const Roles allowed = those_who_may(what);
    return std::ranges::any_of(roles, [&allowed](Role role) { return allowed.contains(role); });
}

std::string roles_that_may(std::string_view what) {
    const Roles allowed = those_who_may(what);
    if (allowed.empty()) return "nobody";
    return fmt::format("{}", fmt::join(words(allowed), " or "));
}

} // namespace stillmark::people
