#include "daemon/records/words.hpp"

#include <nlohmann/json.hpp>

#include <stdexcept>

// The files as they stand; CMake compiles this again when one of them changes.
__asm__(".section .rodata\n"
        "stillmark_words_en: .incbin \"" STILLMARK_WORDS_FOLDER "/en.json\"\nstillmark_words_en_end: .byte 0\n"
        "stillmark_words_de: .incbin \"" STILLMARK_WORDS_FOLDER "/de.json\"\nstillmark_words_de_end: .byte 0\n"
        "stillmark_sentences_de: .incbin \"" STILLMARK_WORDS_FOLDER
        "/sentences/de.json\"\nstillmark_sentences_de_end: .byte 0\n"
        ".text\n");
extern "C" const char stillmark_words_en[], stillmark_words_en_end[], stillmark_words_de[], stillmark_words_de_end[],
    stillmark_sentences_de[], stillmark_sentences_de_end[];

namespace stillmark::records {

namespace {

std::string_view file_of(Language language) {
    const char* const begin = language == Language::german ? stillmark_words_de : stillmark_words_en;
    const char* const end = language == Language::german ? stillmark_words_de_end : stillmark_words_en_end;
    return {begin, static_cast<std::size_t>(end - begin)};
}

/// The translations of English sentences; English has none.
std::string_view sentences_of(Language language) {
    if (language == Language::english) return "{}";
    return {stillmark_sentences_de, static_cast<std::size_t>(stillmark_sentences_de_end - stillmark_sentences_de)};
}

void take(std::string_view file, std::map<std::string, std::string, std::less<>>& into) {
    const auto parsed = nlohmann::json::parse(file, nullptr, false);
    for (const auto& [key, words] : parsed.items())
        if (const auto* const text = words.get_ptr<const std::string*>()) into.emplace(key, *text);
}

} // namespace

Words::Words(Language language) : language_(language) {
    take(file_of(language), words_);
    take(sentences_of(language), sentences_);
}

const Words& Words::of(Language language) {
    static const Words english(Language::english), german(Language::german);
    return language == Language::german ? german : english;
}

const std::string& Words::operator()(std::string_view key) const {
    const auto found = words_.find(key);
    if (found == words_.end()) throw std::out_of_range("no words for the key " + std::string(key));
    return found->second;
}

std::string Words::operator()(std::string_view key,
                              const std::vector<std::pair<std::string_view, std::string>>& values) const {
    return metrology::filled((*this)(key), [&values](std::string_view name) {
        std::string text;
        for (const auto& [known, value] : values)
            if (known == name) text += value;
        return text;
    });
}

const std::string& Words::named(std::string_view group, const std::string& name) const {
    const auto found = words_.find(std::string(group) + ": " + name);
    return found == words_.end() ? name : found->second;
}

std::string Words::operator()(const metrology::Sentence& one) const {
    return metrology::rendered(one, {[this](const std::string& pattern) {
                                         const auto known = sentences_.find(pattern);
                                         return known == sentences_.end() ? pattern : known->second;
                                     },
                                     [this](const std::string& digits) { return quantity(digits); }});
}

std::string Words::quantity(std::string_view text) const {
    const std::size_t digits = text.find_first_not_of("+-.0123456789");
    const bool is_number = text.find_first_of("0123456789") < digits;
    if (!is_number) return std::string(text);
    return number(text.substr(0, digits)) + std::string(digits == std::string_view::npos ? "" : text.substr(digits));
}

std::string Words::number(std::string_view digits) const {
    std::string text;
    for (const char c : digits) {
        if (c == '-')
            text += "\u2212";
        else if (c == '.' && language_ == Language::german)
            text += ',';
        else
            text += c;
    }
    return text;
}

} // namespace stillmark::records
