#include "daemon/people/users.hpp"

#include "daemon/people/names.hpp"
#include "daemon/people/password_hash.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <set>
#include <stdexcept>

namespace stillmark::people {

using nlohmann::json;

namespace {

constexpr int deepest = 4; ///< the file, its list, a user, the list of roles

UsersTrouble trouble(const std::string& place, const std::string& what) {
    return {UsersTrouble::Kind::file, place.empty() ? what : fmt::format("{}: {}", place, what)};
}

/// The JSON value in a text, or a mistake. A key that stands twice, or lists in lists without end, are mistakes.
std::optional<UsersTrouble> parse(const std::string& text, json& value) {
    std::vector<std::set<std::string>> open_objects;
    std::string twice;
    bool too_deep = false;
    const json::parser_callback_t watch = [&](int depth, json::parse_event_t event, const json& parsed) {
        too_deep = too_deep || depth > deepest;
        if (event == json::parse_event_t::object_start) open_objects.emplace_back();
        if (event == json::parse_event_t::object_end) open_objects.pop_back();
        if (event == json::parse_event_t::key) {
            const auto& key = parsed.get_ref<const std::string&>();
            if (!open_objects.back().insert(key).second) twice = key;
        }
        return !too_deep;
    };
    value = json::parse(text, watch, false);
    if (too_deep) return trouble("", "lists stand in lists where a users file has none");
    if (value.is_discarded())
        return trouble("", "this is not JSON; look for a missing or extra comma, quote or bracket");
    if (!twice.empty()) return trouble("", fmt::format("the key \"{}\" stands twice in one object; keep one", twice));
    return std::nullopt;
}

std::optional<UsersTrouble> has_just(const json& value, const std::string& place, const std::set<std::string>& keys) {
    if (!value.is_object()) return trouble(place, "an object {...} belongs here");
    for (const auto& [key, inside] : value.items()) {
        if (!keys.contains(key))
            return trouble(place,
                           fmt::format("the key \"{}\" is not known; known here are {}", key, fmt::join(keys, ", ")));
    }
    for (const auto& key : keys) {
        if (!value.contains(key)) return trouble(place, fmt::format("\"{}\" is missing", key));
    }
    return std::nullopt;
}

UsersResult<Roles> read_roles(const json& value, const std::string& place) {
    Roles roles;
    if (!value.is_array() || value.empty())
        return trouble(place, "a list of roles belongs here: operator, reviewer, administrator");
    for (const auto& one : value) {
        const auto role = one.is_string() ? role_of(one.get_ref<const std::string&>()) : std::nullopt;
        if (!role)
            return trouble(place, fmt::format("{} is no role; use operator, reviewer or administrator",
                                              one.dump(-1, ' ', false, json::error_handler_t::replace)));
        if (!roles.insert(*role).second) return trouble(place, fmt::format("the role {} stands twice", word(*role)));
    }
    return roles;
}

UsersResult<User> read_user(const json& value, const std::string& place) {
    if (const auto wrong = has_just(value, place, {"name", "roles", "password"})) return *wrong;
    User user;
    const auto name = value.find("name");
    if (!name->is_string()) return trouble(place + ".name", "a text belongs here");
    user.name = name->get<std::string>();
    if (const auto wrong = objection_to_name(user.name)) return trouble(place + ".name", *wrong);
    if (trimmed(user.name) != user.name)
        return trouble(place + ".name", "a name has no blanks at its ends; take them away");
    auto roles = read_roles(*value.find("roles"), place + ".roles");
    if (!roles) return roles.error();
    user.roles = *roles;
    const auto password = value.find("password");
    if (!password->is_string() || !read_password_hash(password->get_ref<const std::string&>()))
        return trouble(place + ".password", fmt::format("this is no hash that is taken here; set the password anew: "
                                                        "stillmark users FILE password \"{}\"",
                                                        user.name));
    user.password_hash = password->get<std::string>();
    return user;
}

bool is_administrator(const User& user) {
    return user.roles.contains(Role::administrator);
}

std::string nobody_named(const std::string& name) {
    return fmt::format("nobody is named \"{}\" here; see the list", name);
}

} // namespace

void throw_exception_from_error(const UsersTrouble& trouble, const boost::source_location&) {
    throw std::runtime_error(trouble.message);
}

const User* Users::find(std::string_view name) const {
    const auto found = std::ranges::find(list, name, &User::name);
    return found == list.end() ? nullptr : &*found;
}

std::optional<std::string> add_user(Users& users, User user) {
    if (auto wrong = objection_to_name(user.name)) return wrong;
    if (user.roles.empty()) return "a person has at least one role: operator, reviewer, administrator";
    if (users.find(user.name) != nullptr) return fmt::format("somebody is named \"{}\" already", user.name);
    if (users.list.size() >= most_users) return fmt::format("there is room for {} people; remove somebody", most_users);
    users.list.push_back(std::move(user));
    return std::nullopt;
}

std::optional<std::string> remove_user(Users& users, const std::string& name) {
    const User* user = users.find(name);
    if (user == nullptr) return nobody_named(name);
    if (is_administrator(*user) && std::ranges::count_if(users.list, is_administrator) == 1)
        return fmt::format("{} is the last administrator; add another one first", name);
    std::erase_if(users.list, [&name](const User& one) { return one.name == name; });
    return std::nullopt;
}

std::optional<std::string> set_password(Users& users, const std::string& name, const std::string& password_hash) {
    const auto user = std::ranges::find(users.list, name, &User::name);
    if (user == users.list.end()) return nobody_named(name);
    user->password_hash = password_hash;
    return std::nullopt;
}

std::string users_text(const Users& users) {
    json list = json::array();
    for (const auto& user : users.list)
        list.push_back({{"name", user.name}, {"roles", words(user.roles)}, {"password", user.password_hash}});
    return json{{"users", list}}.dump(2, ' ', false, json::error_handler_t::replace) + "\n";
}

UsersResult<Users> read_users(const std::string& text) {
    json whole;
    if (const auto wrong = parse(text, whole)) return *wrong;
    if (const auto wrong = has_just(whole, "", {"users"})) return *wrong;
    const json& list = *whole.find("users");
    if (!list.is_array()) return trouble("users", "a list [...] belongs here");
    if (list.size() > most_users)
        return trouble("users", fmt::format("{} people are listed; there is room for {}", list.size(), most_users));
    Users users;
    for (std::size_t i = 0; i < list.size(); ++i) {
        const std::string place = fmt::format("users[{}]", i);
        const auto user = read_user(list[i], place);
        if (!user) return user.error();
        if (users.find(user->name) != nullptr)
            return trouble(place + ".name", fmt::format("\"{}\" stands twice; keep one", user->name));
        users.list.push_back(*user);
    }
    return users;
}

} // namespace stillmark::people
