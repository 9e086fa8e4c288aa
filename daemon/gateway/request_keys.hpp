#pragma once

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cstdint>
#include <string>
#include <vector>

namespace stillmark::gateway {

/// Reads the keys of a request. All that is wrong with them is told together: what is missing, what is of another kind,
/// and what nobody asked for, for a mistyped key would silently mean its default.
class Keys {
  public:
    explicit Keys(const nlohmann::json& request) : request_(request) {}

    std::string text(const char* key) {
        return find(
            key, true, "a text", [](const nlohmann::json& node) { return node.is_string(); }, std::string());
    }
    std::string text_or(const char* key, const std::string& otherwise) {
        return find(
            key, false, "a text", [](const nlohmann::json& node) { return node.is_string(); }, otherwise);
    }
    std::int64_t number(const char* key) {
        return find(
            key, true, "a whole number", [](const nlohmann::json& node) { return node.is_number_integer(); },
            std::int64_t{0});
    }
    bool yes_or(const char* key, bool otherwise) {
        return find(
            key, false, "true or false", [](const nlohmann::json& node) { return node.is_boolean(); }, otherwise);
    }
    std::int64_t number_or(const char* key, std::int64_t otherwise) {
        return find(
            key, false, "a whole number", [](const nlohmann::json& node) { return node.is_number_integer(); },
            otherwise);
    }
    std::vector<std::string> texts_or_none(const char* key) {
        std::vector<std::string> list;
        note(key);
        const auto node = request_.find(key);
        if (node == request_.end()) return list;
        const auto is_text = [](const nlohmann::json& item) { return item.is_string(); };
        if (!node->is_array() || node->size() > 1000 || !std::ranges::all_of(*node, is_text)) {
            say(fmt::format("\"{}\" is no list of texts", key));
            return list;
        }
        for (const auto& item : *node)
            list.push_back(item.get<std::string>());
        return list;
    }
    bool has(const char* key) {
        note(key);
        return request_.contains(key);
    }
    /// What is wrong with those that were asked for; empty where nothing is.
    std::string wrong_so_far() const { return fmt::format("{}", fmt::join(wrong_, "; ")); }
    /// What is wrong, once everything was asked for; empty where nothing is.
    std::string wrong() const {
        auto all = wrong_;
        for (const auto& item : request_.items())
            if (item.key() != word_of_the_gateway && std::ranges::find(known_, item.key()) == known_.end())
                all.push_back(fmt::format("\"{}\": unknown key; known here: {}", item.key(), fmt::join(known_, ", ")));
        return fmt::format("{}", fmt::join(all, "; "));
    }

  private:
    template <class T, class Fits>
    T find(const char* key, bool needed, const char* kind, Fits fits, T otherwise) {
        note(key);
        const auto node = request_.find(key);
        if (node == request_.end()) {
            if (needed) say(fmt::format("\"{}\" is missing; give {}", key, kind));
            return otherwise;
        }
        if (!fits(*node)) {
            say(fmt::format("\"{}\" is not {}", key, kind));
            return otherwise;
        }
        return node->template get<T>();
    }
    void note(const std::string& key) {
        if (key != word_of_the_gateway && std::ranges::find(known_, key) == known_.end()) known_.push_back(key);
    }
    void say(std::string words) {
        if (std::ranges::find(wrong_, words) == wrong_.end()) wrong_.push_back(std::move(words));
    }

    /// The gateway itself puts it there, and takes it off what a client sends.
    static constexpr const char* word_of_the_gateway = "logged_in";

    const nlohmann::json& request_;
    std::vector<std::string> known_{"id", "do", "by", "pressed_us"}; ///< what any request may carry
    std::vector<std::string> wrong_;
};

} // namespace stillmark::gateway
