#include "drivers/strict_json.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <numeric>

namespace stillmark::drivers {
namespace {

/// Letters to insert, drop or change to make one word of the other.
std::size_t distance(std::string_view one, std::string_view other) {
    std::vector<std::size_t> row(other.size() + 1);
    std::iota(row.begin(), row.end(), std::size_t{0});
    for (std::size_t i = 1; i <= one.size(); ++i) {
        std::size_t diagonal = std::exchange(row[0], i);
        for (std::size_t j = 1; j <= other.size(); ++j) {
            const std::size_t changed = diagonal + (one[i - 1] == other[j - 1] ? 0 : 1);
            diagonal = std::exchange(row[j], std::min({row[j] + 1, row[j - 1] + 1, changed}));
        }
    }
    return row.back();
}

std::string listed(const std::vector<std::string>& words) {
    if (words.size() < 2) return fmt::format("{}", fmt::join(words, ""));
    return fmt::format("{} or {}", fmt::join(words.begin(), words.end() - 1, ", "), words.back());
}

std::string line_and_column(const std::string& text, std::size_t byte) {
    const auto end = text.begin() + static_cast<std::ptrdiff_t>(std::min(byte, text.size()));
    const auto line = std::count(text.begin(), end, '\n') + 1;
    const auto line_start = std::find(std::make_reverse_iterator(end), text.rend(), '\n').base();
    return fmt::format("line {}, near column {}", line, std::distance(line_start, end) + 1);
}

const char* kind_of(const nlohmann::json& value) {
    if (value.is_object()) return "an object";
    if (value.is_array()) return "a list";
    if (value.is_null()) return "null";
    return nullptr;
}

} // namespace

std::string shown(const nlohmann::json& value) {
    if (const char* kind = kind_of(value)) return kind;
    std::string text = value.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
    constexpr std::size_t longest = 60;
    if (text.size() > longest) text = text.substr(0, longest) + "...";
    return text;
}

void Mistake::note(const std::string& place, const std::string& what) {
    if (found()) return;
    message_ = place.empty() ? what : fmt::format("{}: {}", place, what);
}

nlohmann::json parse_strictly(const std::string& text, Mistake& mistake) {
    std::vector<std::set<std::string>> open_objects;
    std::string twice;
    const auto watch = [&](int, nlohmann::json::parse_event_t event, nlohmann::json& parsed) {
        if (event == nlohmann::json::parse_event_t::object_start) open_objects.emplace_back();
        if (event == nlohmann::json::parse_event_t::object_end) open_objects.pop_back();
        if (event == nlohmann::json::parse_event_t::key) {
            const auto& key = parsed.get_ref<const std::string&>();
            if (!open_objects.back().insert(key).second && twice.empty()) twice = key;
        }
        return true;
    };
    try {
        auto value = nlohmann::json::parse(text, watch, true, true);
        if (twice.empty()) return value;
        mistake.note("", fmt::format("the key \"{}\" stands twice in one object; keep one", twice));
    } catch (const nlohmann::json::parse_error& error) {
        const std::size_t at = error.byte == 0 ? 0 : error.byte - 1;
        mistake.note(line_and_column(text, at),
                     "not JSON; look for a missing or extra comma, quote or bracket just before it");
    } catch (const nlohmann::json::exception&) {
        mistake.note("", "not JSON: a number is too large to be read");
    }
    return nullptr;
}

JsonObject::JsonObject(const nlohmann::json& value, std::string place, Mistake& mistake)
    : value_(&value), place_(std::move(place)), mistake_(mistake) {
    if (!value.is_object())
        mistake_.note(place_, fmt::format("{} stands where an object {{...}} belongs", shown(value)));
}

std::string JsonObject::place_of(const std::string& key) const {
    return place_.empty() ? key : place_ + "." + key;
}

const nlohmann::json* JsonObject::find(const std::string& key) {
    asked_.insert(key);
    if (!value_->is_object()) return nullptr;
    const auto found = value_->find(key);
    return found == value_->end() ? nullptr : &*found;
}

const nlohmann::json* JsonObject::require(const std::string& key) {
    const auto* found = find(key);
    if (found == nullptr) note(key, "this key is missing; add it");
    return found;
}

std::string JsonObject::text(const std::string& key) {
    const auto* found = require(key);
    if (found == nullptr) return {};
    if (!found->is_string()) {
        note(key, fmt::format("{} stands where text in quotes belongs", shown(*found)));
        return {};
    }
    return found->get<std::string>();
}

std::optional<double> JsonObject::quantity(const std::string& key, Dimension dimension) {
    const auto* found = find(key);
    if (found == nullptr) return std::nullopt;
    if (!found->is_string()) {
        note(key,
             fmt::format("{} has no unit; write a quantity as text with its unit, such as \"0.05 bar\" or \"50 ms\"",
                         shown(*found)));
        return std::nullopt;
    }
    const auto value = parse_quantity(found->get_ref<const std::string&>(), dimension);
    if (value.has_error()) {
        note(key, value.error().message);
        return std::nullopt;
    }
    return *value;
}

std::optional<double> JsonObject::number(const std::string& key) {
    const auto* found = find(key);
    if (found == nullptr) return std::nullopt;
    if (!found->is_number()) {
        note(key, fmt::format("{} stands where a number belongs", shown(*found)));
        return std::nullopt;
    }
    return found->get<double>();
}

std::optional<std::int64_t> JsonObject::integer(const std::string& key, std::int64_t lowest, std::int64_t highest) {
    const auto* found = require(key);
    if (found == nullptr) return std::nullopt;
    const bool too_great = found->is_number_unsigned() &&
                           found->get<std::uint64_t>() > static_cast<std::uint64_t>(std::max<std::int64_t>(highest, 0));
    if (!found->is_number_integer() || too_great || found->get<std::int64_t>() < lowest ||
        found->get<std::int64_t>() > highest) {
        note(key, fmt::format("{} is no whole number from {} to {}", shown(*found), lowest, highest));
        return std::nullopt;
    }
    return found->get<std::int64_t>();
}

std::size_t JsonObject::choice(const std::string& key, const std::string& noun,
                               const std::vector<std::string>& choices) {
    const auto* found = require(key);
    if (found == nullptr) return 0;
    for (std::size_t i = 0; i < choices.size(); ++i) {
        if (*found == choices[i]) return i;
    }
    note(key, fmt::format("{} is not {}; use {}", shown(*found), noun, listed(choices)));
    return 0;
}

std::vector<const nlohmann::json*> JsonObject::list(const std::string& key) {
    const auto* found = find(key);
    if (found == nullptr) return {};
    if (!found->is_array()) {
        note(key, fmt::format("{} stands where a list [...] belongs", shown(*found)));
        return {};
    }
    std::vector<const nlohmann::json*> elements;
    elements.reserve(found->size());
    for (const auto& element : *found)
        elements.push_back(&element);
    return elements;
}

void JsonObject::refuse_unknown_keys() {
    if (!value_->is_object()) return;
    for (const auto& item : value_->items()) {
        const std::string& key = item.key();
        if (asked_.contains(key)) continue;
        const auto nearest = std::min_element(asked_.begin(), asked_.end(), [&](const auto& a, const auto& b) {
            return distance(key, a) < distance(key, b);
        });
        if (nearest != asked_.end() && distance(key, *nearest) <= 2) {
            note(key, fmt::format("unknown key; did you mean \"{}\"?", *nearest));
        } else {
            note(key, fmt::format("unknown key; known here are {}", fmt::join(asked_, ", ")));
        }
    }
}

} // namespace stillmark::drivers
