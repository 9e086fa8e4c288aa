#include "bench/world.hpp"
#include "daemon/bench/certificates.hpp"
#include "daemon/bench/gates.hpp"
#include "daemon/bench/run_evaluation.hpp"

#include <gtest/gtest.h>

#include <algorithm>

namespace stillmark::bench::testing {
namespace {

constexpr Micros day_us = 86'400'000'000;

/// The small bench with what a certificate needs; the invented clock of these tests stands at 2023-11-14.
std::string office_bench_text(const std::string& valid_until = "2023-12-31") {
    return small_bench_text({{R"("laboratory": "Invented Pressure Laboratory, Nowhere",)",
                              R"("laboratory": "Invented Pressure Laboratory, Nowhere",
  "records": {"address": ["Street of Nothing 1"], "country": "DE", "numbering": "INV-{year}-{count}", "warn": "10 d"},
  "standards": [
    {"what": "balance", "certificate": "INV-P-21", "issued": "2023-01-01", "valid_until": "2030-12-31"},
    {"what": "discs", "certificate": "INV-M-17", "issued": "2023-01-01", "valid_until": ")" +
                                  valid_until + R"("}
  ],)"}});
}

/// A run that was worked to its end; `reviewed` by nobody yet.
World worked(const std::string& bench_text = office_bench_text()) {
    World world(bench_text);
    EXPECT_EQ(world.start({world.state.bench->instruments[0].name}), "");
    for (int i = 0; i < 500 && world.state.running() != nullptr; ++i) {
        world.work_one_step();
        if (world.state.running() != nullptr && world.run().now() == nullptr) world.pass(1);
    }
    EXPECT_EQ(world.run().end, RunEnd::finished);
    return world;
}

std::string name_of(const World& world) {
    return world.state.bench->instruments[0].name;
}

std::vector<std::string> lacking_words(const World& world) {
    std::vector<std::string> words;
    for (const Gate& gate : lacking_for_certificate(world.state, {"R1"}, name_of(world)))
        words.push_back(english(gate));
    return words;
}

Press reviewer(const World& world) {
    return {world.now_us, world.now_us, "invented reviewer", true};
}

std::string state_customer(World& world, const std::string& run = "R1") {
    ParticularsStated what;
    what.run = run;
    what.customer = "Invented Works";
    what.customer_address = std::vector<std::string>{"Customer Lane 2"};
    return world.does(state_particulars(world.state, world.press(), what));
}

std::string refusal_of(const World& world, const DraftRequest& request) {
    const auto draft = next_draft(world.state, world.press(), request);
    return draft ? "" : draft.error().why;
}

CertificateSigned signature_of(const World& world, const CertificateDrafted& draft, const std::string& by) {
    CertificateSigned signature;
    signature.certificate = draft.certificate;
    signature.edition = draft.edition;
    signature.by = by;
    signature.utc_us = world.now_us;
    return signature;
}

// Days since 1970 by the Gregorian rules (ISO 8601): 2000-02-29 is day 11016, 2026-01-15 day 20468 (Python's datetime).
TEST(Dates, AreDaysOfTheGregorianCalendar) {
    EXPECT_EQ(utc_us_of_date("1970-01-01"), 0);
    EXPECT_EQ(utc_us_of_date("2000-02-29"), 11016 * day_us);
    EXPECT_EQ(utc_us_of_date("2026-01-15"), 20468 * day_us);
    for (const char* wrong : {"", "2026-1-15", "2026-02-29", "2026-13-01", "2026-00-10", "2026-01-15 ", "26-01-15",
                              "2026/01/15", "+026-01-15"})
        EXPECT_EQ(utc_us_of_date(wrong), std::nullopt) << wrong;
    EXPECT_EQ(date_of(20468 * day_us), "2026-01-15");
    EXPECT_EQ(date_of(20468 * day_us - 1), "2026-01-14");
    EXPECT_EQ(date_of(-1), "1969-12-31");
}

TEST(Standards, AreValidThroughTheirLastDay) {
    const std::vector<StandardCertificate> list{
        {"discs", "", "", "INV-M-17", "", "", "1970-01-01", "1970-01-31", *utc_us_of_date("1970-01-31") + day_us}};
    EXPECT_TRUE(expired_at(list, *utc_us_of_date("1970-02-01") - 1).empty());
    EXPECT_EQ(expired_at(list, *utc_us_of_date("1970-02-01")).size(), 1U);
    EXPECT_EQ(expired_at(list, *utc_us_of_date("1970-01-22"), 10 * day_us).size(), 1U);
    EXPECT_TRUE(expired_at(list, *utc_us_of_date("1970-01-22") - 1, 10 * day_us).empty());
    EXPECT_EQ(unstated_standards(list, false), std::vector<std::string>{"balance"});
}

TEST(Certificates, WhatLacksIsSaid) {
    World world = worked(small_bench_text());
    const auto lacking = lacking_words(world);
    ASSERT_EQ(lacking.size(), 6U);
    EXPECT_NE(lacking[0].find("address is not stated"), std::string::npos);
    EXPECT_NE(lacking[1].find("country is not stated"), std::string::npos);
    EXPECT_EQ(lacking[2],
              "the bench file of run R1 states no certificate for the balance: give one in \"standards\" and "
              "run again");
    EXPECT_NE(lacking[3].find("for the discs"), std::string::npos);
    EXPECT_EQ(lacking[4], "the customer of run R1 is not stated: stillmark particulars R1 --customer NAME");
    EXPECT_EQ(lacking[5],
              "the address of the customer of run R1 is not stated: stillmark particulars R1 --address LINE");
    const auto draft = world.drafted({{"R1"}, name_of(world), "en", "", ""});
    EXPECT_EQ(world.does(record_signature(world.state, signature_of(world, draft, "invented reviewer"))), lacking[0]);
    EXPECT_FALSE(world.state.certificates.front().signature);
}

TEST(Certificates, AreDraftedSignedAndAmended) {
    World world = worked();
    ASSERT_EQ(state_customer(world), "");
    const DraftRequest request{{"R1"}, name_of(world), "en", "", ""};
    EXPECT_TRUE(lacking_for_certificate(world.state, {"R1"}, name_of(world)).empty());
    const auto first = world.drafted(request);
    EXPECT_EQ(first.certificate, "INV-2023-0001");
    EXPECT_EQ(first.edition, 1);
    const auto second = world.drafted(request);
    EXPECT_EQ(second.certificate, "INV-2023-0001");
    EXPECT_EQ(second.edition, 2);
    // Who made the first edition cannot record it over the second.
    EXPECT_NE(world.does(record_draft(world.state, first)).find("meanwhile"), std::string::npos);
    EXPECT_EQ(world.does(record_signature(world.state, signature_of(world, first, "invented reviewer"))),
              "certificate INV-2023-0001 was drafted again meanwhile; look at the new draft");
    EXPECT_EQ(world.does(record_signature(world.state, signature_of(world, second, "invented person"))),
              "invented person worked at run R1; a certificate is signed by a reviewer who did not");
    EXPECT_NE(world.does(record_signature(world.state, signature_of(world, second, "Invented  PERSON"))), "");
    EXPECT_EQ(world.does(record_signature(world.state, signature_of(world, second, ""))),
              "a signature has a name; say who signs");
    EXPECT_EQ(world.does(record_signature(world.state, signature_of(world, second, "invented reviewer"))), "");
    ASSERT_TRUE(world.state.certificates.front().signature);
    EXPECT_NE(world.does(record_signature(world.state, signature_of(world, second, "another"))).find("signed already"),
              std::string::npos);

    EXPECT_NE(refusal_of(world, request).find("amend it with a reason"), std::string::npos);
    DraftRequest amendment = request;
    amendment.replaces = "INV-2023-0001";
    EXPECT_EQ(refusal_of(world, amendment), "an amendment says why; give the reason");
    amendment.amended_because = "the customer's name was misspelt";
    const auto third = world.drafted(amendment);
    EXPECT_EQ(third.certificate, "INV-2023-0002");
    EXPECT_EQ(third.replaces, "INV-2023-0001");
    // A draft cannot be amended: it is drafted again.
    amendment.replaces = "INV-2023-0002";
    EXPECT_EQ(refusal_of(world, amendment), "there is no signed certificate \"INV-2023-0002\" to amend");
}

TEST(Certificates, RequestsThatMakeNoneAreRefused) {
    World world = worked();
    EXPECT_EQ(refusal_of(world, {{}, name_of(world), "en", "", ""}),
              "a certificate is of one run, or of the run as found and the run as left; name one or two");
    EXPECT_EQ(refusal_of(world, {{"R9"}, name_of(world), "en", "", ""}),
              "there is no run \"R9\"; see the list of runs");
    EXPECT_NE(refusal_of(world, {{"R1"}, "another", "en", "", ""}).find("it has: " + name_of(world)),
              std::string::npos);
    EXPECT_EQ(refusal_of(world, {{"R1"}, name_of(world), "xx", "", ""}), "there are no words in \"xx\"; use en or de");
    EXPECT_EQ(refusal_of(world, {{"R1", "R1"}, name_of(world), "en", "", ""}), "both runs are the same; name one");
}

TEST(Certificates, AnExpiredStandardWarnsAndStopsAndIsAllowedByName) {
    World world(office_bench_text("2023-11-20"));
    EXPECT_EQ(world.start({name_of(world)}), "");
    const auto warned = std::count_if(world.told.begin(), world.told.end(), [](const Tell& one) {
        return one.words == "certificate INV-M-17 of the discs is valid until 2023-11-20: see to the next calibration";
    });
    EXPECT_EQ(warned, 1);

    World late = worked(office_bench_text("2023-11-20"));
    // The same run, on a clock that is ten days ahead.
    late.state.runs.front().ended_utc_us += 10 * day_us;
    ASSERT_EQ(state_customer(late), "");
    const auto lacking = lacking_words(late);
    ASSERT_EQ(lacking.size(), 1U);
    EXPECT_EQ(lacking[0],
              "certificate INV-M-17 of the discs was valid until 2023-11-20, run R1 ended on 2023-11-24: an "
              "administrator allows it with a reason, or the run is done again");
    EXPECT_EQ(expired_and_not_allowed(late.state, {"R1"}),
              (std::vector<std::pair<std::string, std::string>>{{"R1", "INV-M-17"}}));
    EXPECT_EQ(late.does(allow_expiry(late.state, reviewer(late), "R1", "INV-M-17", "")),
              "a reason is missing; say why the standard may stand behind certificates");
    EXPECT_EQ(late.does(allow_expiry(late.state, reviewer(late), "R1", "INV-P-21", "why")),
              "no standard of run R1 with the certificate \"INV-P-21\" had expired");
    EXPECT_EQ(late.does(allow_expiry(late.state, reviewer(late), "R1", "INV-M-17", "came back late")), "");
    EXPECT_TRUE(lacking_for_certificate(late.state, {"R1"}, name_of(late)).empty());
    EXPECT_NE(late.does(allow_expiry(late.state, reviewer(late), "R1", "INV-M-17", "again")), "");
}

TEST(Certificates, AnUnbracketedMarkCountsOnceAReviewerAcceptedIt) {
    World world = World::at_first(StepKind::raise, office_bench_text());
    ASSERT_EQ(world.confirm("low"), "");
    world.still(0);
    ASSERT_EQ(world.take_mark(0), "");
    EXPECT_EQ(world.does(accept_mark(world.state, reviewer(world), 1, "seen on the camera")),
              "mark 1 is provisional; only an unbracketed mark is accepted");
    // The service was away: nobody saw whether the piston went on floating.
    world.happen(FloatUnknown{world.interval().number});
    ASSERT_EQ(world.mark(1).status, MarkStatus::unbracketed);
    EXPECT_FALSE(world.mark(1).counts());
    const auto rows_that_count = [&world] {
        const auto all = evaluate_run(world.state, world.run(), 0).observations;
        return std::count_if(all.begin(), all.end(), [](const auto& one) { return one.left_out.empty(); });
    };
    EXPECT_EQ(rows_that_count(), 0);
    EXPECT_EQ(world.does(accept_mark(world.state, world.press(), 1, "I saw it")),
              "invented person worked at run R1; a reviewer who did not accepts its marks");
    EXPECT_EQ(world.does(accept_mark(world.state, reviewer(world), 1, "")),
              "a reason is missing; say why the mark may count without a second sighting");
    EXPECT_EQ(world.does(accept_mark(world.state, reviewer(world), 1, "seen on the camera")), "");
    EXPECT_TRUE(world.mark(1).counts());
    EXPECT_EQ(world.mark(1).accepted_by, "invented reviewer");
    EXPECT_EQ(rows_that_count(), 1);
    EXPECT_NE(world.does(accept_mark(world.state, reviewer(world), 1, "again")).find("accepted already"),
              std::string::npos);
    // A void is stronger than an acceptance.
    ASSERT_EQ(world.void_mark(1), "");
    EXPECT_FALSE(world.mark(1).counts());
    EXPECT_EQ(rows_that_count(), 0);
}

TEST(Certificates, AnUnbracketedMarkThatNobodyDecidedOnStopsASignature) {
    World world = World::at_first(StepKind::raise, office_bench_text());
    ASSERT_EQ(world.confirm("low"), "");
    world.still(0);
    ASSERT_EQ(world.take_mark(0), "");
    world.happen(FloatUnknown{world.interval().number});
    ASSERT_EQ(world.does(stop_run(world.state, world.press(), "invented reason")), "");
    ASSERT_EQ(state_customer(world), "");
    const auto lacking = lacking_words(world);
    ASSERT_FALSE(lacking.empty());
    EXPECT_NE(lacking[0].find("mark 1 ("), std::string::npos);
    EXPECT_NE(lacking[0].find("is unbracketed: a reviewer accepts it with a reason"), std::string::npos);
    ASSERT_EQ(world.does(accept_mark(world.state, reviewer(world), 1, "seen on the camera")), "");
    EXPECT_TRUE(lacking_for_certificate(world.state, {"R1"}, name_of(world)).empty());
}

TEST(Particulars, TheLatestOfEachCountsAndOneInstrumentsStandAboveAll) {
    World world = worked();
    ParticularsStated what;
    what.run = "R1";
    what.customer = "Invented Works";
    what.order = "INV-77";
    ASSERT_EQ(world.does(state_particulars(world.state, world.press(), what)), "");
    ParticularsStated own;
    own.run = "R1";
    own.instrument = name_of(world);
    own.order = "INV-78";
    own.customer_address = std::vector<std::string>{"a", "b"};
    ASSERT_EQ(world.does(state_particulars(world.state, world.press(), own)), "");
    const auto all = particulars_of(world.state, "R1", name_of(world));
    EXPECT_EQ(all.customer, "Invented Works");
    EXPECT_EQ(all.order, "INV-78");
    EXPECT_EQ(all.customer_address.size(), 2U);
    EXPECT_EQ(particulars_of(world.state, "R1", "another").order, "INV-77");
    EXPECT_EQ(particulars_of(world.state, "R2", name_of(world)).order, "");
}

TEST(Particulars, WhatCannotBeIsRefused) {
    World world = worked();
    const auto said = [&world](auto change) {
        ParticularsStated what;
        what.run = "R1";
        change(what);
        return world.does(state_particulars(world.state, world.press(), what));
    };
    EXPECT_EQ(said([](auto&) {}), "nothing is stated; give at least one, for example the customer");
    EXPECT_EQ(said([](auto& one) { one.run = "R7"; }), "there is no run \"R7\"; see the list of runs");
    EXPECT_NE(said([](auto& one) { one.received = "yesterday"; }).find("is no date"), std::string::npos);
    EXPECT_NE(said([](auto& one) { one.customer_country = "de"; }).find("is no country code"), std::string::npos);
    EXPECT_NE(said([](auto& one) { one.remark = std::string(2001, 'x'); }).find("longer than 2000 bytes"),
              std::string::npos);
    EXPECT_EQ(said([](auto& one) { one.remark = std::string(2000, 'x'); }), "");
}

TEST(Hands, AreThoseWhoPressedAndThoseWhoWereNamed) {
    World world = worked();
    EXPECT_EQ(hands_of(world.state, world.run()), std::vector<std::string>{"invented person"});
    ParticularsStated what;
    what.run = "R1";
    what.worked_by = "invented helper";
    ASSERT_EQ(world.does(state_particulars(world.state, reviewer(world), what)), "");
    EXPECT_EQ(hands_of(world.state, world.run()), (std::vector<std::string>{"invented person", "invented helper"}));
}

} // namespace
} // namespace stillmark::bench::testing
