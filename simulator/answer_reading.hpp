#pragma once

#include <nlohmann/json.hpp>

#include <string>
#include <string_view>
#include <vector>

namespace stillmark::simulator {

/// What stands under a key of the service's answers; what is absent, null or of another type counts as not said.
std::string text_in(const nlohmann::json& object, const char* key);
double number_in(const nlohmann::json& object, const char* key, double otherwise = 0);
long whole_in(const nlohmann::json& object, const char* key, long otherwise = 0);
bool yes_in(const nlohmann::json& object, const char* key);
std::vector<std::string> texts_in(const nlohmann::json& object, const char* key);
/// One instruction of a step: a code to act on, and words to read.
struct Instruction {
    std::string code;
    std::string text;
};
std::vector<Instruction> instructions_in(const nlohmann::json& object, const char* key);
bool has_code(const std::vector<Instruction>& all, std::string_view code);
bool has_text(const std::vector<Instruction>& all, std::string_view text);
/// The list or object under a key, or an empty one.
const nlohmann::json& list_in(const nlohmann::json& object, const char* key);
const nlohmann::json& object_in(const nlohmann::json& object, const char* key);

} // namespace stillmark::simulator
