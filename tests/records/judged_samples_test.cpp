// Writes the documents of invented instruments under each decision rule, for the program that recomputes their verdicts
// from the printed figures (recomputed_verdicts_test.py). Without a folder in STILLMARK_SAMPLES they go to one of the
// test's own, and only a few of them.
#include "daemon/records/basis_figures.hpp"
#include "daemon/records/content.hpp"
#include "daemon/records/digital/digital.hpp"
#include "daemon/records/print/print.hpp"
#include "daemon/records/tables.hpp"
#include "records/sample.hpp"

#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <random>

namespace stillmark::records {
namespace {

using metrology::ByRatio;
using metrology::DecisionRule;
using metrology::EvaluationSettings;
using metrology::Observation;
using metrology::Rule;

using Random = std::mt19937_64;

double between(Random& random, double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random);
}
double any_of(Random& random, std::initializer_list<double> values) {
    return values.begin()[std::uniform_int_distribution<std::size_t>(0, values.size() - 1)(random)];
}

/// Each rule, with figures of its own.
std::vector<DecisionRule> rules(Random& random, double permissible) {
    const metrology::Process process{permissible * between(random, -0.2, 0.2), permissible * between(random, 0.3, 0.7)};
    return {
        {Rule::simple_acceptance},
        {Rule::guard_band, any_of(random, {1, 0.83, 1.5, 0.25})},
        {Rule::guard_band, 1, true},
        {Rule::guard_band, 1, false, 0.05, {}, ByRatio::root_sum_of_squares},
        {Rule::guard_band, 1, false, 0.05, {}, ByRatio::whole_u},
        {Rule::guard_band, 1, false, 0.05, {}, ByRatio::from_four},
        {Rule::guard_band, 1, false, 0.05, {}, ByRatio::managed_risk},
        {Rule::specific_risk, 1, false, any_of(random, {0.05, 0.025, 0.01})},
        {Rule::global_risk, 1, false, any_of(random, {0.02, 0.005}), process},
        {Rule::uncertainty_ratio, 1, false, 0.05, {}, {}, any_of(random, {4, 3})},
    };
}

/// A gauge of 5 points up and down whose deviations crowd about the limits of the rules: where figures are rounded,
/// that is where a verdict would not follow from them.
struct Invented {
    std::vector<Observation> observations;
    EvaluationSettings settings;
    double permissible = 1;
    double scale = 1;
};

Invented invent(Random& random) {
    Invented one;
    const double top = any_of(random, {1e5, 16e5, 400e5, 1000e5});
    one.scale = any_of(random, {1e-5, 1e-3, 1 / 6894.757});
    one.permissible = top * any_of(random, {0.0005, 0.001, 0.005, 0.016});
    const double u = one.permissible * between(random, 0.05, 0.6), dof = any_of(random, {2.7, 5, 11.3, 40, INFINITY});
    const double capability = between(random, 0, 1) < 0.3 ? 2 * u * between(random, 0.6, 1.6) : 0;
    const bool vacuum = between(random, 0, 1) < 0.2;
    for (int series = 1; series <= 2; ++series)
        for (int i = 0; i < 5; ++i) {
            Observation at;
            at.series = series;
            at.rising = series == 1;
            const int step = at.rising ? i : 4 - i;
            at.reference = vacuum ? top * (step - 2) / 20 : top * step / 4;
            at.target = std::to_string(step);
            at.vented = false;
            at.u_reference = u;
            at.dof_reference = dof;
            const double k = metrology::ConformityBasis{}.k;
            const double limits[] = {one.permissible, one.permissible - k * u, one.permissible - 0.83 * k * u,
                                     one.permissible - 1.645 * u, one.permissible * between(random, 0, 1.5)};
            const double limit = limits[std::uniform_int_distribution<std::size_t>(0, 4)(random)];
            const double off = limit * (1 + between(random, -1, 1) * any_of(random, {1e-1, 1e-2, 1e-3, 1e-4}));
            at.reading = at.reference + (between(random, 0, 1) < 0.5 ? off : -off);
            one.observations.push_back(at);
        }
    one.settings.resolution = one.permissible / 50;
    one.settings.zeros_are_marked = true;
    one.settings.span_low = vacuum ? -top / 10 : 0;
    one.settings.span_high = top;
    one.settings.permissible =
        metrology::PermissibleError{{{metrology::PermissibleTerm::Kind::absolute, one.permissible, 0}},
                                    false,
                                    {},
                                    false,
                                    metrology::as_it_is("invented")};
    if (capability > 0) one.settings.capability = [capability](double p) { return p < 0 ? 0.0 : capability; };
    return one;
}

Certificate judged(const Invented& instrument, const DecisionRule& rule, std::size_t number) {
    Certificate certificate = sample::signed_certificate(0);
    certificate.number = "INV-" + std::to_string(number);
    certificate.unit = {"u", 1 / instrument.scale, fmt::format("{:.9g}", 1 / instrument.scale)};
    EvaluationSettings settings = instrument.settings;
    settings.decision = rule;
    const auto evaluation = metrology::evaluate(instrument.observations, settings);
    Results& results = certificate.results[0];
    results.decision = rule_in_unit(evaluation.decision, instrument.scale);
    results.decision_words = metrology::words(*results.decision);
    for (const auto& point : evaluation.points)
        results.points.push_back(
            summary_of(point, results.decision, instrument.scale, instrument.permissible * instrument.scale / 100));
    results.verdict = evaluation.verdict;
    return certificate;
}

void write(const std::filesystem::path& path, const std::string& bytes) {
    std::ofstream file(path, std::ios::binary);
    file << bytes;
    ASSERT_TRUE(file.flush()) << path;
}

TEST(JudgedSamples, AreWritten) {
    const char* const given = std::getenv("STILLMARK_SAMPLES");
    const std::filesystem::path folder =
        given != nullptr ? std::filesystem::path(given) : std::filesystem::path(::testing::TempDir()) / "judged";
    std::filesystem::create_directories(folder);
    const int instruments = given != nullptr ? 200 : 2, printed = given != nullptr ? 3 : 0;
    constexpr std::uint64_t seed = 20261201;
    Random random(seed);
    std::size_t number = 0, further = 0;
    for (int i = 0; i < instruments; ++i) {
        const Invented instrument = invent(random);
        for (const DecisionRule& rule : rules(random, instrument.permissible)) {
            const Certificate certificate = judged(instrument, rule, ++number);
            const auto xml = dcc_xml(certificate);
            ASSERT_TRUE(xml) << xml.error().message;
            const std::string name = fmt::format("{:04}", number);
            write(folder / (name + ".xml"), *xml);
            write(folder / (name + ".csv"), csv_of_points(certificate));
            write(folder / (name + ".json"), json_of(certificate));
            if (i < printed) {
                const auto pdf = pdf_of(certificate, *xml);
                ASSERT_TRUE(pdf) << pdf.error().message;
                write(folder / (name + ".pdf"), *pdf);
            }
            for (const Summary& at : certificate.results[0].points)
                for (const auto* basis : {&at.rising, &at.falling})
                    further += (*basis)->k.text.size() > 4 ? 1U : 0U;
        }
    }
    // Some verdicts hang on more digits than two of the uncertainty.
    if (given != nullptr) {
        EXPECT_GT(further, 20U);
    }
}

} // namespace
} // namespace stillmark::records
