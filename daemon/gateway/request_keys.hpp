#pragma once

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <cstdint>
#include <string>
#include <vector>

namespace stillmark::gateway {

/// Reads the keys of a request; what is missing or of another kind is said once.
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
        const auto node = request_.find(key);
        if (node == request_.end()) return list;
        if (!node->is_array() || node->size() > 1000) {
            wrong_ = fmt::format("\"{}\" is no list of texts", key);
            return list;
        }
        for (const auto& item : *node) {
            if (!item.is_string())
                wrong_ = fmt::format("\"{}\" is no list of texts", key);
            else
                list.push_back(item.get<std::string>());
        }
        return list;
    }
    bool has(const char* key) const { return request_.contains(key); }
    const std::string& wrong() const { return wrong_; }

  private:
    template <class T, class Fits>
    T find(const char* key, bool needed, const char* kind, Fits fits, T otherwise) {
        const auto node = request_.find(key);
        if (node == request_.end()) {
            if (needed && wrong_.empty()) wrong_ = fmt::format("\"{}\" is missing; give {}", key, kind);
            return otherwise;
        }
        if (!fits(*node)) {
            if (wrong_.empty()) wrong_ = fmt::format("\"{}\" is not {}", key, kind);
            return otherwise;
        }
        return node->template get<T>();
    }

    const nlohmann::json& request_;
    std::string wrong_;
};

} // namespace stillmark::gateway
