#include "daemon/bench/written_text.hpp"
#include "daemon/records/digital/decimal.hpp"
#include "daemon/records/digital/digital.hpp"
#include "daemon/records/digital/quantity.hpp"
#include "daemon/records/figure_text.hpp"
#include "records/hostile_sample.hpp"

#include <gtest/gtest.h>

#include <limits>
#include <pugixml.hpp>
#include <set>

namespace stillmark::records {
namespace {

using digital::product;

std::string xml_of(const Certificate& certificate) {
    const auto xml = dcc_xml(certificate);
    return xml ? *xml : "refused: " + xml.error().message;
}
std::string refusal(const Certificate& certificate) {
    const auto xml = dcc_xml(certificate);
    return xml ? "" : xml.error().message;
}

TEST(Product, IsExact) {
    EXPECT_EQ(product("40.00", "100000"), "4000000");
    EXPECT_EQ(product("-0.02", "100000"), "-2000");
    EXPECT_EQ(product("12.345", "6894.757"), "85115.775165");
    EXPECT_EQ(product("0.001", "0.01"), "0.00001");
    EXPECT_EQ(product("-0.00", "6894.757"), "0");
    EXPECT_EQ(product("99999999999999999999", "99999999999999999999"), "9999999999999999999800000000000000000001");
    EXPECT_EQ(product("+.5", "2."), "1");
    EXPECT_EQ(product("1e-05", "100000"), "1");
    EXPECT_EQ(product("2.5e3", "10"), "25000");
    for (const char* one : {"", "-", ".", "NaN", "1,5", "1 ", "0x1", "1e", "1e+-5", "1e999999999", "--1"}) {
        EXPECT_EQ(product(one, "1"), std::nullopt) << one;
        EXPECT_EQ(product("1", one), std::nullopt) << one;
    }
}

TEST(FigureText, InstantsAreUtcAndStayWithinTheCalendar) {
    EXPECT_EQ(instant_text(0), "1970-01-01T00:00:00Z");
    EXPECT_EQ(instant_text(-1), "1969-12-31T23:59:59Z");
    EXPECT_EQ(instant_text(951'826'554'999'999), "2000-02-29T12:15:54Z");
    EXPECT_EQ(instant_text(std::numeric_limits<std::int64_t>::max()), "9999-12-31T23:59:59Z");
    EXPECT_EQ(instant_text(std::numeric_limits<std::int64_t>::min()), "0001-01-01T00:00:00Z");
    EXPECT_EQ(k_text(2), "2.00");
    EXPECT_EQ(k_text(2.132), "2.13");
}

TEST(DigitalUnit, WhatIsNotOfTheSiStandsInPascalsToo) {
    EXPECT_EQ(digital::pressure_unit({"kPa", 1e3, "1000"}).name, "\\kilo\\pascal");
    EXPECT_EQ(digital::pressure_unit({"kPa", 1e3, "1000"}).pascals, "");
    EXPECT_EQ(digital::pressure_unit({"bar", 1e5, "100000"}).name, "\\bar");
    EXPECT_EQ(digital::pressure_unit({"bar", 1e5, "100000"}).pascals, "100000");
    EXPECT_EQ(digital::pressure_unit({"psi", 6894.757, "6894.757"}).name, "psi");
    // A list of units is parted by blanks.
    EXPECT_EQ(digital::pressure_unit({"a b", 1, ""}).name, "a_b");
    EXPECT_EQ(digital::pressure_unit({"a b", 1.5, "one and a half"}).pascals, "1.500000");
}

TEST(DigitalCertificate, TheSameCertificateIsTheSameBytes) {
    EXPECT_EQ(xml_of(sample::certificate()), xml_of(sample::certificate()));
    EXPECT_NE(xml_of(sample::certificate()), xml_of(sample::signed_certificate()));
}

TEST(DigitalCertificate, ADraftSaysSo) {
    const auto draft = xml_of(sample::certificate()), issued = xml_of(sample::signed_certificate());
    EXPECT_NE(draft.find("<dcc:uniqueIdentifier>INV-2026-0001 (draft 1)<"), std::string::npos);
    EXPECT_NE(draft.find("<dcc:statement id=\"draft\">"), std::string::npos);
    EXPECT_NE(issued.find("<dcc:uniqueIdentifier>INV-2026-0001<"), std::string::npos);
    EXPECT_EQ(issued.find("draft"), std::string::npos);
    pugi::xml_document document;
    ASSERT_TRUE(document.load_string(issued.c_str()));
    const auto signers =
        document.select_nodes("//dcc:respPerson[dcc:mainSigner='true']/dcc:person/dcc:name/dcc:content");
    ASSERT_EQ(signers.size(), 1U);
    EXPECT_STREQ(signers[0].node().text().get(), "R. Reviewer (invented)");
    ASSERT_TRUE(document.load_string(draft.c_str()));
    EXPECT_TRUE(document.select_nodes("//dcc:respPerson[dcc:mainSigner='true']").empty());
}

TEST(DigitalCertificate, ADraftNamesNoSignerWhoeverStandsUnderIt) {
    auto one = sample::signed_certificate();
    one.draft = true;
    EXPECT_EQ(xml_of(one).find("<dcc:mainSigner>true<"), std::string::npos);
}

TEST(DigitalCertificate, WhatTheSchemaAsksForAndNobodyStatedIsNamed) {
    auto one = sample::signed_certificate();
    one.laboratory.country = "";
    EXPECT_EQ(refusal(one).find("records.country: found \"\"; "), 0U) << refusal(one);
    one.laboratory.country = "de";
    EXPECT_NE(refusal(one).find("found \"de\""), std::string::npos);
    one = sample::signed_certificate();
    one.laboratory.name = "";
    EXPECT_NE(refusal(one).find("laboratory: not stated"), std::string::npos);
    one = sample::signed_certificate();
    one.customer.name = "";
    EXPECT_NE(refusal(one).find("--customer NAME"), std::string::npos);
    one.draft = true;
    EXPECT_EQ(refusal(one), "");
    one = sample::signed_certificate();
    one.customer.country = "Nowhere";
    EXPECT_NE(refusal(one).find("found the country \"Nowhere\""), std::string::npos) << refusal(one);
    one = sample::signed_certificate();
    one.received = "14.9.2026";
    EXPECT_NE(refusal(one).find("received: found \"14.9.2026\""), std::string::npos);
    one.received = "2026-02-30";
    EXPECT_NE(refusal(one).find("received"), std::string::npos);
    one = sample::signed_certificate();
    one.number = "";
    EXPECT_NE(refusal(one), "");
    one = sample::signed_certificate();
    one.signatories.clear();
    EXPECT_NE(refusal(one).find("nobody stands under it"), std::string::npos);
    one = sample::signed_certificate();
    one.results[0].points[2].rising->k = {0.9, "0.90"};
    EXPECT_NE(refusal(one).find("run R1, point 182 bar, rising: the coverage factor is 0.9"), std::string::npos)
        << refusal(one);
    one.results[0].points[2].rising->k = {std::numeric_limits<double>::quiet_NaN(), "-"};
    EXPECT_NE(refusal(one), "");
    one = sample::signed_certificate();
    one.results[0].points[1].falling->expanded = {-1, "-1.0"};
    EXPECT_NE(refusal(one).find("cannot be negative"), std::string::npos);
}

TEST(DigitalCertificate, TextsComeBackAsTheyWere) {
    const auto texts = sample::hostile_texts();
    for (const auto& text : texts) {
        auto one = sample::certificate(3);
        one.remark = one.item.serial = text;
        pugi::xml_document document;
        ASSERT_TRUE(document.load_string(xml_of(one).c_str(), pugi::parse_default | pugi::parse_ws_pcdata_single));
        const auto serial = document.select_node("//dcc:item/dcc:identifications/dcc:identification[dcc:issuer="
                                                 "'manufacturer']/dcc:value");
        EXPECT_EQ(std::string(serial.node().text().get()), bench::readable_text(text));
        const auto remark = document.select_node("//dcc:statement[@id='remark']/dcc:declaration/dcc:content");
        EXPECT_EQ(std::string(remark.node().text().get()), bench::readable_text(text));
    }
}

TEST(DigitalCertificate, IdentifiersAreUnique) {
    pugi::xml_document document;
    ASSERT_TRUE(document.load_string(xml_of(sample::hostile_certificate()).c_str()));
    std::set<std::string> seen;
    for (const auto& one : document.select_nodes("//@id"))
        EXPECT_TRUE(seen.insert(one.attribute().value()).second) << one.attribute().value();
    EXPECT_GT(seen.size(), 5U);
}

} // namespace
} // namespace stillmark::records
