#pragma once

#include "daemon/metrology/evaluation/method.hpp"
#include "daemon/metrology/sentence.hpp"

#include <cstddef>
#include <map>
#include <string>
#include <utility>
#include <vector>

namespace stillmark::metrology {

/// What an entry is about, so that a document takes what belongs on it.
enum class Topic : std::uint8_t {
    readings,  ///< rows that do not count or are missing
    results,   ///< the figures of the points and the verdict
    fits,      ///< lines, polynomials, linearity
    provenance ///< figures of a method or a limit that nobody compared with the edition
};

/// Where a rule is known from: for those who answer for it, not for a customer.
struct Source {
    std::string text; ///< "EN 837-1"; empty: none is named
    Provenance provenance = Provenance::read;
};
/// " (EN 837-1, from memory)", or nothing.
std::string in_brackets(const Source& source);

/// Something that could not be said, or only so, and why.
struct Unsaid {
    Topic topic = Topic::results;
    Sentence what;
    Sentence why;
    Source source = {};
};
/// The reason with its source, English.
std::string why_words(const Unsaid& one);

/// Names for a sentence, the first twenty of them: a table may have a hundred thousand.
class NameList {
  public:
    void add(Sentence name);
    /// So many more, which need no name.
    void add_more(std::size_t count) { count_ += count; }
    bool empty() const { return count_ == 0; }
    /// The last one with " and 3 more" where there are more.
    std::vector<Sentence> list() const;

  private:
    std::size_t count_ = 0;
    std::vector<Sentence> first_;
};

/// What could not be said, in the order in which it was found. The same of several points is one entry that names them.
class UnsaidList {
  public:
    void add(Topic topic, Sentence what, Sentence why, Source source = {});
    /// "`what` at `point`", with further points of the same what and why.
    void add_at(Topic topic, Sentence point, const Sentence& what, const Sentence& why, Source source = {});
    std::vector<Unsaid> take();

  private:
    struct Entry {
        Unsaid said;
        NameList points;
    };
    std::vector<Entry> entries_;
    std::map<std::pair<std::string, std::string>, std::size_t> at_points_;
};

/// A value for a sentence, to seven digits.
std::string number(double value);
/// A text that no language changes, as a sentence.
Sentence as_it_is(std::string text);
/// A name or a quantity as it was written, "2.5 bar", as a sentence: its decimal sign is the language's.
Sentence as_written(std::string quantity);
/// "rising", "falling".
Sentence direction_words(bool rising);

} // namespace stillmark::metrology
