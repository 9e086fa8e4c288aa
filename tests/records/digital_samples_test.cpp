// Writes what the records make of invented certificates, for the programs that read it (same_numbers_test.py and its
// neighbours). Without a folder in STILLMARK_SAMPLES it goes to one of the test's own.

#include "daemon/records/digital/digital.hpp"
#include "daemon/records/tables.hpp"
#include "records/hostile_sample.hpp"
#include "records/published_gauge.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

namespace {

using namespace stillmark;

void write(const std::string& path, const std::string& text) {
    std::ofstream out(path, std::ios::binary);
    out << text;
    ASSERT_TRUE(out.flush()) << path;
}

void write_all(const std::string& folder, const std::string& name, const records::Certificate& certificate) {
    const auto xml = records::dcc_xml(certificate);
    ASSERT_TRUE(xml) << name << ": " << xml.error().message;
    write(folder + "/" + name + ".xml", *xml);
    write(folder + "/" + name + ".csv", records::csv_of(certificate));
    write(folder + "/" + name + ".points.csv", records::csv_of_points(certificate));
    write(folder + "/" + name + ".json", records::json_of(certificate));
}

records::Certificate in_unit(const std::string& symbol, double pascals, const std::string& text) {
    records::Certificate one = sample::certificate(7);
    one.unit = {symbol, pascals, text};
    return one;
}

/// Dials, zeros, what a reviewer accepted, points without a verdict, and results after an adjustment.
records::Certificate eventful() {
    records::Certificate one = sample::signed_certificate(9);
    auto& way = one.results[0].tables[0];
    way.rows[0].zero = true;
    way.rows[0].status = "vented";
    way.rows[1].status = "unbracketed";
    way.rows[1].accepted_by = "R. Reviewer (invented)";
    way.rows[1].accepted_because = "the piston was seen a minute before";
    way.rows[1].flags = {"approached from above"};
    for (auto& row : way.rows)
        row.untapped = sample::figure(row.indication.value - 0.01, 0.03);
    auto& points = one.results[0].points;
    points[0].rising->permissible = points[0].rising->acceptance = points[0].rising->outside = {};
    points[1].rising->k = {2.13, "2.13"};
    points[1].rising->dof = {16.4, "16.4"};
    points[2].verdict.reset();
    points[2].rising->verdict.reset();
    points[3].rising->at_capability = true;
    one.results[0].zero_deviation = {0.01, "0.01"};
    one.results[0].unsaid = {metrology::as_it_is("linearity: too few points")};
    one.results[0].left_out = {metrology::as_it_is("mark 12, 40 bar rising: void: wrong disc")};
    one.results.push_back(one.results[0]);
    one.results[1].run = "R2";
    one.results[1].condition = "as left";
    one.results[1].verdict = metrology::Verdict::conditional_fail;
    one.replaces = "INV-2026-0000";
    one.amended_because = "the serial number was wrong";
    one.place = "at the customer's works";
    one.accreditation = "accredited by nobody (invented)";
    one.remark = "a remark";
    return one;
}

records::Certificate published() {
    records::Certificate one = sample::certificate(0);
    one.unit = {"Pa", 1, "1"};
    records::Table way;
    way.range = "low";
    for (const auto& point : sample::published_gauge) {
        const auto figure = [](const char* text) { return records::Figure{std::strtod(text, nullptr), text}; };
        records::Row row;
        row.mark = static_cast<std::int64_t>(way.rows.size()) + 1;
        row.utc_us = one.issued_utc_us;
        row.target = std::string(point.p_cal) + " Pa";
        row.reference = figure(point.p_cal);
        row.indication = figure(point.p_corr);
        const double expanded = std::strtod(point.u_cal, nullptr);
        row.deviation = sample::figure(row.indication.value - row.reference.value, expanded);
        row.status = "sighted";
        way.rows.push_back(row);
        records::Summary at;
        at.target = row.target;
        at.reference = row.reference;
        at.rising = sample::basis(row.deviation.value, expanded);
        one.results[0].points.push_back(at);
    }
    one.results[0].tables.push_back(way);
    return one;
}

TEST(DigitalSamples, AreWritten) {
    const char* given = std::getenv("STILLMARK_SAMPLES");
    const std::string folder = given != nullptr ? given : ::testing::TempDir() + "stillmark-digital";
    std::filesystem::create_directories(folder);
    write_all(folder, "normal", sample::certificate());
    write_all(folder, "signed", sample::signed_certificate());
    auto german = sample::signed_certificate();
    german.language = records::Language::german;
    write_all(folder, "german", german);
    write_all(folder, "empty", sample::certificate(0));
    auto nothing = sample::certificate(0);
    nothing.results.clear();
    nothing.signatories.clear();
    nothing.customer = {};
    nothing.standards.clear();
    nothing.surroundings.clear();
    nothing.item.serial = nothing.item.asset = nothing.item.maker = "";
    write_all(folder, "nothing", nothing);
    write_all(folder, "many", sample::certificate(200));
    write_all(folder, "psi", in_unit("psi", 6894.757293168361, "6894.757"));
    write_all(folder, "kilopascal", in_unit("kPa", 1e3, "1000"));
    write_all(folder, "water", in_unit("inH2O@39.2degF", 249.08891, "249.089"));
    write_all(folder, "eventful", eventful());
    write_all(folder, "published", published());
    write_all(folder, "hostile", sample::hostile_certificate());
    auto hostile_german = sample::hostile_certificate();
    hostile_german.language = records::Language::german;
    write_all(folder, "hostile-german", hostile_german);
    nlohmann::json texts = nlohmann::json::array();
    for (const auto& text : sample::hostile_texts()) {
        // Byte by byte, because not all of it is text.
        nlohmann::json bytes = nlohmann::json::array();
        for (const char one : text)
            bytes.push_back(static_cast<unsigned char>(one));
        texts.push_back(std::move(bytes));
    }
    write(folder + "/hostile-texts.json", texts.dump());
}

} // namespace
