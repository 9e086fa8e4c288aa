#include "daemon/metrology/sentence.hpp"

#include <gtest/gtest.h>

namespace stillmark::metrology {
namespace {

TEST(Sentence, GapsAreFilledOnceAndValuesAreNotSearchedForGaps) {
    const auto one =
        sentence("mark {mark} of {who}: {nothing}{who}",
                 {number_value("mark", 12), text_value("who", "{mark} invented"), text_value("more", "x")});
    EXPECT_EQ(english(one), "mark 12 of {mark} invented: {mark} invented");
    EXPECT_EQ(english(sentence("an open {gap", {text_value("gap", "x")})), "an open {gap");
    EXPECT_EQ(english({}), "");
}

TEST(Sentence, WordsWithinWordsAreRenderedInTheSameLanguage) {
    const auto one =
        sentence("{ways} at {at}", {words_value("ways", {sentence("rising"), sentence("falling")}),
                                    words_value("at", sentence("{part} %", {number_value("part", "2.5")}))});
    EXPECT_EQ(english(one), "rising, falling at 2.5 %");
    const Rendering other{[](const std::string& pattern) { return pattern == "rising" ? "steigend" : pattern; },
                          [](const std::string& digits) { return digits == "2.5" ? "2,5" : digits; }};
    EXPECT_EQ(rendered(one, other), "steigend, falling at 2,5 %");
}

} // namespace
} // namespace stillmark::metrology
