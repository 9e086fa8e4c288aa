#pragma once

#include <cstdint>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace stillmark::people {

enum class Role : std::uint8_t { bench_operator, reviewer, administrator };
using Roles = std::set<Role>;

/// "operator", "reviewer", "administrator".
std::string_view word(Role role);
std::optional<Role> role_of(std::string_view word);
std::vector<std::string> words(const Roles& roles);

/// Somebody the service knows, with what he may do.
struct Person {
    std::string name;
    Roles roles;
};

/// Whether these roles may do something: a command of the local socket by its name, `look` for all that only asks, or
/// `users`. What the table does not know, nobody may.
bool may(const Roles& roles, std::string_view what);

/// The roles that may, as a person would say them: "operator or administrator".
std::string roles_that_may(std::string_view what);

} // namespace stillmark::people
