#pragma once

#include "simulator/draw.hpp"
#include "simulator/quantity.hpp"

#include <nlohmann/json.hpp>

#include <string>
#include <string_view>
#include <vector>

namespace stillmark::simulator {

/// One value of a JSON file together with where it stands, so that every complaint names its place.
class JsonPlace {
  public:
    JsonPlace(const nlohmann::json& node, std::string place) : node_(&node), place_(std::move(place)) {}

    bool has(const char* key) const { return node_->is_object() && node_->contains(key); }
    JsonPlace at(const char* key) const; ///< throws Mistake where it is absent
    std::vector<JsonPlace> items() const;
    std::vector<std::pair<std::string, JsonPlace>> members() const;
    /// Refuses keys that are not in the list: a misspelt key must not be silently ignored.
    void only(std::initializer_list<std::string_view> keys) const;

    std::string text() const;
    double number() const;
    std::int64_t whole() const;
    bool yes() const;
    double quantity(const Kind& kind) const;
    /// A quantity, or {"value", "u" | "U" and "k" | "limits"}; a spread in % or ppm is relative to the value, except of
    /// a plain number, where it is absolute. "value" may be left out where the spread is about zero.
    Stated stated(const Kind& kind) const;

    std::string text_or(const char* key, const std::string& otherwise) const;
    double number_or(const char* key, double otherwise) const;
    double quantity_or(const char* key, const Kind& kind, double otherwise) const;
    Stated stated_or(const char* key, const Kind& kind, const Stated& otherwise) const;

    const nlohmann::json& node() const { return *node_; }
    [[noreturn]] void refuse(const std::string& words) const;

  private:
    double spread(const Kind& kind, double value) const;
    const nlohmann::json* node_;
    std::string place_;
};

/// Reads a JSON file with comments. Throws Mistake.
nlohmann::json read_json_file(const std::string& path);

} // namespace stillmark::simulator
