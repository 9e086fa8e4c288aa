// Writes printed certificates of every kind, and beside each what it has to show, for the programs that read them
// (printed_test.py). Without a folder in STILLMARK_SAMPLES they go to one of the test's own.
#include "daemon/records/print/print.hpp"
#include "daemon/records/print/qr.hpp"
#include "records/sample.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <cstdlib>
#include <filesystem>
#include <fstream>

using namespace stillmark;
using records::Certificate;
using records::Figure;

namespace {

std::filesystem::path folder() {
    const char* const given = std::getenv("STILLMARK_SAMPLES");
    const std::filesystem::path path =
        given != nullptr ? std::filesystem::path(given) : std::filesystem::path(::testing::TempDir()) / "printed";
    std::filesystem::create_directories(path);
    return path;
}

void write(const std::filesystem::path& path, const std::string& bytes) {
    std::ofstream file(path, std::ios::binary);
    file.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    ASSERT_TRUE(file.flush()) << path;
}

/// What a reader must find: the figures row by row, as the content has them.
nlohmann::json shown_of(const Certificate& one) {
    nlohmann::json rows = nlohmann::json::array(), points = nlohmann::json::array();
    for (const auto& results : one.results) {
        for (const auto& table : results.tables)
            for (const auto& row : table.rows)
                rows.push_back({std::to_string(row.mark), row.target, row.reference.text, row.indication.text,
                                row.deviation.text});
        for (const auto which : {&records::Summary::rising, &records::Summary::falling})
            for (const auto& at : results.points)
                if (const auto& basis = at.*which)
                    points.push_back({at.target, at.reference.text, basis->deviation.text, basis->expanded.text,
                                      basis->k.text, basis->permissible.text, basis->acceptance.text,
                                      basis->outside.text});
        for (const auto& at : results.points)
            if (at.mean)
                points.push_back(
                    {at.target, at.mean->deviation.text, at.hysteresis.text, at.mean->expanded.text, at.mean->k.text});
    }
    return {{"number", one.number},
            {"language", records::code(one.language)},
            {"draft", one.draft},
            {"rows", std::move(rows)},
            {"points", std::move(points)},
            {"item", one.item.name},
            {"customer", one.customer.name},
            {"qr", records::print::qr_text(one)}};
}

void write_sample(const std::string& name, const Certificate& one, const std::string& xml) {
    const auto pdf = records::pdf_of(one, xml);
    ASSERT_TRUE(pdf) << name << ": " << pdf.error().message;
    write(folder() / (name + ".pdf"), *pdf);
    write(folder() / (name + ".xml"), xml);
    write(folder() / (name + ".json"), shown_of(one).dump(1, ' ', false, nlohmann::json::error_handler_t::replace));
}

const std::string xml = "<?xml version=\"1.0\"?>\n<invented number=\"INV-2026-0001\">\u20ac</invented>\n";

Certificate sealed(std::size_t points) {
    Certificate one = sample::signed_certificate(points);
    one.proof.xml_sha256 = std::string(63, '7') + "e";
    one.proof.code_signature = std::string(86, 'S') + "==";
    return one;
}

/// A text of 500 characters that repeats a piece.
std::string long_text(const std::string& piece, std::size_t characters_of_piece) {
    std::string text;
    for (std::size_t count = 0; count < 500; count += characters_of_piece)
        text += piece;
    return text;
}

Certificate with_names(const std::string& name) {
    Certificate one = sample::certificate();
    one.laboratory.name = one.customer.name = one.item.name = one.item.model = one.item.serial = one.item.asset =
        one.item.condition = one.order = one.remark = name;
    one.laboratory.lines = {name};
    one.standards[0].name = one.standards[0].serial = one.standards[1].issued_by = one.standards[2].allowed_because =
        name;
    one.results[0].tables[0].rows[0].target = one.results[0].points[0].target = name;
    one.results[0].tables[0].rows[1].flags = {name};
    one.results[0].unsaid = {metrology::as_it_is(name)};
    one.results[0].sequence = name;
    one.signatories[0].name = name;
    one.ranges = {name};
    return one;
}

/// Everything that a certificate can say at once.
Certificate with_everything() {
    Certificate one = sample::certificate();
    one.language = records::Language::german;
    using metrology::sentence;
    using metrology::text_value;
    one.lacking = {{bench::GateCode::customer_not_stated, "R1", "",
                    sentence("the customer of run {run} is not stated", {text_value("run", "R1")}),
                    sentence("stillmark particulars {run} --customer NAME", {text_value("run", "R1")}), false}};
    one.overridden = {{{bench::GateCode::wrong_approach, "R1", "4",
                        sentence("the pressure of mark {mark} ({target} {direction}) was reached from the wrong side",
                                 {metrology::number_value("mark", 4), text_value("target", "2 bar"),
                                  metrology::words_value("direction", sentence("rising"))}),
                        sentence("the run is done again"), true},
                       "a drop of 0.1 bar does not matter here",
                       "R. Reviewer (invented)",
                       one.issued_utc_us}};
    one.time_zone = "Europe/Berlin";
    one.replaces = "INV-2026-0000";
    one.amended_because = "wrong serial number";
    one.accreditation = "accredited for nothing, invented";
    one.logo = std::string(STILLMARK_SOURCE_DIR) + "/daemon/packaging/console.png";
    one.place = "at the customer's works, hall 3";
    one.remark = "the case was open";
    one.item.dial = true;
    one.item.above_balance_mm = "-35.5";
    auto& results = one.results[0];
    results.method = "an invented guideline, basic procedure";
    results.method_edition = "edition 4 (A. Admin)";
    results.departures = {metrology::as_it_is("the sequence has 11 points in place of 6")};
    results.hold_shortened = true;
    results.specification = metrology::as_it_is("0.1 % of span and 0.05 % of reading");
    results.decision = metrology::DecisionRule{metrology::Rule::guard_band, 0.83, true};
    results.verdict = metrology::Verdict::conditional_pass;
    results.zero_deviation = {-0.02, "-0.020"};
    results.largest_hysteresis = {0.04, "0.040"};
    results.largest_repeatability = {0.012, "0.012"};
    results.largest_deviation = {0.365, "0.365"};
    results.unsaid = {metrology::as_it_is("linearity: there are too few points")};
    results.findings = {metrology::as_it_is("waiting time: 20 s at 40 bar, at least 30 s is asked for")};
    results.left_out = {metrology::as_it_is("mark 23, 40 bar rising: void: wrong disc")};
    results.checks.push_back({"level", metrology::as_it_is("not looked at"), false, "no level at hand", "A. Admin"});
    for (auto& table : results.tables) {
        table.series = 2;
        for (auto& row : table.rows)
            row.untapped = row.indication;
    }
    auto& rows = results.tables[0].rows;
    rows[0].zero = true;
    rows[0].status = "vented";
    rows[1].status = "unbracketed";
    rows[2].status = "unbracketed";
    rows[2].accepted_by = "R. Reviewer";
    rows[2].accepted_because = "seen on the picture";
    rows[2].flags = {"approached from above"};
    for (auto& at : results.points) {
        at.repeatability = at.reproducibility = at.hysteresis;
        at.error_span = at.rising->deviation;
        at.rising->k = {2.06, "2.06"};
        at.rising->dof = {37.2, "37.2"};
    }
    results.points[3].falling->k = {2.13, "2.13"};
    results.points[3].falling->dof = {16.4, "16.4"};
    results.points[3].falling->contains.emplace_back("repeatability");
    results.points[0].rising->at_capability = true;
    results.points[0].rising->k = {2, "2.00"};
    results.overlaps[0].finding = bench::OverlapFinding::differ;
    return one;
}

} // namespace

TEST(WrittenSamples, OfEveryKind) {
    write_sample("usual", sample::certificate(), xml);
    write_sample("sealed", sealed(11), xml);
    write_sample("sealed21", sealed(21), xml);
    write_sample("empty", sample::certificate(0), "");
    write_sample("many", sample::certificate(200), xml);
    Certificate german = sealed(11);
    german.language = records::Language::german;
    write_sample("german", german, xml);
    write_sample("everything", with_everything(), xml);
    Certificate adjusted = sealed(11);
    adjusted.results.push_back(adjusted.results[0]);
    adjusted.results[1].condition = "as left";
    adjusted.results[1].run = "R2";
    write_sample("adjusted", adjusted, xml);
}

TEST(WrittenSamples, WithNamesInEveryScript) {
    const std::vector<std::pair<std::string, std::string>> scripts = {
        {"latin", long_text("Ünïted Mëtrology & Söns ", 24)},
        {"unbroken", long_text("Prüfstelle", 10)},
        {"greek", long_text("Μετρολογία πίεσης ", 18)},
        {"cyrillic", long_text("Метрология давления ", 20)},
        {"arabic", long_text("مختبر قياس الضغط ", 17)},
        {"hebrew", long_text("מעבדת לחץ ", 10)},
        {"cjk", long_text("圧力校正室 压力计量 압력 ", 14)},
        {"emoji", long_text("🔧📏 gauge 👩‍🔬 ", 13)},
        {"markup", long_text("<b>&amp;\"'()\\%$ </span> %PDF endobj ", 37)},
        {"control", long_text(std::string("a\0b\x01\x1b[2J\n\t\x7f", 11) + "\u202Eb\u2066c\xff\xc3 ", 18)},
    };
    for (const auto& [name, text] : scripts)
        write_sample(name, with_names(text), xml);
}
