#include "daemon/people/names.hpp"

#include <gtest/gtest.h>

namespace stillmark::people {
namespace {

std::string times(std::size_t n, const std::string& text) {
    std::string all;
    for (std::size_t i = 0; i < n; ++i)
        all += text;
    return all;
}

TEST(Names, TextInUtf8IsReadCharacterByCharacter) {
    const auto found = characters("a\xC3\xA4\xE2\x82\xAC\xF0\x9F\x94\xA7");
    ASSERT_TRUE(found);
    EXPECT_EQ(*found, (std::vector<char32_t>{U'a', 0xE4, 0x20AC, 0x1F527}));
    EXPECT_TRUE(characters("")->empty());
}

// What RFC 3629 (2003), sections 3 and 10, calls no UTF-8.
TEST(Names, WhatIsNoUtf8IsNone) {
    for (const char* bytes : {"\x80", "\xBF", "\xC0\x80", "\xC1\xBF", "\xE0\x80\x80", "\xE0\x9F\xBF", "\xED\xA0\x80",
                              "\xED\xBF\xBF", "\xF0\x80\x80\x80", "\xF0\x8F\xBF\xBF", "\xF4\x90\x80\x80",
                              "\xF5\x80\x80\x80", "\xFF", "\xC3", "\xE2\x82", "\xF0\x9F\x94", "\xC3(", "a\xE2(\xAC"})
        EXPECT_FALSE(characters(bytes)) << std::string(bytes).size() << " bytes, the first "
                                        << static_cast<int>(bytes[0]);
    EXPECT_TRUE(characters("\xED\x9F\xBF\xEE\x80\x80\xF4\x8F\xBF\xBF"));
}

TEST(Names, BlanksAtTheEndsAreNoPart) {
    EXPECT_EQ(trimmed("  Ada B. \t\n"), "Ada B.");
    EXPECT_EQ(trimmed(" \n"), "");
    EXPECT_EQ(trimmed(""), "");
}

TEST(Names, FromOneToSixtyFourCharacters) {
    EXPECT_EQ(objection_to_name("Ada"), std::nullopt);
    EXPECT_EQ(objection_to_name("J\xC3\xBCrgen \xC3\x85."), std::nullopt);
    EXPECT_EQ(objection_to_name(times(64, "\xE2\x82\xAC")), std::nullopt) << "characters count, not bytes";
    EXPECT_EQ(objection_to_name(times(65, "a")), "a name has at most 64 characters; this one has 65");
    EXPECT_TRUE(objection_to_name(""));
    EXPECT_TRUE(objection_to_name("\xC3("));
}

// Two names that look alike in a record are one person's chance to sign as another.
TEST(Names, NothingThatCannotBeSeen) {
    for (const std::string bad : {"a\tb", "a\nb", "a\x01", "a\x7F", "a\xC2\x85", "Ada\xE2\x80\x8B",
                                  "\xE2\x80\xAE"
                                  "adA",
                                  "Ada\xEF\xBB\xBF",
                                  "A\xC2\xAD"
                                  "da",
                                  "Ada\xE2\x80\xA8", "Ada\xF3\xA0\x80\xA0"})
        EXPECT_TRUE(objection_to_name(bad)) << bad;
    EXPECT_TRUE(objection_to_name(std::string("a\0b", 3)));
}

TEST(Passwords, LengthCountsAndNoMixture) {
    EXPECT_EQ(objection_to_password("Ada", "oilcanoilcan"), std::nullopt);
    EXPECT_EQ(objection_to_password("Ada", "wet chalk"), std::nullopt);
    EXPECT_EQ(objection_to_password("Ada", times(256, "\xE2\x82\xAC")),
              "this password is among the first that anybody would "
              "try; a few words in a row do better")
        << "one character over and over";
    EXPECT_EQ(objection_to_password("Ada", times(128, "ab")), std::nullopt);
    EXPECT_EQ(objection_to_password("Ada", times(128, "ab") + "c"),
              "a password has at most 256 characters; this one has 257");
    EXPECT_EQ(objection_to_password("Ada", "sevench"),
              "a password has at least 8 characters; this one has 7. A few words in a row do well");
    EXPECT_TRUE(objection_to_password("Ada", "\xC3\xA4\xC3\xB6\xC3\xBC\xC3\x9F")) << "4 characters, 8 bytes";
    EXPECT_TRUE(objection_to_password("Ada", "long enough\n"));
    EXPECT_TRUE(objection_to_password("Ada", "long enough\xFF"));
}

// NIST SP 800-63B (2017), 5.1.1.2: commonly used, repetitive or sequential, and the person's own name.
TEST(Passwords, WhatIsTriedFirstIsNone) {
    for (const char* bad : {"aaaaaaaa", "12345678", "87654321", "ABCDEFGH", "zyxwvuts", "password", "PassWord1",
                            "qwertyuiop", "stillmark"})
        EXPECT_TRUE(objection_to_password("Ada", bad)) << bad;
    EXPECT_TRUE(objection_to_password("Ada Bernard", "ada bernard"));
    EXPECT_EQ(objection_to_password("Ada", "13579bdf"), std::nullopt);
}

} // namespace
} // namespace stillmark::people
