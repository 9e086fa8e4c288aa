#include "bench/world.hpp"
#include "daemon/bench/certificates.hpp"
#include "daemon/bench/gates.hpp"
#include "daemon/bench/health.hpp"

#include <gtest/gtest.h>

#include <algorithm>

namespace stillmark::bench::testing {
namespace {

constexpr Micros day_us = 86'400'000'000;

/// What a certificate needs, beside the customer.
std::string bench_text() {
    return small_bench_text({{R"("laboratory": "Invented Pressure Laboratory, Nowhere",)",
                              R"("laboratory": "Invented Pressure Laboratory, Nowhere",
  "records": {"address": ["Street of Nothing 1"], "country": "DE", "numbering": "INV-{year}-{count}"},
  "standards": [
    {"what": "balance", "certificate": "INV-P-21", "issued": "2023-01-01", "valid_until": "2030-12-31"},
    {"what": "discs", "certificate": "INV-M-17", "issued": "2023-01-01", "valid_until": "2030-12-31"}
  ],)"}});
}

void work_to_end(World& world) {
    for (int i = 0; i < 500 && world.state.running() != nullptr; ++i) {
        world.work_one_step();
        if (world.state.running() != nullptr && world.run().now() == nullptr) world.pass(1);
    }
    EXPECT_EQ(world.run().end, RunEnd::finished);
}

std::string state_customer(World& world, const std::string& run, const std::string& name = "Invented Works",
                           std::vector<std::string> address = {"Customer Lane 2"}) {
    ParticularsStated what;
    what.run = run;
    what.customer = name;
    what.customer_address = std::move(address);
    return world.does(state_particulars(world.state, world.press(), what));
}

/// One finished run of transmitter A for a stated customer.
World worked(const std::string& text = bench_text()) {
    World world(text);
    EXPECT_EQ(world.start({"transmitter A"}), "");
    work_to_end(world);
    EXPECT_EQ(state_customer(world, "R1"), "");
    return world;
}

Press reviewer(const World& world) {
    return {world.now_us, world.now_us, "invented reviewer", true};
}

std::vector<Gate> lacking(const World& world, const std::vector<std::string>& runs = {"R1"}) {
    return lacking_for_certificate(world.state, runs, "transmitter A");
}

std::vector<std::string> codes(const std::vector<Gate>& gates) {
    std::vector<std::string> words;
    for (const Gate& gate : gates)
        words.emplace_back(word(gate.code));
    return words;
}

CertificateDrafted drafted(World& world, const std::vector<std::string>& runs = {"R1"}) {
    return world.drafted({runs, "transmitter A", "en", "", ""});
}

std::string overrides(World& world, const OverrideRequest& request, const Press& press) {
    const auto* draft = certificate_numbered(world.state, request.certificate);
    return world.does(
        override_gate(world.state, press, request,
                      draft != nullptr ? gates_before_signature(world.state, draft->draft.runs, draft->draft.instrument)
                                       : std::vector<Gate>{}));
}

/// The first mark that counts and is no zero.
Mark& counting_mark(World& world) {
    return *std::find_if(world.state.marks.begin(), world.state.marks.end(),
                         [](const Mark& one) { return one.status == MarkStatus::sighted; });
}

TEST(Gates, AFinishedRunWithItsCustomerHasNone) {
    World world = worked();
    EXPECT_EQ(codes(lacking(world)), std::vector<std::string>{});
}

TEST(Gates, ACustomerHasAnAddress) {
    World world = worked();
    ASSERT_EQ(state_customer(world, "R1", "Invented Works", {}), "");
    ASSERT_EQ(codes(lacking(world)), std::vector<std::string>{"customer_address_not_stated"});
    ASSERT_EQ(state_customer(world, "R1", "Invented Works", {"", ""}), "");
    ASSERT_EQ(codes(lacking(world)), std::vector<std::string>{"customer_address_not_stated"});
    EXPECT_FALSE(lacking(world).front().overridable);
    ASSERT_EQ(state_customer(world, "R1", "", {"Customer Lane 2"}), "");
    EXPECT_EQ(codes(lacking(world)), std::vector<std::string>{"customer_not_stated"});
    const auto draft = drafted(world);
    EXPECT_EQ(overrides(world, {draft.certificate, "", "customer_not_stated", "", "why not"}, reviewer(world)),
              "\"customer_not_stated\" cannot be overridden: the customer of run R1 is not stated: stillmark "
              "particulars R1 --customer NAME");
}

TEST(Gates, TwoRunsAreForOneCustomer) {
    World world = worked();
    EXPECT_EQ(world.does(start_run(world.state, world.press(), "short", "as left", {"transmitter A"})), "");
    work_to_end(world);
    ASSERT_EQ(state_customer(world, "R2"), "");
    EXPECT_EQ(codes(lacking(world, {"R1", "R2"})), std::vector<std::string>{});
    for (const auto& [name, line] : {std::pair{"Other Works", "Customer Lane 2"}, {"Invented Works", "Lane 3"}}) {
        ASSERT_EQ(state_customer(world, "R2", name, {line}), "");
        const auto gates = lacking(world, {"R1", "R2"});
        ASSERT_EQ(codes(gates), std::vector<std::string>{"customers_differ"});
        EXPECT_FALSE(gates[0].overridable);
        EXPECT_EQ(gates[0].run, "R2");
        EXPECT_NE(english(gates[0]).find(name), std::string::npos);
        EXPECT_EQ(codes(lacking(world, {"R2"})), std::vector<std::string>{});
    }
}

TEST(Gates, AReadingReachedFromTheWrongSideIsOverriddenByName) {
    World world = worked();
    Mark& mark = counting_mark(world);
    mark.taken.flags = {"approached from above"};
    const auto number = std::to_string(mark.taken.mark);
    const auto gates = lacking(world);
    ASSERT_EQ(codes(gates), std::vector<std::string>{"wrong_approach"});
    EXPECT_EQ(gates[0].subject, number);
    EXPECT_TRUE(gates[0].overridable);
    const auto draft = drafted(world);
    EXPECT_EQ(world.sign(draft), english(gates[0]));

    const OverrideRequest request{draft.certificate, "R1", "wrong_approach", number, "0.1 bar is no matter"};
    auto changed = request;
    changed.reason.clear();
    EXPECT_EQ(overrides(world, changed, reviewer(world)),
              "a reason is missing; say why it may be signed in spite of this");
    changed.reason = std::string(2001, 'x');
    EXPECT_NE(overrides(world, changed, reviewer(world)).find("longer than 2000 bytes"), std::string::npos);
    EXPECT_EQ(overrides(world, request, {world.now_us, world.now_us, ""}), "an override has a name; say who overrides");
    EXPECT_EQ(overrides(world, request, world.press()),
              "invented person worked at run R1; a reviewer who did not overrides its findings");
    EXPECT_NE(overrides(world, request, {world.now_us, world.now_us, "Invented  PERSON"}), "");
    changed = request;
    changed.certificate = "INV-1";
    EXPECT_EQ(overrides(world, changed, reviewer(world)), "there is no draft \"INV-1\"; see the list of certificates");
    changed = request;
    changed.subject = "999";
    EXPECT_EQ(overrides(world, changed, reviewer(world)),
              "certificate INV-2023-0001 has no finding \"wrong_approach\" of \"999\"; see what its list names");
    EXPECT_EQ(overrides(world, request, reviewer(world)), "");
    EXPECT_EQ(overrides(world, request, reviewer(world)),
              "\"wrong_approach\" of \"" + number + "\" is overridden already, by invented reviewer");
    EXPECT_EQ(codes(lacking(world)), std::vector<std::string>{});
    ASSERT_EQ(gates_before_signature(world.state, {"R1"}, "transmitter A").size(), 1U);

    // Another reading of the same kind is another finding.
    auto& other = *std::find_if(world.state.marks.rbegin(), world.state.marks.rend(),
                                [](const Mark& one) { return one.status == MarkStatus::sighted; });
    ASSERT_NE(other.taken.mark, mark.taken.mark);
    other.taken.flags = {"approached from below"};
    ASSERT_EQ(codes(lacking(world)), std::vector<std::string>{"wrong_approach"});
    EXPECT_EQ(lacking(world)[0].subject, std::to_string(other.taken.mark));
    // One that does not count holds nothing.
    ASSERT_EQ(world.void_mark(other.taken.mark), "");
    EXPECT_EQ(codes(lacking(world)), std::vector<std::string>{});
    EXPECT_EQ(world.sign(drafted(world)), "");
    EXPECT_NE(overrides(world, request, reviewer(world)).find("is signed already"), std::string::npos);
}

TEST(Gates, AnOverrideIsOfOneInstrument) {
    World world = worked();
    counting_mark(world).taken.flags = {"approached from above"};
    const Gate gate = lacking(world).front();
    world.happen(GateOverridden{"R1", "transmitter B", "wrong_approach", gate.subject, "why", "reviewer", true, 0});
    EXPECT_EQ(codes(lacking(world)), std::vector<std::string>{"wrong_approach"});
    world.happen(GateOverridden{"R1", "transmitter A", "wrong_approach", gate.subject, "why", "reviewer", true, 0});
    EXPECT_EQ(codes(lacking(world)), std::vector<std::string>{});
}

/// The fall rate of the low range, stated as 0.6 mm/min: twice that is poor.
HealthStated fall_rate(double times, Micros utc_us) {
    return {"low", "fall rate", times * 0.6e-3 / 60, 11e6, "invented person", 0, utc_us};
}

TEST(Gates, ARangeInPoorHealthHoldsTheSignature) {
    World world = worked();
    const Micros began = world.run().started_utc_us, ended = world.run().ended_utc_us;
    const auto with = [&world](const std::vector<HealthStated>& entries) {
        world.state.health = entries;
        return codes(lacking(world));
    };
    const std::vector<std::string> none{}, poor{"range_in_poor_health"};
    EXPECT_EQ(with({fall_rate(1, began - day_us)}), none);
    ASSERT_EQ(with({fall_rate(2, began - day_us)}), poor);
    EXPECT_EQ(lacking(world)[0].subject, "1");
    EXPECT_TRUE(lacking(world)[0].overridable);
    // Found good again before the run.
    EXPECT_EQ(with({fall_rate(2, began - day_us), fall_rate(1, began - 1)}), none);
    EXPECT_EQ(with({fall_rate(1, began - day_us), fall_rate(2, began + 1)}), poor);
    EXPECT_EQ(with({fall_rate(1, began - day_us), fall_rate(2, ended + 1)}), none);
    // Another sign does not make it good.
    EXPECT_EQ(with({fall_rate(2, began - day_us), {"low", "spin time", 240, 0, "", 0, began - 1}}), poor);
    // A range that the run did not use.
    auto other = fall_rate(9, began - day_us);
    other.range = "middle";
    EXPECT_EQ(with({other}), none);
    // The bench file of the run decides, not a later one.
    auto later = std::make_shared<BenchFile>(*world.state.bench);
    later->balance.ranges[0].fall_rate_m_per_s = 1;
    world.state.bench = later;
    EXPECT_EQ(with({fall_rate(2, began - day_us)}), poor);
}

TEST(Gates, AnOverrideIsNoWorkAtTheBalance) {
    World world = World::at_first(StepKind::raise, bench_text());
    world.happen(GateOverridden{"R1", "transmitter A", "wrong_approach", "1", "why", "invented reviewer", true, 0});
    EXPECT_FALSE(world.run().hands.contains("invented reviewer"));
}

} // namespace
} // namespace stillmark::bench::testing
