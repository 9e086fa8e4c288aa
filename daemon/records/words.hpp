#pragma once

#include "daemon/metrology/sentence.hpp"
#include "daemon/records/certificate.hpp"

#include <map>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace stillmark::records {

/// The fixed words of documents in one language: words/en.json and words/de.json, embedded when the program is built.
class Words {
  public:
    /// The words of that language; they are read once.
    static const Words& of(Language language);

    /// The words under a key. A key that is not there is a mistake in the program: std::out_of_range.
    const std::string& operator()(std::string_view key) const;
    /// The same with each {name} in them replaced by its value; a value is never looked through for names itself.
    std::string operator()(std::string_view key,
                           const std::vector<std::pair<std::string_view, std::string>>& values) const;
    /// The words for what content names in its own English: those of the key `group` + ": " + `name` where there are
    /// some, otherwise the name as it stands.
    const std::string& named(std::string_view group, const std::string& name) const;

    /// A sentence of the service in this language; its English pattern where no other is known.
    std::string operator()(const metrology::Sentence& one) const;

    /// Digits with a point, as a figure has them, in the way of the language: decimal comma in German, a true minus.
    std::string number(std::string_view digits) const;

    /// A quantity as it was written, "2.5 bar": its number in the way of the language, the rest as it stands.
    std::string quantity(std::string_view text) const;

    Language language() const { return language_; }

  private:
    explicit Words(Language language);

    Language language_;
    std::map<std::string, std::string, std::less<>> words_;
    std::map<std::string, std::string, std::less<>> sentences_; ///< by the English pattern
};

} // namespace stillmark::records
