#include "simulator/json_place.hpp"

#include "simulator/mistake.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>

namespace stillmark::simulator {

JsonPlace JsonPlace::at(const char* key) const {
    if (!has(key)) refuse(fmt::format("\"{}\" is missing", key));
    return {(*node_)[key], place_ + "." + key};
}

std::vector<JsonPlace> JsonPlace::items() const {
    if (!node_->is_array()) refuse("a list belongs here");
    std::vector<JsonPlace> all;
    for (std::size_t i = 0; i < node_->size(); ++i)
        all.emplace_back((*node_)[i], fmt::format("{}[{}]", place_, i));
    return all;
}

std::vector<std::pair<std::string, JsonPlace>> JsonPlace::members() const {
    if (!node_->is_object()) refuse("an object belongs here");
    std::vector<std::pair<std::string, JsonPlace>> all;
    for (const auto& [key, value] : node_->items())
        all.emplace_back(key, JsonPlace(value, place_ + "." + key));
    return all;
}

void JsonPlace::only(std::initializer_list<std::string_view> keys) const {
    for (const auto& [key, unused] : members())
        if (std::find(keys.begin(), keys.end(), key) == keys.end())
            refuse(fmt::format("\"{}\" is not a key here; use {}", key, fmt::join(keys, ", ")));
}

std::string JsonPlace::text() const {
    if (!node_->is_string()) refuse(fmt::format("a text belongs here, found {}", node_->dump()));
    return node_->get<std::string>();
}

double JsonPlace::number() const {
    if (!node_->is_number()) refuse(fmt::format("a number belongs here, found {}", node_->dump()));
    return node_->get<double>();
}

std::int64_t JsonPlace::whole() const {
    if (!node_->is_number_integer()) refuse(fmt::format("a whole number belongs here, found {}", node_->dump()));
    return node_->get<std::int64_t>();
}

bool JsonPlace::yes() const {
    if (!node_->is_boolean()) refuse(fmt::format("true or false belongs here, found {}", node_->dump()));
    return node_->get<bool>();
}

double JsonPlace::quantity(const Kind& kind) const {
    try {
        return quantity_si(text(), kind);
    } catch (const Mistake& mistake) {
        if (std::string_view(mistake.what()).starts_with(place_)) throw;
        refuse(mistake.what());
    }
}

double JsonPlace::spread(const Kind& kind, double value) const {
    const std::string words = text();
    const bool relative = words.ends_with("%") || words.ends_with("ppm");
    if (relative && !(kind == number_kind)) return quantity(number_kind) * value;
    return quantity(kind.celsius_point ? kelvin_kind : kind);
}

Stated JsonPlace::stated(const Kind& kind) const {
    if (node_->is_string()) return {quantity(kind), 0, Shape::exact};
    Stated stated;
    if (has("value")) stated.value = at("value").quantity(kind);
    if (has("u")) {
        stated.spread = at("u").spread(kind, stated.value);
        stated.shape = Shape::normal;
    } else if (has("U")) {
        stated.spread = at("U").spread(kind, stated.value) / at("k").number();
        stated.shape = Shape::normal;
    } else if (has("limits")) {
        stated.spread = at("limits").spread(kind, stated.value);
        const auto shape = text_or("distribution", "rectangular");
        if (shape == "rectangular")
            stated.shape = Shape::rectangular;
        else if (shape == "triangular")
            stated.shape = Shape::triangular;
        else
            at("distribution").refuse(fmt::format("\"{}\" is not drawn; use rectangular or triangular", shape));
    }
    return stated;
}

std::string JsonPlace::text_or(const char* key, const std::string& otherwise) const {
    return has(key) ? at(key).text() : otherwise;
}
double JsonPlace::number_or(const char* key, double otherwise) const {
    return has(key) ? at(key).number() : otherwise;
}
double JsonPlace::quantity_or(const char* key, const Kind& kind, double otherwise) const {
    return has(key) ? at(key).quantity(kind) : otherwise;
}
Stated JsonPlace::stated_or(const char* key, const Kind& kind, const Stated& otherwise) const {
    return has(key) ? at(key).stated(kind) : otherwise;
}

void JsonPlace::refuse(const std::string& words) const {
    throw Mistake(place_ + ": " + words);
}

nlohmann::json read_json_file(const std::string& path) {
    std::ifstream file(path);
    if (!file) throw Mistake(path + ": cannot be read");
    try {
        return nlohmann::json::parse(file, nullptr, true, true);
    } catch (const nlohmann::json::exception& error) {
        throw Mistake(path + ": is not JSON: " + error.what());
    }
}

} // namespace stillmark::simulator
