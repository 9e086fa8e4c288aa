#include "daemon/bench/permissible_error_text.hpp"

#include "daemon/metrology/evaluation/unsaid.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <charconv>
#include <string_view>

namespace stillmark::bench {

using drivers::Dimension;
using metrology::PermissibleError;
using metrology::PermissibleTerm;

namespace {

/// The number behind a word such as "class ", or nothing.
std::optional<double> number_after(std::string_view text, std::string_view word) {
    if (!text.starts_with(word)) return std::nullopt;
    text.remove_prefix(word.size());
    double value = 0;
    const auto [end, fault] = std::from_chars(text.data(), text.data() + text.size(), value);
    return fault == std::errc{} && end == text.data() + text.size() ? std::optional(value) : std::nullopt;
}

PermissibleError known_or_told(const Place& place, const std::string& words, std::optional<PermissibleError> found) {
    if (found) return *found;
    place.say(
        fmt::format("there is no \"{}\"; the classes are {}", words, fmt::join(metrology::accuracy_classes(), ", ")));
    return {};
}

PermissibleError part_of(const Place& place, std::string_view part, PermissibleTerm::Kind kind,
                         const std::string& words) {
    const auto value = drivers::parse_quantity(part, Dimension::fraction);
    if (!value)
        place.say(value.error().message);
    else if (!(*value > 0))
        place.say(fmt::format("\"{}\" permits no error at all; give a part over zero", words));
    const auto stated = metrology::number_value("part", std::string(part));
    return {{{kind, value ? *value : 1, 0}},
            false,
            std::nullopt,
            false,
            kind == PermissibleTerm::Kind::of_span ? metrology::sentence("{part} of span", {stated})
                                                   : metrology::sentence("{part} of reading", {stated})};
}

PermissibleError read_words(const Place& place, const AbsoluteTerm& other) {
    const std::string words = place.text();
    if (place.wrong()) return {};
    const std::string_view text = words;
    if (const auto found = number_after(text, "class "))
        return known_or_told(place, words, metrology::of_class(*found));
    if (const auto found = number_after(text, "verification class "))
        return known_or_told(place, words, metrology::of_verification_class(*found, false));
    if (const auto found = number_after(text, "in-service class "))
        return known_or_told(place, words, metrology::of_verification_class(*found, true));
    if (text.starts_with("grade ")) {
        if (const auto found = metrology::of_grade(text.substr(6))) return *found;
        place.say(fmt::format("there is no \"{}\"; the grades are 4A, 3A, 2A, 1A, A, B, C and D", words));
        return {};
    }
    for (const auto& [ending, kind] : {std::pair{std::string_view(" of span"), PermissibleTerm::Kind::of_span},
                                       std::pair{std::string_view(" of reading"), PermissibleTerm::Kind::of_reading}})
        if (text.ends_with(ending)) return part_of(place, text.substr(0, text.size() - ending.size()), kind, words);
    if (words.find('%') != std::string::npos) {
        place.say(fmt::format("\"{}\" does not say of what; write \"0.05 % of span\" or \"0.05 % of reading\"", words));
        return {};
    }
    const auto own = other ? other(words) : std::nullopt;
    return {{{PermissibleTerm::Kind::absolute, own ? *own : place.over_zero(Dimension::pressure), 0}},
            false,
            std::nullopt,
            false,
            metrology::as_written(words)};
}

} // namespace

PermissibleError read_permissible_error(const Place& place, const AbsoluteTerm& other) {
    if (!place.node().is_object()) return read_words(place, other);
    place.only({"larger_of", "sum_of"});
    if (place.has("larger_of") == place.has("sum_of")) {
        place.say("give either \"larger_of\" or \"sum_of\", with a list of permissible errors");
        return {};
    }
    PermissibleError all;
    metrology::Sentence terms;
    all.larger = place.has("larger_of");
    for (const Place& item : place.items_at(all.larger ? "larger_of" : "sum_of", 2)) {
        const auto one = read_words(item, other);
        all.terms.insert(all.terms.end(), one.terms.begin(), one.terms.end());
        if (one.accuracy_class) all.accuracy_class = one.accuracy_class;
        all.not_compared = all.not_compared || one.not_compared;
        if (one.hysteresis_of_span) all.hysteresis_of_span = one.hysteresis_of_span;
        terms = terms.empty() ? one.words
                              : metrology::sentence("{one} and {other}", {metrology::words_value("one", terms),
                                                                          metrology::words_value("other", one.words)});
    }
    const auto value = metrology::words_value("terms", terms);
    all.words = all.larger ? metrology::sentence("the larger of {terms}", {value})
                           : metrology::sentence("the sum of {terms}", {value});
    return all;
}

} // namespace stillmark::bench
