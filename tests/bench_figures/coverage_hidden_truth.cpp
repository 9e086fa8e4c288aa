// Does the 95 % interval of a deviation hold what it promises? 1 000 runs on the demo bench, each with a hidden truth
// of its own: the simulator's code draws it from the bench's stated distributions, makes the true pressure by its own
// forward model and lets its own gauges read it. The service's code then does what it does for a mark: reference
// pressure with its uncertainty under the STATED surroundings, statistics of the window, combination, t quantile. One
// mark a run, chosen by the run's number before anything is drawn. Counted: how often mean - reference +- U contains
// what the instrument truly deviates.
#include "daemon/acquisition/stillness.hpp"
#include "daemon/bench/bench_file.hpp"
#include "daemon/bench/reference.hpp"
#include "daemon/metrology/mark_uncertainty.hpp"
#include "daemon/metrology/propagation/coverage_factor.hpp"
#include "daemon/metrology/reference_pressure.hpp"
#include "simulator/draw.hpp"
#include "simulator/force_balance.hpp"
#include "simulator/gauge.hpp"
#include "simulator/json_place.hpp"
#include "simulator/truth.hpp"

#include <fmt/format.h>

#include <cmath>
#include <map>
#include <string>
#include <vector>

namespace {

using namespace stillmark;

constexpr std::uint64_t runs = 1'000;
constexpr double coverage = 0.95;
constexpr double least = 0.935;
constexpr double most = 0.965;
constexpr int most_windows = 200;

const std::string source = STILLMARK_SOURCE_DIR;

/// What the instrument truly is: the same limits for all, as the demo's scenario has them.
simulator::GaugeCharacter character_of(const bench::Instrument& instrument, std::uint64_t seed) {
    simulator::Stream dice(seed, "gauge");
    const auto within = [&dice](double limits) { return limits * (2 * dice.uniform() - 1); };
    simulator::GaugeCharacter gauge;
    gauge.span_low_pa = instrument.span_low_pa;
    gauge.span_high_pa = instrument.span_high_pa;
    gauge.zero_pa = within(1e4);
    gauge.span_error = within(2e-4);
    gauge.nonlinearity_pa = within(1e4);
    gauge.hysteresis_pa = std::abs(within(4e3));
    gauge.hysteresis_width_pa = 1e5;
    gauge.noise_pa = 300;
    gauge.conversion_s = 0.01;
    gauge.lag_s = instrument.response_time_s;
    gauge.resolution_pa = instrument.resolution_pa;
    return gauge;
}

struct Outcome {
    bool marked = false;
    double error_pa = 0; ///< deviation found less true deviation
    double u_pa = 0;
    double expanded_pa = 0;
    double u_reference_pa = 0;
    bool high_range = false;
    int windows = 0;
};

class Laboratory {
  public:
    Laboratory(bench::BenchFile bench, const nlohmann::json& file)
        : bench_(std::move(bench)), place_(file, "bench.json") {}

    Outcome run(std::uint64_t seed) const {
        // The mark, before anything is drawn: one of the sequence's points, read by one of the wired instruments.
        const auto& points = bench_.sequences.front().points;
        const auto& point = points[seed % points.size()];
        const auto& instrument = bench_.instruments[seed / points.size() % 2];

        const simulator::Truth truth = simulator::draw_truth(place_, seed);
        simulator::Gauge gauge(instrument.name, character_of(instrument, seed), seed);
        const double true_pa = pressure_at(truth, point, instrument, seed);
        gauge.advance(true_pa, 60 * instrument.response_time_s, 60 * instrument.response_time_s);

        Outcome out;
        out.high_range = bench_.balance.ranges[point.range].physics.name == "high";
        const auto& air = bench_.surroundings;
        const auto reference = metrology::reference_pressure(
            bench::reference_inputs(bench_, point.range, point.discs, air.air, air.piston_temperature_c, &instrument));
        acquisition::WindowStatistics window;
        Micros now_us = 1'000'000'000;
        for (out.windows = 1; out.windows <= most_windows; ++out.windows) {
            window = acquisition::measure_window(read(gauge, true_pa, instrument, now_us), instrument.limits);
            out.marked = window.failing == acquisition::Criterion::none;
            if (out.marked) break;
        }
        const auto combined = metrology::combine(reference.u_pa, reference.dof, window.u_mean_pa, window.u_mean_dof,
                                                 instrument.resolution_pa);
        out.error_pa = (window.mean_pa - reference.at_instrument_pa) - (gauge.settled_pa() - true_pa);
        out.u_pa = combined.u_pa;
        out.u_reference_pa = reference.u_pa;
        out.expanded_pa = metrology::coverage_factor(coverage, combined.dof) * combined.u_pa;
        return out;
    }

  private:
    /// At the instrument, by the simulator's physics; piston and instrument stand where the bench's figures allow.
    double pressure_at(const simulator::Truth& truth, const bench::SequencePoint& point,
                       const bench::Instrument& instrument, std::uint64_t seed) const {
        const auto& range = bench_.balance.ranges[point.range].physics;
        std::vector<std::string> discs;
        for (const std::size_t disc : point.discs)
            discs.push_back(bench_.discs[disc].piece.name);
        const auto& true_range = truth.range(range.name);
        simulator::Stream heights(seed, "heights");
        const double in_band_m = true_range.float_band_m * (heights.uniform() - 0.5);
        double down_m = true_range.level_m + in_band_m;
        for (const auto& segment : instrument.head)
            down_m += segment.height_m.value + segment.height_m.u * heights.normal();
        return simulator::pressure_below_pa(truth, simulator::pressure_under_piston_pa(truth, true_range, discs),
                                            down_m);
    }

    static std::vector<acquisition::TimedValue> read(simulator::Gauge& gauge, double true_pa,
                                                     const bench::Instrument& instrument, Micros& now_us) {
        std::vector<acquisition::TimedValue> readings;
        const auto count = static_cast<int>(std::ceil(instrument.limits.window_s / instrument.poll_s)) + 1;
        for (int i = 0; i < count; ++i) {
            gauge.advance(true_pa, instrument.poll_s, instrument.poll_s);
            now_us += static_cast<Micros>(std::llround(1e6 * instrument.poll_s));
            readings.push_back({now_us, gauge.shown_pa(), true});
        }
        return readings;
    }

    bench::BenchFile bench_;
    simulator::JsonPlace place_;
};

struct Tally {
    int marks = 0;
    int inside = 0;
    double squares = 0; ///< of errors in units of u
    void add(const Outcome& one) {
        ++marks;
        inside += std::abs(one.error_pa) <= one.expanded_pa ? 1 : 0;
        squares += one.error_pa * one.error_pa / (one.u_pa * one.u_pa);
    }
    double share() const { return inside / std::max(1.0, static_cast<double>(marks)); }
    void print(const char* name) const {
        fmt::print("{:<14}{:>6} marks, {:>5.1f} % inside (+- {:.1f} %), errors of {:.3f} u\n", name, marks,
                   100 * share(), 100 * std::sqrt(share() * (1 - share()) / std::max(1, marks)),
                   std::sqrt(squares / std::max(1, marks)));
    }
};

} // namespace

int main() {
    const std::string file = source + "/simulator/demo/bench.json";
    auto bench = bench::load_bench(file, source + "/drivers/profiles");
    if (!bench) {
        fmt::print(stderr, "{}\n", bench.error().message);
        return 1;
    }
    const nlohmann::json json = simulator::read_json_file(file);
    const Laboratory laboratory(std::move(*bench), json);
    Tally all, low, high;
    int without = 0;
    double reference_share = 0;
    for (std::uint64_t seed = 1; seed <= runs; ++seed) {
        const Outcome one = laboratory.run(seed);
        if (!one.marked) {
            ++without;
            continue;
        }
        all.add(one);
        (one.high_range ? high : low).add(one);
        reference_share += one.u_reference_pa * one.u_reference_pa / (one.u_pa * one.u_pa) / runs;
    }
    fmt::print("{} runs with a hidden truth each, one mark a run chosen beforehand; promised: {:g} %\n", runs,
               100 * coverage);
    low.print("low range");
    high.print("high range");
    all.print("all");
    fmt::print("{} runs without a mark; the reference is {:.0f} % of the variance on average\n", without,
               100 * reference_share);
    const bool holds = all.share() >= least && all.share() <= most && without == 0;
    fmt::print("goal {:g} to {:g} %: {}\n", 100 * least, 100 * most, holds ? "held" : "MISSED");
    return holds ? 0 : 1;
}
