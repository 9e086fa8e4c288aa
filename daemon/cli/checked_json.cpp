#include "daemon/cli/checked_json.hpp"

#include <fmt/format.h>

#include <cmath>

namespace stillmark::cli {

namespace {

const char* kind(const Json& value) {
    if (value.is_string()) return "a text";
    if (value.is_number()) return "a number";
    if (value.is_boolean()) return "a truth value";
    if (value.is_array()) return "a list";
    if (value.is_object()) return "an object";
    return "nothing";
}

} // namespace

Fields::Fields(const Json& value, std::string place, std::string& objection)
    : object_(value), place_(std::move(place)), objection_(objection) {
    if (!value.is_object() && objection_.empty())
        objection_ =
            fmt::format("{}: {} stands where an object belongs", place_.empty() ? "message" : place_, kind(value));
}

const Json* Fields::find(std::string_view key) const {
    if (!object_.is_object()) return nullptr;
    const auto found = object_.find(key);
    return found == object_.end() || found->is_null() ? nullptr : &*found;
}

std::string Fields::place_of(std::string_view key) const {
    return place_.empty() ? std::string(key) : fmt::format("{}.{}", place_, key);
}

void Fields::object_to(std::string_view key, const Json& found, std::string_view wanted) const {
    if (objection_.empty())
        objection_ = fmt::format("{}: {} stands where {} belongs", place_of(key), kind(found), wanted);
}

std::string Fields::text(std::string_view key) const {
    const Json* found = find(key);
    if (found == nullptr) return {};
    if (const auto* text = found->get_ptr<const std::string*>()) return *text;
    object_to(key, *found, "a text");
    return {};
}

std::optional<double> Fields::number(std::string_view key) const {
    const Json* found = find(key);
    if (found == nullptr) return std::nullopt;
    if (!found->is_number()) {
        object_to(key, *found, "a number");
        return std::nullopt;
    }
    return found->get<double>();
}

std::optional<std::int64_t> Fields::whole(std::string_view key) const {
    constexpr double beyond = 9.2e18;
    const auto found = number(key);
    if (!found) return std::nullopt;
    if (std::trunc(*found) != *found || std::abs(*found) > beyond) {
        if (objection_.empty()) objection_ = fmt::format("{}: {} is no whole number", place_of(key), *found);
        return std::nullopt;
    }
    return find(key)->get<std::int64_t>();
}

bool Fields::flag(std::string_view key) const {
    const Json* found = find(key);
    if (found == nullptr) return false;
    if (!found->is_boolean()) object_to(key, *found, "a truth value");
    return found->is_boolean() && found->get<bool>();
}

std::vector<std::string> Fields::texts(std::string_view key) const {
    std::vector<std::string> all;
    const Json* found = list(key);
    if (found == nullptr) return all;
    for (const Json& item : *found) {
        if (const auto* text = item.get_ptr<const std::string*>())
            all.push_back(*text);
        else
            object_to(fmt::format("{}[{}]", key, all.size()), item, "a text");
    }
    return all;
}

const Json* Fields::object(std::string_view key) const {
    const Json* found = find(key);
    if (found == nullptr || found->is_object()) return found;
    object_to(key, *found, "an object");
    return nullptr;
}

const Json* Fields::list(std::string_view key) const {
    const Json* found = find(key);
    if (found == nullptr || found->is_array()) return found;
    object_to(key, *found, "a list");
    return nullptr;
}

std::optional<Json> parse_line(std::string_view line) {
    Json value = Json::parse(line.begin(), line.end(), nullptr, false);
    if (value.is_discarded()) return std::nullopt;
    return value;
}

std::string to_line(const Json& value) {
    return value.dump(-1, ' ', false, Json::error_handler_t::replace);
}

} // namespace stillmark::cli
