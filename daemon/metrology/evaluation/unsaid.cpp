#include "daemon/metrology/evaluation/unsaid.hpp"

#include <array>
#include <charconv>

namespace stillmark::metrology {

namespace {

constexpr std::size_t most_named = 20;

} // namespace

std::string in_brackets(const Source& source) {
    if (source.text.empty()) return {};
    return " (" + source.text +
           (source.provenance == Provenance::read ? "" : std::string(", ") + word(source.provenance)) + ")";
}

std::string why_words(const Unsaid& one) {
    return english(one.why) + in_brackets(one.source);
}

void NameList::add(Sentence name) {
    if (++count_ <= most_named) first_.push_back(std::move(name));
}

std::vector<Sentence> NameList::list() const {
    auto names = first_;
    if (count_ > names.size() && !names.empty())
        names.back() =
            sentence("{name} and {count} more", {words_value("name", names.back()),
                                                 number_value("count", std::to_string(count_ - first_.size()))});
    return names;
}

void UnsaidList::add(Topic topic, Sentence what, Sentence why, Source source) {
    entries_.push_back({{topic, std::move(what), std::move(why), std::move(source)}, {}});
}

void UnsaidList::add_at(Topic topic, Sentence point, const Sentence& what, const Sentence& why, Source source) {
    const auto [found, is_new] = at_points_.try_emplace({english(what), english(why)}, entries_.size());
    if (is_new) entries_.push_back({{topic, what, why, std::move(source)}, {}});
    entries_[found->second].points.add(std::move(point));
}

std::vector<Unsaid> UnsaidList::take() {
    std::vector<Unsaid> all;
    all.reserve(entries_.size());
    for (Entry& entry : entries_) {
        if (!entry.points.empty())
            entry.said.what = sentence("{what} at {points}", {words_value("what", std::move(entry.said.what)),
                                                              words_value("points", entry.points.list())});
        all.push_back(std::move(entry.said));
    }
    entries_.clear();
    at_points_.clear();
    return all;
}

std::string number(double value) {
    constexpr int digits = 7;
    std::array<char, 32> text{};
    const auto end = std::to_chars(text.begin(), text.end(), value, std::chars_format::general, digits).ptr;
    return {text.begin(), end};
}

Sentence as_it_is(std::string text) {
    return sentence("{text}", {text_value("text", std::move(text))});
}

Sentence as_written(std::string quantity) {
    return sentence("{quantity}", {number_value("quantity", std::move(quantity))});
}

Sentence direction_words(bool rising) {
    return rising ? sentence("rising") : sentence("falling");
}

} // namespace stillmark::metrology
