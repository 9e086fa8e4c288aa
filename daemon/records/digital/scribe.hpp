#pragma once

#include "daemon/records/certificate.hpp"

#include <pugixml.hpp>
#include <string>
#include <string_view>
#include <vector>

namespace stillmark::records::digital {

/// Words of the certificate in the languages that there are.
struct Words {
    std::string en;
    std::string de;
};

/// A sentence of the service in all of them.
Words in_words(const metrology::Sentence& one);

/// Writes elements of the document. Every text goes through it, so that none gets in without being escaped.
class Scribe {
  public:
    explicit Scribe(Language language) : language_(language) {}

    static pugi::xml_node element(pugi::xml_node parent, const char* tag, const char* id = nullptr,
                                  const char* ref_type = nullptr);
    /// An element that holds nothing but this text.
    static void leaf(pugi::xml_node parent, const char* tag, std::string_view text);

    // An element of the schema's textType or richContentType.

    /// Our words: the certificate's language first, then English.
    pugi::xml_node words(pugi::xml_node parent, const char* tag, const Words& words) const;
    /// What a person wrote, or a name: in no stated language.
    static pugi::xml_node said(pugi::xml_node parent, const char* tag, std::string_view text);
    static pugi::xml_node said(pugi::xml_node parent, const char* tag, const std::vector<std::string>& texts);
    /// What exists in English only.
    static pugi::xml_node english(pugi::xml_node parent, const char* tag, std::string_view text);

    Language language() const { return language_; }

  private:
    Language language_;
};

/// The text as it stands in an element: characters that XML cannot carry replaced, the others escaped where they must
/// be. A carriage return is written by its number, because a reader would take it for an end of line.
std::string escaped(std::string_view text);

} // namespace stillmark::records::digital
