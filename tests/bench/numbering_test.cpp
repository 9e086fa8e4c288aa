#include "bench/world.hpp"
#include "daemon/bench/certificates.hpp"
#include "daemon/bench/numbering.hpp"

#include <gtest/gtest.h>

namespace stillmark::bench::testing {
namespace {

/// A finished run of the small bench, numbered INV-2023-...: the invented clock of these tests stands at 2023-11-14.
World numbered_world() {
    World world(small_bench_text({{R"("laboratory": "Invented Pressure Laboratory, Nowhere",)",
                                   R"("laboratory": "Invented Pressure Laboratory, Nowhere",
  "records": {"address": ["Street of Nothing 1"], "country": "DE", "numbering": "INV-{year}-{count}"},
  "standards": [
    {"what": "balance", "certificate": "INV-P-21", "issued": "2023-01-01", "valid_until": "2030-12-31"},
    {"what": "discs", "certificate": "INV-M-17", "issued": "2023-01-01", "valid_until": "2030-12-31"}
  ],)"}}));
    EXPECT_EQ(world.start({world.state.bench->instruments[0].name}), "");
    for (int i = 0; i < 500 && world.state.running() != nullptr; ++i) {
        world.work_one_step();
        if (world.state.running() != nullptr && world.run().now() == nullptr) world.pass(1);
    }
    EXPECT_EQ(world.run().end, RunEnd::finished);
    ParticularsStated what;
    what.run = "R1";
    what.customer = "Invented Works";
    what.customer_address = std::vector<std::string>{"Customer Lane 2"};
    EXPECT_EQ(world.does(state_particulars(world.state, world.press(), what)), "");
    return world;
}

DraftRequest request_of(const World& world, const std::string& replaces = "") {
    return {{"R1"}, world.state.bench->instruments[0].name, "en", replaces, replaces.empty() ? "" : "invented reason"};
}

std::string objection(const World& world, const DraftRequest& request) {
    const auto draft = next_draft(world.state, world.press(), request);
    return draft ? "" : draft.error().why;
}

TEST(Numbering, ACountIsReadBackOutOfItsNumber) {
    for (const char* series : {"INV-2023-{count}", "{count}", "{count}2023", "{count}-{count}", "A.{count}_b"}) {
        for (const std::int64_t count : {1, 17, 9999, 10000, 999'999'999})
            EXPECT_EQ(count_in(series, number_in(series, count)), count) << series;
        for (const char* other :
             {"", "INV-2023-5", "INV-2023-000x", "INV-2024-0005", "INV-2023-00005", "INV-2023-0005-draft-1",
              "INV-2023-1000000000", "INV-2023-99999999999999999999", "INV-2023-0000", "000"})
            EXPECT_EQ(count_in(series, other), std::nullopt) << series << " " << other;
    }
    EXPECT_EQ(number_in("INV-2023-{count}", 5), "INV-2023-0005");
    RecordSettings settings;
    settings.numbering = "L{year}.{count}.{year}";
    EXPECT_EQ(numbering_series(settings, *utc_us_of_date("2026-01-15")), "L2026.{count}.2026");
}

TEST(Numbering, ANewNumberIsAboveEveryOneThatWasSeenAnywhere) {
    World world = numbered_world();
    auto request = request_of(world);
    EXPECT_EQ(next_draft(world.state, world.press(), request)->certificate, "INV-2023-0001");
    // A journal that is older than its documents knows none of these.
    request.outside.taken = {"INV-2023-0005", "INV-2023-0003", "INV-2022-0040", "OTHER-2023-0090",
                             "INV-2023-9999999999999"};
    EXPECT_EQ(next_draft(world.state, world.press(), request)->certificate, "INV-2023-0006");
    request.outside.taken.insert("INV-2023-999999999");
    EXPECT_NE(objection(world, request).find("no number is left in INV-2023-{count}"), std::string::npos);
}

TEST(Numbering, ADraftThatWasIssuedElsewhereIsNotDraftedOverUnderItsNumber) {
    World world = numbered_world();
    auto request = request_of(world);
    EXPECT_EQ(world.drafted(request).certificate, "INV-2023-0001");
    // Drafted again after the journal that is in use was copied: that edition is not given again either.
    request.outside.taken = {"INV-2023-0001"};
    request.outside.editions = {{"INV-2023-0001", 3}};
    const auto again = next_draft(world.state, world.press(), request);
    EXPECT_EQ(again->certificate, "INV-2023-0001");
    EXPECT_EQ(again->edition, 4);
    // Signed after it was copied: the number is that document's for ever.
    request.outside.issued = {"INV-2023-0001"};
    EXPECT_EQ(next_draft(world.state, world.press(), request)->certificate, "INV-2023-0002");
    EXPECT_EQ(next_draft(world.state, world.press(), request)->edition, 1);
}

TEST(Amendments, OfACertificateAreOneAfterTheOther) {
    World world = numbered_world();
    EXPECT_EQ(world.sign(world.drafted(request_of(world))), "");
    EXPECT_EQ(amendment_of(world.state, "INV-2023-0001"), nullptr);
    const auto second = world.drafted(request_of(world, "INV-2023-0001"));
    EXPECT_EQ(amendment_of(world.state, "INV-2023-0001"), nullptr) << "a draft amends nothing yet";
    EXPECT_EQ(world.drafted(request_of(world, "INV-2023-0001")).edition, 2) << "it is drafted again until it is signed";
    EXPECT_EQ(world.sign(world.state.certificates.back().draft), "");
    ASSERT_NE(amendment_of(world.state, "INV-2023-0001"), nullptr);
    EXPECT_EQ(amendment_of(world.state, "INV-2023-0001")->draft.certificate, second.certificate);

    EXPECT_EQ(objection(world, request_of(world, "INV-2023-0001")),
              "certificate INV-2023-0001 was amended by INV-2023-0002 already; amend INV-2023-0002");
    EXPECT_NE(objection(world, request_of(world)).find("amend INV-2023-0002"), std::string::npos);
    EXPECT_EQ(world.sign(world.drafted(request_of(world, "INV-2023-0002"))), "");
    EXPECT_EQ(objection(world, request_of(world, "INV-2023-0001")),
              "certificate INV-2023-0001 was amended by INV-2023-0002 already; amend INV-2023-0003");
    EXPECT_EQ(objection(world, request_of(world, "INV-2023-0003")), "");
}

TEST(Amendments, OfTwoDraftsThatAmendOneCertificateTheFirstSignedStands) {
    World world = numbered_world();
    EXPECT_EQ(world.sign(world.drafted(request_of(world))), "");
    const auto first = world.drafted(request_of(world, "INV-2023-0001"));
    // An older build recorded another draft that amends the same.
    auto other = first;
    other.certificate = "INV-2023-0009";
    world.state.certificates.push_back({other, {}});
    EXPECT_EQ(world.sign(first), "");
    EXPECT_EQ(world.sign(other), "certificate INV-2023-0001 was amended by INV-2023-0002 already; amend INV-2023-0002");
}

} // namespace
} // namespace stillmark::bench::testing
