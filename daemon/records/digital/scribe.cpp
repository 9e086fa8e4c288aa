#include "daemon/records/digital/scribe.hpp"

#include "daemon/bench/written_text.hpp"
#include "daemon/records/words.hpp"

namespace stillmark::records::digital {

namespace {

void content(pugi::xml_node parent, std::string_view text, const char* language) {
    pugi::xml_node node = parent.append_child("dcc:content");
    if (language != nullptr) node.append_attribute("lang").set_value(language);
    node.text().set(escaped(text).c_str());
}

} // namespace

Words in_words(const metrology::Sentence& one) {
    return {records::Words::of(Language::english)(one), records::Words::of(Language::german)(one)};
}

std::string escaped(std::string_view text) {
    std::string out;
    for (const char one : bench::readable_text(text)) {
        switch (one) {
        case '&':
            out += "&amp;";
            break;
        case '<':
            out += "&lt;";
            break;
        case '>':
            out += "&gt;";
            break;
        case '"':
            out += "&quot;";
            break;
        case '\r':
            out += "&#13;";
            break;
        default:
            out += one;
        }
    }
    return out;
}

pugi::xml_node Scribe::element(pugi::xml_node parent, const char* tag, const char* id, const char* ref_type) {
    pugi::xml_node node = parent.append_child(tag);
    if (id != nullptr) node.append_attribute("id").set_value(id);
    if (ref_type != nullptr) node.append_attribute("refType").set_value(ref_type);
    return node;
}

void Scribe::leaf(pugi::xml_node parent, const char* tag, std::string_view text) {
    parent.append_child(tag).text().set(escaped(text).c_str());
}

pugi::xml_node Scribe::words(pugi::xml_node parent, const char* tag, const Words& words) const {
    pugi::xml_node node = parent.append_child(tag);
    if (language_ == Language::german) content(node, words.de, "de");
    content(node, words.en, "en");
    return node;
}

pugi::xml_node Scribe::said(pugi::xml_node parent, const char* tag, std::string_view text) {
    pugi::xml_node node = parent.append_child(tag);
    content(node, text, nullptr);
    return node;
}

pugi::xml_node Scribe::said(pugi::xml_node parent, const char* tag, const std::vector<std::string>& texts) {
    pugi::xml_node node = parent.append_child(tag);
    for (const auto& one : texts)
        content(node, one, nullptr);
    return node;
}

pugi::xml_node Scribe::english(pugi::xml_node parent, const char* tag, std::string_view text) {
    pugi::xml_node node = parent.append_child(tag);
    content(node, text, "en");
    return node;
}

} // namespace stillmark::records::digital
