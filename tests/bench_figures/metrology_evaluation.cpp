// How long the evaluation of 1 000 instruments takes, each of two cycles over eleven points with an uncertainty, a
// line, two polynomials, linearity and a verdict at every point. The claim: under one second.
#include "daemon/metrology/evaluation/evaluation.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <random>
#include <time.h>
#include <vector>

namespace {

using namespace stillmark::metrology;

constexpr int instruments = 1000;
constexpr int series = 4;
constexpr int points = 9;
constexpr int rounds = 5;
constexpr double most_s = 1;

double cpu_s() {
    timespec now{};
    ::clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
    return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

/// An invented transmitter of 100 bar: offset, slope, bend, hysteresis and noise of its own.
std::vector<Observation> invented_instrument(std::mt19937_64& random) {
    std::normal_distribution<double> normal;
    const double offset = 0.02 * normal(random), slope = 2e-4 * normal(random), bend = 0.02 * normal(random);
    std::vector<Observation> rows;
    for (int pass = 1; pass <= series; ++pass)
        for (int i = 0; i < points; ++i) {
            Observation one;
            one.series = pass;
            one.rising = pass % 2 == 1;
            const double part = static_cast<double>(one.rising ? i : points - 1 - i) / (points - 1);
            one.reference = 100 * part;
            one.reading = one.reference + offset + slope * one.reference + bend * part * (1 - part) +
                          (one.rising ? 0 : 0.02 * part * (1 - part)) + 0.002 * normal(random);
            one.u_reference = 0.001 + 2e-5 * one.reference;
            one.u_mean = 0.001;
            rows.push_back(one);
        }
    return rows;
}

EvaluationSettings settings_of(Rule rule) {
    EvaluationSettings settings;
    settings.method = method_named("DKD-R 6-1 B");
    settings.roles.assign(series, SeriesRole::cycle);
    settings.resolution = 0.001;
    settings.span_low = 0;
    settings.span_high = 100;
    settings.permissible = PermissibleError{{{PermissibleTerm::Kind::of_span, 0.001, 0}}, false, {}};
    settings.decision = DecisionRule{rule, 1, false, 0.02, Process{0, 0.05}};
    return settings;
}

} // namespace

int main() {
    std::mt19937_64 random(3);
    std::vector<std::vector<Observation>> all;
    all.reserve(instruments);
    for (int i = 0; i < instruments; ++i)
        all.push_back(invented_instrument(random));
    int status = 0;
    for (const auto& [name, rule] : {std::pair{"simple acceptance", Rule::simple_acceptance},
                                     {"guard band", Rule::guard_band},
                                     {"specific risk", Rule::specific_risk},
                                     {"global risk", Rule::global_risk}}) {
        const auto settings = settings_of(rule);
        std::vector<double> spent;
        int passed = 0;
        for (int round = 0; round < rounds; ++round) {
            passed = 0;
            const double begin = cpu_s();
            for (const auto& rows : all)
                passed += evaluate(rows, settings).verdict == Verdict::pass ? 1 : 0;
            spent.push_back(cpu_s() - begin);
        }
        std::sort(spent.begin(), spent.end());
        fmt::print("{} instruments, {} series of {} points, {}: {:.3f} s ({:.3f} to {:.3f}), {} pass\n", instruments,
                   series, points, name, spent[rounds / 2], spent.front(), spent.back(), passed);
        if (spent[rounds / 2] > most_s) status = 1;
    }
    fmt::print("{}: each under {} s\n", status == 0 ? "held" : "NOT HELD", most_s);
    return status;
}
