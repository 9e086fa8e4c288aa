#include "daemon/bench/event.hpp"

#include <gtest/gtest.h>

#include <bit>
#include <cmath>
#include <limits>
#include <random>
#include <set>
#include <string>
#include <type_traits>

namespace stillmark::bench {
namespace {

// Every fact of the variant, with every field away from its default.
std::vector<Fact> every_fact() {
    MarkTaken mark;
    mark.mark = 7, mark.run = "R1", mark.channel = 2, mark.visit = 3, mark.interval = 4, mark.first = 5, mark.last = 6;
    mark.from_us = 7, mark.to_us = 8, mark.timing_us = 9, mark.count = 10, mark.mean_pa = 1.1e7,
    mark.slope_pa_per_s = -0.1;
    mark.scatter_pa = 12.3, mark.effective_count = 11.5, mark.u_mean_pa = 3.3, mark.u_mean_dof = 10.5;
    mark.resolution_pa = 100, mark.untapped_pa = 1e6 / 3, mark.tapped_pa = 2e6 / 3, mark.reference_pa = 1.1e7 / 3;
    mark.at_balance_pa = 1.0e7 / 3, mark.u_reference_pa = 0.1 + 0.2,
    mark.u_reference_dof = std::numeric_limits<double>::infinity();
    mark.u_pa = 5e-324, mark.u_dof = std::numeric_limits<double>::infinity(), mark.deviation_pa = -0.0;
    mark.approach_from = 11, mark.approach_pa = 1.7976931348623157e308,
    mark.flags = {"approached from above", "\u00e9\"\\\n"};
    mark.vented = true;
    return {
        ServiceStarted{"boot", 1, "build", "compiler", "libm", "processor"},
        ServiceStopped{"asked to stop"},
        ClockAnchored{-5},
        BenchTaken{
            "/a bench.json", "0123", "{ // text\n}", {{"a.json", "{}"}, {"b.json", "\t"}}, {{"s", {{"A1", "B1"}, {}}}}},
        ReadingsRefused{65536},
        SurroundingsStated{21.5, 96800.0, 0.45, 21.3, "person"},
        SurroundingsStated{{}, {}, 0.45, {}, ""},
        RunStarted{"R1", "demo", "as found", {"a", "b"}, "person"},
        RunStarted{"R1", "demo", "as found", {}, "person", "reason"},
        RunStopped{"R1", "reason", "person"},
        RunFinished{"R1"},
        StepDone{12, "person"},
        WaitElapsed{13},
        VisitReopened{3, "person"},
        LoadStated{"low", {"A1", "B1"}, "person", 14},
        LoadStated{"low", {}, "", 14},
        FloatConfirmed{"high", "person", 15},
        FloatSighted{false, "person", 16},
        FloatLost{"person", 17},
        FloatExpired{18},
        FloatUnknown{19},
        PressUndone{"person"},
        StillnessChanged{1, acquisition::Stillness::faulty, 20},
        WindowFailed{1, 21, 22, "the drift bound"},
        ReadingEntered{3, 1.0e7, 1.01e7, "person", 23, 24},
        OvershootSeen{1, 25, 1.2e7, 1.1e7},
        RatingExceeded{1, 26, 1.1e8},
        RatingRestored{1},
        LossSuspected{27, {}, {}},
        LossSuspected{27, -120.5, std::vector<std::string>{"a leak", "another"}},
        WrongLoadSuspected{27, -1e5, 2e4, 3, {"disc A1 is missing", "none"}},
        HealthStated{"low", "fall rate", 1e-5, 4e6, "person", 28, 29},
        mark,
        MarkVoided{7, "reason", "person"},
        LineVented{"person", 28},
        CheckBegun{4, "person", 29},
        CheckRecorded{"R1", 4, "leak", "", 1200.5, {}, "Pa", false, "fell", 30, 31, "person"},
        CheckWaived{"R1", 4, "leak", "because", "person"},
        ReadingsOverruled{
            "R1", 4, "confirm", "A shows 0 bar", {"A", "B"}, {0, 1.5}, {1e6, 1e6}, {2e4, 3e4}, "why", "person"},
        ParticularsStated{"R1", "gauge", "customer", std::vector<std::string>{"street", "town"}, "DE", "a@b.invalid",
                          "order", "2026-01-15", "elsewhere", "clean", "upright", "remark", "worker", "person"},
        ParticularsStated{"R1", "", {}, {}, {}, {}, "", {}, {}, {}, {}, {}, {}, "person"},
        MarkAccepted{7, "reason", "reviewer", true},
        ExpiryAllowed{"R1", "INV-M-17", "reason", "administrator", true},
        GateOverridden{"R1", "gauge", "wrong_approach", "7", "reason", "reviewer", true, 35},
        CertificateDrafted{
            "INV-2026-0001", 2, {"R1", "R2"}, "gauge", "de", "INV-2025-0009", "why", "00ff", "person", true, 32},
        CertificateSigned{"INV-2026-0001", 2, "reviewer", true, 33, "0a", "0b", 34, "0c", "0d"},
    };
}

TEST(EventText, EveryFactComesBackAsItself) {
    std::set<std::size_t> kinds;
    for (const Fact& fact : every_fact()) {
        const std::string text = to_text(fact);
        std::string why;
        const auto again = fact_from_text(text, why);
        ASSERT_TRUE(again) << text << ": " << why;
        EXPECT_EQ(again->index(), fact.index()) << text;
        EXPECT_EQ(to_text(*again), text);
        kinds.insert(fact.index());
    }
    EXPECT_EQ(kinds.size(), std::variant_size_v<Fact>) << "a fact is missing in this test";
}

TEST(EventText, FieldsOfAMarkComeBackWhereTheyStood) {
    const auto facts = every_fact();
    std::string why;
    for (const Fact& fact : facts) {
        const auto* mark = std::get_if<MarkTaken>(&fact);
        if (mark == nullptr) continue;
        const auto again = std::get<MarkTaken>(*fact_from_text(to_text(fact), why));
        EXPECT_EQ(again.run, "R1");
        EXPECT_EQ(std::tuple(again.mark, again.channel, again.visit, again.interval, again.first, again.last,
                             again.from_us, again.to_us, again.timing_us, again.count, again.approach_from),
                  std::tuple(7, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11));
        EXPECT_EQ(
            std::tuple(again.mean_pa, again.slope_pa_per_s, again.scatter_pa, again.effective_count, again.u_mean_pa,
                       again.u_mean_dof, again.resolution_pa, again.untapped_pa, again.tapped_pa, again.reference_pa,
                       again.at_balance_pa, again.u_reference_pa, again.u_pa, again.approach_pa),
            std::tuple(mark->mean_pa, mark->slope_pa_per_s, mark->scatter_pa, mark->effective_count, mark->u_mean_pa,
                       mark->u_mean_dof, mark->resolution_pa, mark->untapped_pa, mark->tapped_pa, mark->reference_pa,
                       mark->at_balance_pa, mark->u_reference_pa, mark->u_pa, mark->approach_pa));
        EXPECT_TRUE(std::isinf(again.u_reference_dof) && again.u_reference_dof > 0);
        EXPECT_TRUE(std::signbit(again.deviation_pa));
        EXPECT_EQ(again.flags, mark->flags);
    }
}

// A journal that gave back another double than the one that was decided with would replay to another result.
TEST(EventText, DoublesComeBackToTheLastBit) {
    std::mt19937_64 draw(20240607);
    for (int i = 0; i < 20000; ++i) {
        const double value = std::bit_cast<double>(draw());
        std::string why;
        const auto text = to_text(OvershootSeen{0, 0, value, -value});
        const auto again = fact_from_text(text, why);
        ASSERT_TRUE(again) << text;
        const auto& fact = std::get<OvershootSeen>(*again);
        if (std::isnan(value)) {
            EXPECT_TRUE(std::isnan(fact.value_pa)) << text;
            continue;
        }
        ASSERT_EQ(std::bit_cast<std::uint64_t>(fact.value_pa), std::bit_cast<std::uint64_t>(value)) << text;
        ASSERT_EQ(std::bit_cast<std::uint64_t>(fact.limit_pa), std::bit_cast<std::uint64_t>(-value)) << text;
    }
}

TEST(EventText, IsSortedAndShort) {
    EXPECT_EQ(to_text(FloatConfirmed{"low", "Ada", 12}),
              R"({"by":"Ada","fact":"FloatConfirmed","pressed_us":12,"range":"low"})");
    EXPECT_EQ(to_text(RatingExceeded{1, 2, std::numeric_limits<double>::infinity()}),
              R"({"channel":1,"fact":"RatingExceeded","reading":2,"value_pa":"inf"})");
    EXPECT_EQ(to_text(RatingExceeded{1, 2, 0.1}),
              R"({"channel":1,"fact":"RatingExceeded","reading":2,"value_pa":0.1})");
}

struct Wrong {
    const char* text;
    const char* why;
};
TEST(EventText, WhatIsNoFactIsRefusedWithTheReason) {
    for (const Wrong& one :
         {Wrong{"", "is not a fact"}, Wrong{"[]", "is not a fact"}, Wrong{"{}", "is not a fact"},
          Wrong{R"({"fact":5})", "is not a fact"},
          Wrong{R"({"fact":"PistonPolished"})", "\"PistonPolished\" is no fact that this build knows"},
          Wrong{R"({"fact":"FloatExpired"})", "FloatExpired: \"interval\" is missing or of another kind"},
          Wrong{R"({"fact":"FloatExpired","interval":"4"})",
                "FloatExpired: \"interval\" is missing or of another kind"},
          Wrong{R"({"fact":"FloatExpired","interval":4.5})",
                "FloatExpired: \"interval\" is missing or of another kind"},
          Wrong{R"({"fact":"StillnessChanged","channel":0,"reading":1,"to":"sleeping"})",
                "StillnessChanged: \"to\" is missing or of another kind"},
          Wrong{R"({"fact":"LoadStated","by":"","pressed_us":1,"range":"low","discs":["A1",2]})",
                "LoadStated: \"discs\" is missing or of another kind"},
          Wrong{R"({"fact":"SurroundingsStated","by":"","humidity":"wet"})",
                "SurroundingsStated: \"humidity\" is missing or of another kind"},
          Wrong{R"({"fact":"RatingExceeded","channel":0,"reading":1,"value_pa":null})",
                "RatingExceeded: \"value_pa\" is missing or of another kind"}}) {
        std::string why;
        EXPECT_FALSE(fact_from_text(one.text, why)) << one.text;
        EXPECT_EQ(why, one.why) << one.text;
    }
}

} // namespace
} // namespace stillmark::bench
