#include "bench/world.hpp"
#include "daemon/bench/run_evaluation.hpp"
#include "daemon/metrology/rounding.hpp"
#include "daemon/records/content.hpp"
#include "daemon/records/digital/digital.hpp"
#include "daemon/records/documents.hpp"
#include "daemon/records/gates.hpp"
#include "daemon/records/tables.hpp"
#include "daemon/records/words.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

namespace stillmark::records {
namespace {

using bench::testing::World;

/// A run of the small bench's first instrument, worked to its end.
World worked() {
    World world(bench::testing::small_bench_text({{R"("laboratory": "Invented Pressure Laboratory, Nowhere",)",
                                                   R"("laboratory": "Invented Pressure Laboratory, Nowhere",
  "records": {"address": ["Street of Nothing 1"], "country": "DE", "procedure": "INV-P-3", "logo": "logo.png"},
  "standards": [
    {"what": "balance", "certificate": "INV-P-21", "issued": "2023-01-01", "valid_until": "2030-12-31"},
    {"what": "discs", "certificate": "INV-M-17", "issued": "2023-01-01", "valid_until": "2030-12-31"}
  ],)"}}));
    EXPECT_EQ(world.start({world.state.bench->instruments[0].name}), "");
    for (int i = 0; i < 500 && world.state.running() != nullptr; ++i) {
        world.work_one_step();
        if (world.state.running() != nullptr && world.run().now() == nullptr) world.pass(1);
    }
    EXPECT_EQ(world.run().end, bench::RunEnd::finished);
    return world;
}

bench::CertificateDrafted draft_of(const World& world, std::vector<std::string> runs = {"R1"}) {
    bench::CertificateDrafted draft;
    draft.certificate = "INV-2023-0001";
    draft.runs = std::move(runs);
    draft.instrument = world.state.bench->instruments[0].name;
    draft.language = "de";
    draft.utc_us = 1'700'000'000'000'000;
    return draft;
}

Certificate made(const World& world, const bench::CertificateDrafted& draft) {
    auto certificate = certificate_of(world.state, draft);
    EXPECT_TRUE(certificate) << (certificate ? "" : certificate.error().message);
    return certificate ? *certificate : Certificate{};
}

std::vector<Row> rows_of(const Certificate& certificate) {
    std::vector<Row> rows;
    for (const auto& results : certificate.results)
        for (const auto& table : results.tables)
            rows.insert(rows.end(), table.rows.begin(), table.rows.end());
    return rows;
}

int places_of(const std::string& text) {
    const auto point = text.find('.');
    return point == std::string::npos ? 0 : static_cast<int>(text.size() - point - 1);
}

TEST(Content, EveryMarkThatCountsIsARowInTheInstrumentsUnit) {
    const World world = worked();
    const auto certificate = made(world, draft_of(world));
    const auto rows = rows_of(certificate);
    const auto counting = std::count_if(world.state.marks.begin(), world.state.marks.end(),
                                        [](const bench::Mark& one) { return one.counts(); });
    ASSERT_EQ(rows.size(), static_cast<std::size_t>(counting));
    ASSERT_GT(rows.size(), 3U);
    const double pascals = world.state.bench->instruments[0].unit.pascals;
    for (const Row& row : rows) {
        const auto& taken = world.mark(row.mark).taken;
        EXPECT_DOUBLE_EQ(row.reference.value, taken.reference_pa / pascals);
        EXPECT_DOUBLE_EQ(row.indication.value, taken.mean_pa / pascals);
        EXPECT_DOUBLE_EQ(row.deviation.value, taken.deviation_pa / pascals);
        EXPECT_EQ(places_of(row.reference.text), places_of(row.deviation.text));
        EXPECT_NEAR(std::stod(row.deviation.text), row.deviation.value,
                    0.5000001 * std::pow(10.0, -places_of(row.deviation.text)));
        EXPECT_GT(row.utc_us, 1'600'000'000'000'000);
    }
}

TEST(Content, ABasisIsThatOfTheEvaluationRoundedByItsUncertainty) {
    const World world = worked();
    const auto certificate = made(world, draft_of(world));
    const double pascals = world.state.bench->instruments[0].unit.pascals;
    const auto evaluated = bench::evaluate_run(world.state, world.state.runs[0], 0).evaluation;
    const auto& points = certificate.results[0].points;
    ASSERT_EQ(points.size(), evaluated.points.size());
    for (std::size_t i = 0; i < points.size(); ++i) {
        const auto& up = *evaluated.points[i].up;
        ASSERT_TRUE(points[i].rising);
        const Basis& basis = *points[i].rising;
        EXPECT_DOUBLE_EQ(basis.deviation.value, up.deviation / pascals);
        EXPECT_DOUBLE_EQ(basis.expanded.value, *up.expanded / pascals);
        EXPECT_EQ(places_of(basis.deviation.text), places_of(basis.expanded.text));
        EXPECT_GE(std::stod(basis.expanded.text), 0.95 * basis.expanded.value);
        EXPECT_EQ(basis.verdict, up.verdict);
        EXPECT_EQ(basis.contains.size(), up.contains.size());
    }
}

// An accepted mark without a closing check, and its repeat under a bracketed float: the repeat stands in the
// evaluation, in the tables and in the overlap, and the other is listed as superseded.
TEST(Content, ARepeatSupersedesAnAcceptedUnbracketedMarkInEveryOutput) {
    World world = worked();
    auto& marks = world.state.marks;
    auto repeat = marks[1];
    repeat.taken.mark = static_cast<std::int64_t>(marks.size()) + 1;
    repeat.taken.mean_pa += 700;
    repeat.taken.deviation_pa += 700;
    marks[1].status = bench::MarkStatus::unbracketed;
    marks[1].accepted_by = "invented reviewer";
    marks[1].accepted_because = "it was seen";
    for (const bool repeated_first : {false, true}) {
        auto state = world.state;
        state.marks.insert(repeated_first ? state.marks.begin() : state.marks.end(), repeat);
        const auto made_of = certificate_of(state, draft_of(world));
        ASSERT_TRUE(made_of);
        const auto& results = made_of->results[0];
        int of_the_repeat = 0;
        for (const Row& row : rows_of(*made_of)) {
            EXPECT_NE(row.mark, 2) << repeated_first;
            of_the_repeat += row.mark == repeat.taken.mark ? 1 : 0;
        }
        EXPECT_EQ(of_the_repeat, 1);
        ASSERT_EQ(results.left_out.size(), 1U);
        EXPECT_NE(english(results.left_out[0]).find("mark 2, "), std::string::npos);
        EXPECT_NE(english(results.left_out[0]).find(fmt::format("superseded by mark {}", repeat.taken.mark)),
                  std::string::npos);
        const auto evaluated = bench::evaluate_run(state, state.runs[0], 0).evaluation;
        const auto& point = evaluated.points[static_cast<std::size_t>(repeat.taken.visit)];
        EXPECT_EQ(point.up->readings, 1);
        EXPECT_NEAR(point.up->deviation, repeat.taken.deviation_pa, 1e-6);
    }
}

TEST(Content, ATableIsOneWayThroughOneRange) {
    const World world = worked();
    for (const auto& results : made(world, draft_of(world)).results)
        for (std::size_t i = 1; i < results.tables.size(); ++i) {
            const auto &one = results.tables[i - 1], &next = results.tables[i];
            EXPECT_TRUE(one.range != next.range || one.direction != next.direction || one.series != next.series);
        }
}

TEST(Content, SaysWhoAndWhatAndWhere) {
    World world = worked();
    bench::ParticularsStated what;
    what.run = "R1";
    what.customer = "Invented Works";
    what.customer_address = std::vector<std::string>{"Customer Lane 2"};
    what.mounting = "lying";
    ASSERT_EQ(world.does(bench::state_particulars(world.state, world.press(), what)), "");
    const auto one = made(world, draft_of(world));
    EXPECT_EQ(one.number, "INV-2023-0001");
    EXPECT_EQ(one.language, Language::german);
    EXPECT_TRUE(one.draft);
    EXPECT_EQ(one.laboratory.name, "Invented Pressure Laboratory, Nowhere");
    EXPECT_EQ(one.laboratory.country, "DE");
    EXPECT_EQ(one.customer.name, "Invented Works");
    EXPECT_EQ(one.procedure, "INV-P-3");
    EXPECT_EQ(one.item.serial, world.state.bench->instruments[0].serial);
    EXPECT_EQ(one.item.mounting, "lying");
    EXPECT_EQ(one.standards.size(), 2U);
    ASSERT_EQ(one.signatories.size(), 1U);
    EXPECT_EQ(one.signatories[0].name, "invented person");
    EXPECT_EQ(one.signatories[0].role, "operator");
    ASSERT_EQ(one.surroundings.size(), 4U);
    EXPECT_EQ(one.surroundings[0].unit, "degC");
    EXPECT_TRUE(one.lacking.empty());
    EXPECT_NE(one.logo.find("logo.png"), std::string::npos);
}

TEST(Content, CharactersThatCannotBePrintedHoldTheSignature) {
    World world = worked();
    const auto with_remark = [&world](const std::string& remark) {
        bench::ParticularsStated what;
        what.run = "R1";
        what.customer = "Invented Works";
        what.customer_address = std::vector<std::string>{"Customer Lane 2"};
        what.remark = remark;
        EXPECT_EQ(world.does(bench::state_particulars(world.state, world.press(), what)), "");
        return made(world, draft_of(world)).lacking;
    };
    EXPECT_TRUE(with_remark("plain\ttext, \u00C4rger, \u03A9, line\nends").empty());
    // A right-to-left override, a bell, a character of the supplementary private use area that no font has.
    for (const char* text : {"net\u202Egross", "bell \x07", "\U0010FFFD"}) {
        const auto lacking = with_remark(text);
        ASSERT_EQ(lacking.size(), 1U) << text;
        EXPECT_EQ(lacking[0].code, bench::GateCode::characters_not_printable);
        EXPECT_EQ(lacking[0].subject.substr(0, 8), "/remark ");
        EXPECT_EQ(lacking[0].run, "R1");
        EXPECT_TRUE(lacking[0].overridable);
    }
    EXPECT_NE(bench::english(with_remark("net\u202Egross")[0])
                  .find("\"net[U+202E]gross\" (/remark) has characters that cannot be printed: U+202E"),
              std::string::npos);
}

TEST(Content, AnOverrideIsOfOneTextAndIsPrinted) {
    World world = worked();
    const auto remark = [&world](const std::string& text) {
        bench::ParticularsStated what;
        what.run = "R1";
        what.customer = "Invented Works";
        what.customer_address = std::vector<std::string>{"Customer Lane 2"};
        what.remark = text;
        EXPECT_EQ(world.does(bench::state_particulars(world.state, world.press(), what)), "");
    };
    remark("net\u202Egross");
    const auto draft = draft_of(world);
    ASSERT_EQ(world.does(bench::record_draft(world.state, draft)), "");
    const auto before = made(world, draft);
    const auto gates = gates_before_signature(world.state, draft);
    ASSERT_EQ(gates.size(), 1U);
    const bench::OverrideRequest request{draft.certificate, "", "characters_not_printable", gates[0].subject,
                                         "as the customer writes it"};
    const bench::Press reviewer{world.now_us, world.now_us, "invented reviewer", true};
    ASSERT_EQ(world.does(bench::override_gate(world.state, reviewer, request, gates)), "");
    const auto after = made(world, draft);
    EXPECT_TRUE(after.lacking.empty());
    ASSERT_EQ(after.overridden.size(), 1U);
    EXPECT_EQ(after.overridden[0].because, "as the customer writes it");
    EXPECT_EQ(after.overridden[0].by, "invented reviewer");
    EXPECT_EQ(gates_before_signature(world.state, draft).size(), 1U);
    // What is printed has changed, so it is drafted again before it is signed.
    EXPECT_NE(content_digest(before), content_digest(after));
    EXPECT_NE(json_of(after).find("as the customer writes it"), std::string::npos);
    const auto xml = dcc_xml(after);
    ASSERT_TRUE(xml);
    EXPECT_NE(xml->find("as the customer writes it"), std::string::npos);
    // Another text with the same character is another finding.
    remark("gross\u202Enet");
    EXPECT_EQ(made(world, draft).lacking.size(), 1U);
    EXPECT_TRUE(made(world, draft).overridden.empty());
}

TEST(Content, APressAgainstTheReadingsIsPrintedWhereResultsRestOnIt) {
    World world = worked();
    const auto interval = world.mark(1).taken.interval;
    const auto name = world.state.bench->instruments[0].name;
    bench::Overruling one;
    one.fact = {"R1", 7, bench::press_confirm, "", {name}, {0}, {2e6}, {2e5}, "its tap was shut", "invented person"};
    one.utc_us = world.run().started_utc_us + 5;
    one.interval = interval;
    world.state.overruled = {one};
    one.interval = 999; // a float that no mark rests on
    world.state.overruled.push_back(one);
    const auto draft = draft_of(world);
    const auto certificate = made(world, draft);
    ASSERT_EQ(certificate.overridden.size(), 1U);
    EXPECT_EQ(certificate.overridden[0].because, "its tap was shut");
    EXPECT_EQ(certificate.overridden[0].by, "invented person");
    const auto found = metrology::english(certificate.overridden[0].gate.found);
    EXPECT_NE(found.find("run R1, step 8: that the piston floats was stated while " + name + " showed 0.00"),
              std::string::npos)
        << found;
    EXPECT_NE(found.find("bar and 20.00"), std::string::npos) << found;
    EXPECT_NE(json_of(certificate).find("its tap was shut"), std::string::npos);
    EXPECT_TRUE(std::ranges::none_of(gates_before_signature(world.state, draft), [](const bench::Gate& gate) {
        return gate.code == bench::GateCode::readings_overruled;
    })) << "it is no reviewer's to override";
    // A void mark is no result.
    for (auto& mark : world.state.marks)
        if (mark.taken.interval == interval) mark.status = bench::MarkStatus::voided;
    EXPECT_TRUE(made(world, draft).overridden.empty());
}

TEST(Content, AHoldThatTheReadingsContradictedIsPrintedAsThat) {
    World world = worked();
    auto& checks = world.state.runs.front().checks;
    const auto hold = std::ranges::find_if(checks, [](const auto& one) { return one.recorded.check == "preload"; });
    ASSERT_NE(hold, checks.end());
    const auto printed = [&world] {
        const auto certificate = made(world, draft_of(world));
        for (const auto& one : certificate.results.at(0).checks)
            if (one.check == "preload") return metrology::english(one.words);
        return std::string();
    };
    EXPECT_EQ(printed().find("contradicted"), std::string::npos) << printed();
    hold->recorded.passed = false;
    hold->waived_because = "the gauges are shut off";
    EXPECT_NE(printed().find("but the readings then contradicted it"), std::string::npos) << printed();
}

TEST(Content, AStartOnAPoorRangeIsPrintedAndIsNoReviewersOverride) {
    World world = worked();
    auto& run = world.state.runs.front();
    world.state.health.push_back({"low", "spin time", 20, 0, "invented person", 0, run.started_utc_us - 1});
    run.poor_at_start = {0};
    run.override_health = "the spare piston comes on Monday";
    const auto draft = draft_of(world);
    const auto certificate = made(world, draft);
    ASSERT_EQ(certificate.overridden.size(), 1U);
    EXPECT_EQ(certificate.overridden[0].because, "the spare piston comes on Monday");
    EXPECT_EQ(certificate.overridden[0].by, run.by);
    EXPECT_EQ(certificate.overridden[0].utc_us, run.started_utc_us);
    EXPECT_NE(json_of(certificate).find("the spare piston comes on Monday"), std::string::npos);
    // It lets the run begin; a reviewer still decides whether its certificate may be signed.
    const auto gates = gates_before_signature(world.state, draft);
    const auto of_health = [](const bench::Gate& gate) { return gate.code == bench::GateCode::range_in_poor_health; };
    EXPECT_EQ(std::ranges::count_if(gates, of_health), 1);
    EXPECT_EQ(std::ranges::count_if(certificate.lacking, of_health), 1);
}

TEST(Content, NamesNoOtherInstrument) {
    World world = worked();
    auto& run = world.state.runs.front();
    bench::CheckResult leak;
    leak.recorded = {"R1", 3, "leak", "", 1200, 1e4, "Pa", true, "transmitter B fell by 0.012 bar", 1, 2, ""};
    bench::CheckResult zero;
    zero.recorded = {"R1", 4, "zero", "transmitter B", 200, 5e4, "Pa", true, "transmitter B is off", 3, 4, ""};
    run.checks = {leak, zero};
    auto certificate = made(world, draft_of(world));
    ASSERT_EQ(certificate.results[0].checks.size(), 1U); // the zero is the other's own
    EXPECT_NE(english(certificate.results[0].checks[0].words).find("1200 Pa"), std::string::npos);
    const auto xml = dcc_xml(certificate);
    ASSERT_TRUE(xml);
    for (const std::string& document : {json_of(certificate), *xml})
        EXPECT_EQ(document.find("transmitter B"), std::string::npos);
}

TEST(Content, SaysNothingOfFitsThatAreNotPrinted) {
    World world = worked();
    for (auto& mark : world.state.marks)
        mark.taken.mean_pa += mark.taken.mark % 2 == 0 ? 3e5 : -3e5; // far from any line
    const auto evaluated = bench::evaluate_run(world.state, world.run(), 0).evaluation;
    const auto of_fits = [](const metrology::Unsaid& one) { return one.topic == metrology::Topic::fits; };
    ASSERT_TRUE(std::any_of(evaluated.unsaid.begin(), evaluated.unsaid.end(), of_fits));
    const auto certificate = made(world, draft_of(world));
    for (const auto& one : certificate.results[0].unsaid)
        for (const char* word : {"chi-squared", "line", "polynomial", "linearity", "fits"})
            EXPECT_EQ(english(one).find(word), std::string::npos) << english(one);
}

TEST(Content, HowARuleIsKnownIsNoMatterOfTheCustomers) {
    World world(bench::testing::small_bench_text({{R"("mpe": "0.05 % of span")", R"("mpe": "grade 3A")"}}));
    EXPECT_EQ(world.start({world.state.bench->instruments[0].name}), "");
    for (int i = 0; i < 500 && world.state.running() != nullptr; ++i) {
        world.work_one_step();
        if (world.state.running() != nullptr && world.run().now() == nullptr) world.pass(1);
    }
    const auto evaluated = bench::evaluate_run(world.state, world.run(), 0).evaluation;
    EXPECT_TRUE(std::any_of(evaluated.unsaid.begin(), evaluated.unsaid.end(), [](const metrology::Unsaid& one) {
        return why_words(one).find("from memory") != std::string::npos;
    }));
    const auto certificate = made(world, draft_of(world));
    EXPECT_TRUE(certificate.results[0].not_compared);
    for (const char* gossip : {"from memory", "second hand"})
        EXPECT_EQ(json_of(certificate).find(gossip), std::string::npos);
    EXPECT_EQ(Words::of(Language::german)(certificate.results[0].specification),
              "Grad 3A: 0,25 % der Messspanne, 0,25 % in ihrer mittleren H\u00E4lfte (ASME B40.100)");
}

TEST(Content, ARuleNamesOnlyAStandardWhoseEditionWasRead) {
    const auto named = [](metrology::Provenance provenance) {
        return english(rule_words(
            {metrology::sentence("hysteresis at most 0.6 %"), false, {}, false, {"EN 837-1, 9", provenance}}));
    };
    EXPECT_EQ(named(metrology::Provenance::read), "hysteresis at most 0.6 % (EN 837-1, 9)");
    EXPECT_EQ(named(metrology::Provenance::second_hand), "hysteresis at most 0.6 %");
    EXPECT_EQ(named(metrology::Provenance::from_memory), "hysteresis at most 0.6 %");
}

TEST(Content, SentencesAreInTheLanguageOfTheDocument) {
    World world = worked();
    ASSERT_EQ(world.void_mark(2, "wrong disc, 2.5 bar"), "");
    const auto certificate = made(world, draft_of(world));
    const Words& german = Words::of(Language::german);
    const auto& left_out = certificate.results[0].left_out;
    ASSERT_EQ(left_out.size(), 2U);
    EXPECT_EQ(german(left_out[0]), "Ablesung 2, 20 bar steigend: ung\u00FCltig: wrong disc, 2.5 bar");
    EXPECT_EQ(german(left_out[1]), "20 bar steigend: es gibt keine Ablesung, die z\u00E4hlt");
    EXPECT_EQ(german(certificate.results[0].specification), "0,05 % der Messspanne");
    EXPECT_EQ(german(metrology::as_written("2.5 bar")), "2,5 bar");
    EXPECT_EQ(german(metrology::as_written("dial 2.5")), "dial 2.5");
    // What a person wrote stays as it was written, also where it is nothing but a number.
    EXPECT_EQ(german(metrology::sentence("{what}", {metrology::text_value("what", "2.5")})), "2.5");
    const auto xml = dcc_xml(certificate);
    ASSERT_TRUE(xml);
    EXPECT_NE(xml->find("zul\u00E4ssige Abweichung: 0,05 % der Messspanne"), std::string::npos);
}

TEST(Content, WhatDoesNotCountIsNamedAndLeftOut) {
    World world = worked();
    const auto before = rows_of(made(world, draft_of(world))).size();
    ASSERT_EQ(world.void_mark(2, "wrong disc"), "");
    const auto certificate = made(world, draft_of(world));
    EXPECT_EQ(rows_of(certificate).size(), before - 1);
    const auto& left_out = certificate.results[0].left_out;
    ASSERT_EQ(left_out.size(), 2U);
    EXPECT_NE(english(left_out[0]).find("mark 2, "), std::string::npos);
    EXPECT_NE(english(left_out[0]).find("void: wrong disc"), std::string::npos);
    EXPECT_NE(english(left_out[1]).find("there is no reading that counts"), std::string::npos);
}

TEST(Content, ASignatureMakesItNoDraft) {
    const World world = worked();
    auto certificate = made(world, draft_of(world));
    bench::CertificateSigned signature;
    signature.by = "invented reviewer";
    signature.logged_in = true;
    signature.utc_us = 7;
    signature.journal_number = 8;
    signature.journal_digest = "00ff";
    signature.key = "0011";
    put_signature(certificate, signature);
    EXPECT_FALSE(certificate.draft);
    EXPECT_EQ(certificate.signatories.back().role, "reviewer");
    EXPECT_TRUE(certificate.signatories.back().logged_in);
    EXPECT_EQ(certificate.proof.journal_number, 8U);
    EXPECT_EQ(certificate.issued_utc_us, 7);
}

TEST(Content, WhatIsNotThereIsSaid) {
    const World world = worked();
    const auto no_run = certificate_of(world.state, draft_of(world, {"R7"}));
    ASSERT_FALSE(no_run);
    EXPECT_EQ(no_run.error().message, "there is no run \"R7\"; see the list of runs");
    auto draft = draft_of(world);
    draft.instrument = "gauge X";
    ASSERT_FALSE(certificate_of(world.state, draft));
}

TEST(Content, TheSameStateGivesTheSame) {
    const World world = worked();
    const auto one = rows_of(made(world, draft_of(world))), two = rows_of(made(world, draft_of(world)));
    ASSERT_EQ(one.size(), two.size());
    for (std::size_t i = 0; i < one.size(); ++i) {
        EXPECT_EQ(one[i].reference.value, two[i].reference.value);
        EXPECT_EQ(one[i].deviation.text, two[i].deviation.text);
    }
}

} // namespace
} // namespace stillmark::records
