#include "daemon/gateway/certificate_claims.hpp"
#include "daemon/gateway/certificate_office.hpp"
#include "decider/desk.hpp"

#include <gtest/gtest.h>

#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace stillmark::gateway::testing {
namespace {

using decider::testing::Desk;
using decider::testing::Folder;
using nlohmann::json;

/// The certificate service beside a deciding thread, with as many stopped runs as asked for.
class Certificates : public ::testing::Test {
  protected:
    explicit Certificates() {
        desk_.reads = false;
        for (int run = 0; run < runs; ++run) {
            EXPECT_EQ(desk_.start_run().kind, decider::Outcome::Kind::recorded);
            EXPECT_EQ(desk_
                          .ask([](const bench::State& state, Micros now) {
                              return bench::stop_run(state, Desk::press(now), "the test needs no marks");
                          })
                          .kind,
                      decider::Outcome::Kind::recorded);
        }
        service_ = std::make_unique<CertificateOffice>(
            desk_.io, *desk_.decider,
            OfficeOptions{folder_ / "records", folder_ / "memory", folder_ / "x.journal", std::nullopt, {}});
    }

    /// Asks for a draft of a run; the reply comes in its own time.
    std::shared_ptr<std::optional<json>> ask(int run) {
        auto said = std::make_shared<std::optional<json>>();
        service_->answer({{"do", "draft"}, {"runs", {"R" + std::to_string(run + 1)}}, {"instrument", "transmitter A"}},
                         [said](json reply) { *said = std::move(reply); });
        return said;
    }
    json wait(const std::shared_ptr<std::optional<json>>& said) {
        EXPECT_TRUE(desk_.until([&said] { return said->has_value(); }, 60)) << "no reply came";
        desk_.pass(0.02); // what the reply left to be given back
        return said->value_or(json::object());
    }

    static constexpr int runs = 12;
    Folder folder_;
    Desk desk_{folder_ / "x.journal"};
    std::unique_ptr<CertificateOffice> service_;
};

TEST_F(Certificates, TwelveDraftsAtOnceLeaveNoneBusyAfterwards) {
    for (int run = 0; run < runs; ++run)
        EXPECT_EQ(wait(ask(run)).value("error", ""), "");
    std::vector<std::shared_ptr<std::optional<json>>> at_once;
    for (int run = 0; run < runs; ++run)
        at_once.push_back(ask(run));
    int refused = 0;
    for (const auto& one : at_once) {
        const json said = wait(one);
        if (said["ok"] == true) continue;
        ++refused;
        EXPECT_EQ(said["error"], "the service is busy with other certificates; ask again in a moment");
    }
    EXPECT_EQ(refused, runs - static_cast<int>(CertificateClaims::most));
    for (int run = 0; run < runs; ++run)
        EXPECT_EQ(wait(ask(run)).value("error", ""), "") << "run " << run + 1;
}

// A refusal of any kind gives its place back, or a few wrong requests would end the service's work.
TEST_F(Certificates, RefusedDraftsGiveTheirPlacesBack) {
    for (std::size_t i = 0; i < 3 * CertificateClaims::most; ++i)
        EXPECT_EQ(wait(ask(runs + 5))["error"], "there is no run \"R18\"; see the list of runs");
    EXPECT_EQ(wait(ask(0)).value("error", ""), "");
}

TEST(CertificateClaims, TheEndOfAClaimGivesBackPlaceAndNumber) {
    CertificateClaims claims;
    {
        std::vector<std::shared_ptr<CertificateClaims::Claim>> all;
        for (std::size_t i = 0; i < CertificateClaims::most; ++i)
            all.push_back(claims.claim());
        EXPECT_TRUE(all.front()->take("INV-1"));
        EXPECT_FALSE(all.back()->take("INV-1"));
        EXPECT_EQ(claims.claim(), nullptr);
        // The one that was refused the number does not take it from the one that has it.
        all.pop_back();
        EXPECT_TRUE(claims.numbers().contains("INV-1"));
        EXPECT_NE(claims.claim(), nullptr);
    }
    EXPECT_TRUE(claims.numbers().empty());
    const auto again = claims.claim();
    ASSERT_NE(again, nullptr);
    EXPECT_TRUE(again->take("INV-1"));
    again->release();
    EXPECT_TRUE(claims.numbers().empty());
}

} // namespace
} // namespace stillmark::gateway::testing
