#include "daemon/records/print/archive.hpp"
#include "daemon/records/print/deviation_plot.hpp"
#include "daemon/records/print/logo.hpp"
#include "daemon/records/print/parts.hpp"
#include "daemon/records/print/print.hpp"
#include "daemon/records/print/qr.hpp"
#include "daemon/records/print/srgb_profile.hpp"
#include "daemon/records/print/strip.hpp"
#include "daemon/records/print/table.hpp"
#include "daemon/records/print/typeface.hpp"
#include "records/sample.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <limits>
// As the room itself has it: qpdf 11 wants to hear which kind of pointer is meant.
#define POINTERHOLDER_TRANSITION 4
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFEmbeddedFileDocumentHelper.hh>

using namespace stillmark;
using namespace stillmark::records;
using namespace stillmark::records::print;

namespace {

Strip strip(double height, bool with_next = false, double before = 0) {
    Strip one;
    one.height = height;
    one.with_next = with_next;
    one.before = before;
    return one;
}

std::filesystem::path written(const std::string& name, const std::string& bytes) {
    const auto path = std::filesystem::path(::testing::TempDir()) / name;
    std::ofstream(path, std::ios::binary) << bytes;
    return path;
}

/// Signature and header of a PNG (ISO/IEC 15948) of that many pixels a side, and nothing more.
std::string png_head(std::uint32_t side) {
    std::string bytes("\x89PNG\r\n\x1A\n\0\0\0\x0DIHDR", 16);
    for (int i = 0; i < 2; ++i)
        for (unsigned shift = 32; shift > 0; shift -= 8)
            bytes += static_cast<char>(side >> (shift - 8) & 0xFFU);
    return bytes + std::string("\x08\x00\x00\x00\x00", 5) + "some";
}

} // namespace

TEST(Paginate, StripsStandBelowEachOtherAndLeaveTheBlankAwayAtTheTop) {
    const Flow flow = {strip(40, false, 7), strip(40, false, 5), strip(40, false, 9)};
    const auto pages = paginate(flow, 100);
    ASSERT_EQ(pages.size(), 2U);
    EXPECT_EQ(pages[0][0].y, 0);
    EXPECT_EQ(pages[0][1].y, 45);
    EXPECT_EQ(pages[1][0].y, 0);
}

TEST(Paginate, WhatBelongsTogetherStaysTogetherWhereItFitsOnAPage) {
    const Flow flow = {strip(60), strip(20, true), strip(30)};
    const auto pages = paginate(flow, 100);
    ASSERT_EQ(pages.size(), 2U);
    EXPECT_EQ(pages[0].size(), 1U);
    EXPECT_EQ(pages[1].size(), 2U);
}

TEST(Paginate, WhatIsLongerThanAPageIsBrokenAndNothingIsLost) {
    Flow flow;
    for (int i = 0; i < 50; ++i)
        flow.push_back(strip(30, true));
    const auto pages = paginate(flow, 100);
    std::size_t placed = 0;
    for (const Page& page : pages) {
        EXPECT_LE(page.size(), 3U);
        placed += page.size();
    }
    EXPECT_EQ(placed, flow.size());
}

TEST(Paginate, TheHeadOfATableStandsAgainAboveItsRows) {
    Flow flow;
    const auto head = std::make_shared<const Strip>(strip(10));
    for (int i = 0; i < 6; ++i) {
        flow.push_back(strip(30));
        flow.back().again = head;
    }
    const auto pages = paginate(flow, 100);
    ASSERT_EQ(pages.size(), 2U);
    for (const Page& page : pages) {
        EXPECT_EQ(page[0].strip, head.get());
        EXPECT_EQ(page[1].y, 10);
        EXPECT_LE(page.back().y + page.back().strip->height, 100);
    }
}

TEST(Paginate, NothingIsStillAPage) {
    EXPECT_EQ(paginate({}, 100).size(), 1U);
}

TEST(Axis, HoldsWhatItHasToInRoundSteps) {
    for (const auto& [least, greatest] : {std::pair(0.0, 900.0),
                                          {-1.0, 1.0},
                                          {-0.0031, 0.0172},
                                          {2.0, 2.0},
                                          {1e6, 1.00001e6},
                                          {-7e-9, 3e-9},
                                          {0.0, 0.0}}) {
        const Axis one = axis(least, greatest, 6);
        EXPECT_LE(one.first, least + 1e-9 * one.step);
        EXPECT_GE(one.last(), greatest - 1e-9 * one.step);
        EXPECT_LE(one.count, 6);
        EXPECT_GE(one.count, 1);
        const double mantissa = one.step / std::pow(10, std::floor(std::log10(one.step) + 1e-9));
        EXPECT_TRUE(std::abs(mantissa - 1) < 1e-9 || std::abs(mantissa - 2) < 1e-9 || std::abs(mantissa - 5) < 1e-9)
            << one.step;
    }
    EXPECT_EQ(axis(-0.0031, 0.0172, 6).decimals, 3);
    EXPECT_GE(axis(std::nan(""), 1, 6).count, 1);
    EXPECT_GE(axis(0, std::numeric_limits<double>::infinity(), 6).count, 1);
}

TEST(Scale, AsFoundAndAsLeftShareOne) {
    Certificate one = sample::certificate();
    one.results.push_back(one.results[0]);
    auto& basis = *one.results[1].points[0].rising;
    one.results[1].tables[0].rows[0].deviation = basis.deviation = {-1.3, "-1.3"};
    basis.expanded = {0.3, "0.30"};
    one.results[0].points[0].rising->permissible = basis.permissible = {};
    const auto scale = scale_for(one.results);
    ASSERT_TRUE(scale);
    EXPECT_LE(scale->deviation.first, -1.6); // the bar is within it too
    EXPECT_GT(scale->deviation.last(), 0.36);
    EXPECT_TRUE(scale->permissible);
}

TEST(Scale, APermissibleErrorFarBeyondIsLeftOut) {
    Certificate one = sample::certificate();
    for (auto& at : one.results[0].points)
        at.rising->permissible = at.falling->permissible = {50, "50"};
    const auto scale = scale_for(one.results);
    ASSERT_TRUE(scale);
    EXPECT_FALSE(scale->permissible);
    EXPECT_LT(scale->deviation.last(), 2);
    EXPECT_FALSE(scale_for(sample::certificate(0).results));
}

// ICC.1:2004-10 has profiles seen from D50; the colorants of sRGB there to four places: B. Lindbloom, "RGB/XYZ
// matrices", sRGB adapted to D50 by Bradford (0.4360747 0.2225045 0.0139322; 0.3850649 0.7168786 0.0971045; 0.1430804
// 0.0606169 0.7141733), from memory.
TEST(SrgbProfile, ColorantsAreThePublishedOnes) {
    const double published[3][3] = {
        {0.4360747, 0.2225045, 0.0139322}, {0.3850649, 0.7168786, 0.0971045}, {0.1430804, 0.0606169, 0.7141733}};
    const auto colorants = srgb_colorants();
    for (std::size_t i = 0; i < 3; ++i)
        for (std::size_t j = 0; j < 3; ++j)
            EXPECT_NEAR(colorants[i][j], published[i][j], 4e-4);
    // The three together are the white of the profile connection space.
    EXPECT_NEAR(colorants[0][0] + colorants[1][0] + colorants[2][0], 0.9642, 1e-6);
    EXPECT_NEAR(colorants[0][2] + colorants[1][2] + colorants[2][2], 0.8249, 1e-6);
}

TEST(SrgbProfile, SaysItsOwnSizeAndPlaces) {
    const std::string profile = srgb_profile();
    const auto number = [&](std::size_t at) {
        std::size_t value = 0;
        for (std::size_t i = at; i < at + 4; ++i)
            value = value << 8U | static_cast<unsigned char>(profile[i]);
        return value;
    };
    EXPECT_EQ(number(0), profile.size());
    EXPECT_EQ(profile.substr(12, 12), "mntrRGB XYZ ");
    EXPECT_EQ(profile.substr(36, 4), "acsp");
    ASSERT_EQ(number(128), 10U);
    for (std::size_t tag = 0; tag < 10; ++tag) {
        const std::size_t entry = 132 + 12 * tag;
        EXPECT_EQ(number(entry + 4) % 4, 0U);
        EXPECT_LE(number(entry + 4) + number(entry + 8), profile.size());
    }
}

TEST(Qr, TheNumberHoldsNoBlankInTheCode) {
    Certificate one = sample::signed_certificate();
    one.number = "Prüf 7/2 %";
    one.proof.xml_sha256 = "ab";
    one.proof.code_signature = "c+/=";
    // RFC 3986, 2.1 and 2.3: unreserved characters stay, the bytes of UTF-8 of all others become %XX.
    EXPECT_EQ(qr_text(one), "stillmark 1 Pr%C3%BCf%207%2F2%20%25 ab c+/=");
}

TEST(Qr, WhatNoCodeHoldsIsAnError) {
    EXPECT_TRUE(qr_code(std::string(2331, 'x'))); // ISO/IEC 18004, table of capacities: version 40, M, bytes
    const auto too_long = qr_code(std::string(2332, 'x'));
    ASSERT_FALSE(too_long);
    EXPECT_NE(too_long.error().message.find("use a shorter certificate number"), std::string::npos);
}

TEST(Qr, EachModuleIsHalfAMillimetre) {
    const auto code = qr_code("stillmark");
    ASSERT_TRUE(code);
    // Version 1 has 21 modules a side, with 4 of quiet zone on each.
    EXPECT_NEAR(code->height, 29 * 0.5 * points_of_a_mm, 1e-9);
}

TEST(Printable, KeepsLettersAndShowsWhatCannotBeSeen) {
    EXPECT_EQ(printable("ä\n\tb"), "ä  b");
    EXPECT_EQ(printable(std::string("a\0b", 3)), "a[U+0000]b");
    EXPECT_EQ(printable("\xff\xc3"), "\uFFFD\uFFFD");
    EXPECT_EQ(printable("x\u202Ey\u2069"), "x[U+202E]y[U+2069]");
    EXPECT_EQ(printable("\u2028\u0085\u009f"), "  [U+009F]");
    EXPECT_EQ(printable("می\u200cخواهم"), "می\u200cخواهم"); // a joiner is spelling
}

TEST(Table, ColumnsWithNothingInThemAreLeftOut) {
    auto type = Typeface::found(Language::english);
    ASSERT_TRUE(type);
    const Flow with = table(*type, {{"a", true}, {"b"}}, {{{"1.0", ""}}, {{"22.00", ""}}}, 200, "(continued)");
    EXPECT_EQ(with.size(), 4U); // head, two rows, rule
    EXPECT_TRUE(table(*type, {{"a"}}, {}, 200, "").empty());
    EXPECT_TRUE(table(*type, {{"a"}}, {{{""}}}, 200, "").empty());
}

TEST(Logo, WhatIsNoImageIsAnErrorWithPathFindingAndRemedy) {
    const std::vector<std::pair<std::filesystem::path, std::string>> wrong = {
        {"/nowhere/logo.png", "there is no such file"},
        {::testing::TempDir(), "there is no such file"},
        {written("empty.png", ""), "is no PNG image"},
        {written("text.png", std::string(100, 'x')), "is no PNG image"},
        {written("cut.png", png_head(20)), "is no PNG image that can be read"},
        {written("huge.png", png_head(50'000)), "has 50000 x 50000 pixels"},
        {written("none.png", png_head(0)), "has 0 x 0 pixels"},
        {written("heavy.png", std::string((4U << 20U) + 1, 'x')), "has 4194305 bytes"},
    };
    for (const auto& [path, finding] : wrong) {
        Certificate one = sample::certificate();
        one.logo = path;
        const auto pdf = pdf_of(one, "");
        ASSERT_FALSE(pdf) << path;
        const std::string& said = pdf.error().message;
        EXPECT_NE(said.find(path.string()), std::string::npos) << said;
        EXPECT_NE(said.find(finding), std::string::npos) << said;
        EXPECT_NE(said.find("leave the logo out"), std::string::npos) << said;
    }
}

TEST(Logo, KeepsTheRatioOfItsSides) {
    const std::filesystem::path picture =
        std::filesystem::path(STILLMARK_SOURCE_DIR) / "daemon" / "packaging" / "console.png";
    const auto wide = logo(picture, 100, 1000), low = logo(picture, 1000, 10);
    ASSERT_TRUE(wide) << wide.error().message;
    ASSERT_TRUE(low);
    EXPECT_LT(wide->height, 1000);
    EXPECT_NEAR(low->height, 10, 1e-9);
    Certificate one = sample::certificate();
    one.logo = picture;
    EXPECT_TRUE(pdf_of(one, ""));
}

// The rule in the language of the document says what the evaluation says of it.
TEST(DecisionWords, InEnglishTheyAreThoseOfTheEvaluation) {
    using metrology::DecisionRule;
    using metrology::Rule;
    std::vector<DecisionRule> rules(7);
    rules[1].rule = rules[2].rule = rules[3].rule = Rule::guard_band;
    rules[2].guard_factor = 0.83;
    rules[3].guard_factor = 0.5;
    rules[4].rule = Rule::specific_risk;
    rules[4].risk = 0.025;
    rules[5].rule = Rule::global_risk;
    rules[6].rule = Rule::uncertainty_ratio;
    rules[6].least_ratio = 3.5;
    for (const auto& rule : rules)
        EXPECT_EQ(decision_words(rule, Words::of(Language::english), "bar"), metrology::words(rule));
    EXPECT_EQ(
        decision_words(rules[2], Words::of(Language::german), "bar"),
        "Schutzabstand w = 0,83 U (ILAC-G8:09/2019, 4.2.2): angenommen bis zur zulässigen Abweichung abzüglich w; "
        "das Risiko einer falschen Annahme beträgt höchstens 4,85 %, wo U = 2 u");
}

TEST(Words, NumbersGoTheWayOfTheLanguage) {
    EXPECT_EQ(Words::of(Language::english).number("-0.012"), "\u22120.012");
    EXPECT_EQ(Words::of(Language::german).number("-0.012"), "\u22120,012");
}

TEST(Words, AValueIsNotLookedThroughForNames) {
    EXPECT_EQ(Words::of(Language::english)("from to", {{"from", "{to}"}, {"to", "{from}"}}), "{to} to {from}");
    EXPECT_THROW(Words::of(Language::english)("no such key"), std::out_of_range);
}

TEST(Qr, OnlyTheSignedOneHasIt) {
    // The signature of the digital certificate stands nowhere but in the code.
    const auto printed = [](bool draft, const std::string& signature) {
        Certificate one = sample::signed_certificate(0);
        one.draft = draft;
        one.proof.xml_sha256 = "ab";
        one.proof.code_signature = signature;
        return pdf_of(one, "").value();
    };
    EXPECT_EQ(printed(true, "AAAA"), printed(true, "BBBB"));
    EXPECT_NE(printed(false, "AAAA"), printed(false, "BBBB"));
}

TEST(Typeface, WhatNoFontHasIsSetAsItsCodeAndRemembered) {
    auto type = Typeface::found(Language::english);
    ASSERT_TRUE(type);
    EXPECT_TRUE(type->without_font().empty());
    const double plain = type->line("a\u00e4", {}).width;
    EXPECT_TRUE(type->without_font().empty());
    const auto line = type->line("a\U0010FFFD", {}); // the last one for private use
    EXPECT_EQ(type->without_font(), std::set<char32_t>{U'\U0010FFFD'});
    EXPECT_GT(line.width, 3 * plain);
}

TEST(Typeface, LongNamesAreBrokenAndNoneIsWider) {
    auto type = Typeface::found(Language::english);
    ASSERT_TRUE(type);
    const auto lines = type->lines(std::string(500, 'm'), {}, 100);
    EXPECT_GT(lines.size(), 10U);
    for (const Line& line : lines)
        EXPECT_LE(line.width, 100);
}

TEST(Metadata, SignsOfMarkupAreEscaped) {
    About about;
    about.title = "<a> & ]]>";
    const std::string xmp = xmp_of(about);
    EXPECT_NE(xmp.find("&lt;a&gt; &amp; ]]&gt;"), std::string::npos);
    EXPECT_EQ(xmp.find("<a>"), std::string::npos);
}

TEST(PdfOf, ANumberLikeAPathIsNone) {
    Certificate one = sample::certificate();
    one.number = "../a/b:c";
    const auto pdf = pdf_of(one, "<x/>");
    ASSERT_TRUE(pdf);
    QPDF read;
    read.processMemoryFile("printed", pdf->data(), pdf->size());
    const auto attached = QPDFEmbeddedFileDocumentHelper(read).getEmbeddedFiles();
    ASSERT_EQ(attached.size(), 1U);
    EXPECT_EQ(attached.begin()->first, ".._a_b_c.xml");
}
