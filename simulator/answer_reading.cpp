#include "simulator/answer_reading.hpp"

#include <algorithm>

namespace stillmark::simulator {

namespace {

const nlohmann::json* under(const nlohmann::json& object, const char* key) {
    if (!object.is_object()) return nullptr;
    const auto found = object.find(key);
    return found == object.end() ? nullptr : &*found;
}

} // namespace

std::string text_in(const nlohmann::json& object, const char* key) {
    const auto* value = under(object, key);
    return value != nullptr && value->is_string() ? value->get<std::string>() : std::string();
}

double number_in(const nlohmann::json& object, const char* key, double otherwise) {
    const auto* value = under(object, key);
    return value != nullptr && value->is_number() ? value->get<double>() : otherwise;
}

long whole_in(const nlohmann::json& object, const char* key, long otherwise) {
    const auto* value = under(object, key);
    return value != nullptr && value->is_number_integer() ? value->get<long>() : otherwise;
}

bool yes_in(const nlohmann::json& object, const char* key) {
    const auto* value = under(object, key);
    return value != nullptr && value->is_boolean() && value->get<bool>();
}

std::vector<std::string> texts_in(const nlohmann::json& object, const char* key) {
    std::vector<std::string> all;
    for (const auto& item : list_in(object, key))
        if (item.is_string()) all.push_back(item.get<std::string>());
    return all;
}

std::vector<Instruction> instructions_in(const nlohmann::json& object, const char* key) {
    std::vector<Instruction> all;
    for (const auto& item : list_in(object, key))
        all.push_back({text_in(item, "code"), text_in(item, "text")});
    return all;
}

bool has_code(const std::vector<Instruction>& all, std::string_view code) {
    return std::any_of(all.begin(), all.end(), [code](const Instruction& one) { return one.code == code; });
}

bool has_text(const std::vector<Instruction>& all, std::string_view text) {
    return std::any_of(all.begin(), all.end(), [text](const Instruction& one) { return one.text == text; });
}

const nlohmann::json& list_in(const nlohmann::json& object, const char* key) {
    static const nlohmann::json none = nlohmann::json::array();
    const auto* value = under(object, key);
    return value != nullptr && value->is_array() ? *value : none;
}

const nlohmann::json& object_in(const nlohmann::json& object, const char* key) {
    static const nlohmann::json none = nlohmann::json::object();
    const auto* value = under(object, key);
    return value != nullptr && value->is_object() ? *value : none;
}

} // namespace stillmark::simulator
