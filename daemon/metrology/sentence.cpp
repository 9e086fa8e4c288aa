#include "daemon/metrology/sentence.hpp"

#include <utility>

namespace stillmark::metrology {

namespace {

std::string shown(const Sentence::Value& value, const Rendering& how) {
    if (value.kind == Sentence::Value::Kind::text) return value.text;
    if (value.kind == Sentence::Value::Kind::number) return how.number(value.text);
    std::string all;
    for (const Sentence& one : value.list)
        all += (all.empty() ? "" : ", ") + rendered(one, how);
    return all;
}

} // namespace

Sentence sentence(std::string pattern, std::vector<Sentence::Value> values) {
    return {std::move(pattern), std::move(values)};
}

Sentence::Value text_value(std::string name, std::string text) {
    return {std::move(name), Sentence::Value::Kind::text, std::move(text), {}};
}
Sentence::Value number_value(std::string name, std::string digits) {
    return {std::move(name), Sentence::Value::Kind::number, std::move(digits), {}};
}
Sentence::Value number_value(std::string name, long long whole) {
    return number_value(std::move(name), std::to_string(whole));
}
Sentence::Value words_value(std::string name, Sentence words) {
    return words_value(std::move(name), std::vector<Sentence>{std::move(words)});
}
Sentence::Value words_value(std::string name, std::vector<Sentence> list) {
    return {std::move(name), Sentence::Value::Kind::words, {}, std::move(list)};
}

std::string filled(std::string_view words, const std::function<std::string(std::string_view name)>& value_of) {
    std::string text;
    for (std::size_t at = 0; at < words.size();) {
        const std::size_t open = words.find('{', at);
        const std::size_t close = open == std::string_view::npos ? open : words.find('}', open);
        if (close == std::string_view::npos) return text.append(words.substr(at));
        text.append(words.substr(at, open - at)).append(value_of(words.substr(open + 1, close - open - 1)));
        at = close + 1;
    }
    return text;
}

std::string rendered(const Sentence& one, const Rendering& how) {
    return filled(how.pattern(one.pattern), [&](std::string_view name) {
        std::string text;
        for (const auto& value : one.values)
            if (value.name == name) text += shown(value, how);
        return text;
    });
}

std::string english(const Sentence& one) {
    const auto as_it_is = [](const std::string& text) { return text; };
    return rendered(one, {as_it_is, as_it_is});
}

} // namespace stillmark::metrology
