#pragma once

#include <functional>
#include <string>
#include <string_view>
#include <vector>

namespace stillmark::metrology {

/// A sentence of the service as data: an English pattern with {named} gaps and what fills them. It becomes words where
/// it is shown: `english` here, other languages in records, which translate by the pattern. A test collects the pattern
/// of every call of `sentence` from the sources, so a pattern is written as one literal.
struct Sentence {
    struct Value;
    std::string pattern;
    std::vector<Value> values;

    bool empty() const { return pattern.empty(); }
};

struct Sentence::Value {
    enum class Kind : unsigned char {
        text,   ///< a name, or what a person wrote: stands as it is
        number, ///< digits with a point: the decimal sign is the language's
        words   ///< words of the service: translated as well, several of them in one list
    };
    std::string name;
    Kind kind = Kind::text;
    std::string text;
    std::vector<Sentence> list;
};

Sentence sentence(std::string pattern, std::vector<Sentence::Value> values = {});

Sentence::Value text_value(std::string name, std::string text);
/// Digits with a point, as they are to be shown.
Sentence::Value number_value(std::string name, std::string digits);
Sentence::Value number_value(std::string name, long long whole);
Sentence::Value words_value(std::string name, Sentence words);
Sentence::Value words_value(std::string name, std::vector<Sentence> list);

/// How one language shows a sentence. A list is joined by ", ".
struct Rendering {
    std::function<std::string(const std::string& pattern)> pattern;
    std::function<std::string(const std::string& digits)> number;
};
/// Words with each {name} in them replaced by what `value_of` gives for it; a value is never searched for gaps itself.
std::string filled(std::string_view words, const std::function<std::string(std::string_view name)>& value_of);
/// The sentence in words; a value is never searched for gaps itself, a gap without a value stays empty.
std::string rendered(const Sentence& one, const Rendering& how);
std::string english(const Sentence& one);

} // namespace stillmark::metrology
