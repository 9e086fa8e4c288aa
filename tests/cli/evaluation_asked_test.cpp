#include "daemon/cli/evaluation_asked.hpp"

#include <gtest/gtest.h>

namespace stillmark::cli {
namespace {

metrology::Evaluation line_of_an_output(const EvaluateSettings& settings) {
    std::vector<metrology::Observation> rows;
    for (int i = 0; i <= 4; ++i) {
        metrology::Observation row;
        row.reference = 2.5 * i;
        row.reading = row.reference + (i % 2 == 0 ? 0.001 : -0.001);
        rows.push_back(row);
    }
    return metrology::evaluate(rows, settings.use);
}

EvaluateSettings current_loop() {
    EvaluateSettings settings;
    settings.use.span_low = 0;
    settings.use.span_high = 10;
    settings.output = {"mA", 4, 20};
    return settings;
}

TEST(EvaluationAsked, ReadingsOfAnOutputAreAskedInItsUnit) {
    auto settings = current_loop();
    EXPECT_EQ(ask_inverse("12.016:0.016,4", settings), "");
    ASSERT_EQ(settings.inverse.size(), 2U);
    EXPECT_NEAR(settings.inverse[0].reading, 5.01, 1e-12);
    EXPECT_NEAR(*settings.inverse[0].u, 0.01, 1e-12);
    EXPECT_FALSE(settings.inverse[1].u);
    EXPECT_NE(ask_inverse("12.016:-1", settings), "");
}

TEST(EvaluationAsked, AReadingWithoutAnUncertaintyHasThatOfTheFit) {
    auto settings = current_loop();
    ASSERT_EQ(ask_inverse("12", settings), "");
    const auto evaluation = line_of_an_output(settings);
    const Json found = inverse_json(evaluation, settings);
    const Json& line = found.at(0).at("by").at(0);
    EXPECT_DOUBLE_EQ(line.at("reading_u").get<double>(), evaluation.line->curve.residual_sd);
    EXPECT_NEAR(line.at("reference").get<double>(), 5, 0.001);
}

// Where the stated capability is larger than what was worked out, risks go by it as verdicts do.
TEST(EvaluationAsked, RisksGoByTheUncertaintyThatIsReported) {
    auto settings = current_loop();
    settings.use.u_reference = [](double) { return 0.01; };
    settings.use.capability = [](double) { return 0.5; };
    settings.use.permissible =
        metrology::PermissibleError{.terms = {{metrology::PermissibleTerm::Kind::absolute, 1, 0}}};
    settings.risk = {{0, 0.5}, *settings.use.permissible};
    const Json risks = risks_json(line_of_an_output(settings), settings);
    ASSERT_EQ(risks.size(), 5U);
    for (const auto& one : risks)
        EXPECT_NEAR(one.at("u").get<double>(), 0.25, 1e-12);
}

} // namespace
} // namespace stillmark::cli
