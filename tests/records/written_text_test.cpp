#include "daemon/bench/written_text.hpp"

#include <gtest/gtest.h>

namespace stillmark::bench {
namespace {

TEST(ReadableText, EveryScriptStaysAsItIs) {
    const std::string text =
        "Ωμέγα Кавказ עברית العربية 圧力計 🙂 e\xCC\x81\ttab\nline\rreturn \x7f \xC2\x85";
    EXPECT_EQ(readable_text(text), text);
    EXPECT_EQ(readable_text(""), "");
    // First and last of each length of UTF-8 (RFC 3629, 3), without what XML forbids.
    for (const char* one : {"\xC2\x80", "\xDF\xBF", "\xE0\xA0\x80", "\xED\x9F\xBF", "\xEE\x80\x80", "\xEF\xBF\xBD",
                            "\xF0\x90\x80\x80", "\xF4\x8F\xBF\xBF"})
        EXPECT_EQ(readable_text(one), one);
}

TEST(ReadableText, WhatIsNoUtf8IsReplacedByteByByte) {
    const std::string r = "\xEF\xBF\xBD";
    EXPECT_EQ(readable_text("a\xFFz"), "a" + r + "z");
    EXPECT_EQ(readable_text("\xC3"), r);
    EXPECT_EQ(readable_text("\xE2\x82"), r + r);
    EXPECT_EQ(readable_text("\xE2\x82z"), r + r + "z");
    EXPECT_EQ(readable_text("\xC0\xAF"), r + r);                 // overlong
    EXPECT_EQ(readable_text("\xE0\x80\xAF"), r + r + r);         // overlong
    EXPECT_EQ(readable_text("\xED\xA0\x80"), r + r + r);         // a surrogate
    EXPECT_EQ(readable_text("\xF4\x90\x80\x80"), r + r + r + r); // beyond U+10FFFF
}

TEST(ReadableText, WhatXmlForbidsIsReplaced) {
    const std::string r = "\xEF\xBF\xBD";
    EXPECT_EQ(readable_text(std::string("\0\x01\x08\x0B\x1F", 5)), r + r + r + r + r);
    EXPECT_EQ(readable_text("\xEF\xBF\xBE\xEF\xBF\xBF"), r + r);
}

TEST(CsvText, NoSpreadsheetTakesATextForAFormula) {
    for (const char* one : {"=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1"})
        EXPECT_EQ(csv_text(one), std::string("'") + one);
    for (const char* one : {"", "1", "a=1", "40 bar", " =1", "'=1"})
        EXPECT_EQ(csv_text(one), one);
}

// RFC 4180, 2.5 to 2.7.
TEST(CsvLine, FieldsStandInQuotesWhereTheyMust) {
    EXPECT_EQ(csv_line({"a", "b c", ""}), "a,b c,\r\n");
    EXPECT_EQ(csv_line({"a,b", "say \"x\"", "two\r\nlines"}), "\"a,b\",\"say \"\"x\"\"\",\"two\r\nlines\"\r\n");
    EXPECT_EQ(csv_line({"-0.02"}), "-0.02\r\n");
}

} // namespace
} // namespace stillmark::bench
