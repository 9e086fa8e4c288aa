#include "daemon/metrology/evaluation/unsaid.hpp"

#include <array>
#include <charconv>

namespace stillmark::metrology {

namespace {

constexpr std::size_t most_named = 20;

} // namespace

void UnsaidList::add(std::string what, std::string why) {
    entries_.push_back({{std::move(what), std::move(why)}, 0});
}

void UnsaidList::add_at(const std::string& point, const std::string& what, const std::string& why) {
    const auto [found, is_new] = at_points_.try_emplace({what, why}, entries_.size());
    if (is_new) entries_.push_back({{what + " at ", why}, 0});
    Entry& entry = entries_[found->second];
    if (entry.points++ < most_named) entry.said.what += (entry.points > 1 ? ", " : "") + point;
}

std::vector<Unsaid> UnsaidList::take() {
    std::vector<Unsaid> all;
    all.reserve(entries_.size());
    for (Entry& entry : entries_) {
        if (entry.points > most_named) entry.said.what += " and " + std::to_string(entry.points - most_named) + " more";
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

} // namespace stillmark::metrology
