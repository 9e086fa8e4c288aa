// 10^6 trials of the whole pressure equation of an invented bench's load: the core's Monte Carlo on both cores, beside
// a plain loop on one, as it is usually written: std::mt19937_64, std::normal_distribution, one trial after the other,
// everything sorted. Both evaluate the same templated equation over the same components. In turn, A B A B; wall time.
#include "daemon/metrology/propagation/reference_trials.hpp"
#include "daemon/metrology/reference_components.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <cmath>
#include <numbers>
#include <random>
#include <string>
#include <thread>
#include <vector>

namespace {

using namespace stillmark::metrology;

constexpr std::size_t trials = 1'000'000;
constexpr int rounds = 7;
constexpr double goal = 8;
constexpr unsigned cores = 2;

/// An invented hydraulic balance under an ordinary load: twelve discs of one certificate, every input uncertain.
ReferenceInputs invented_load() {
    ReferenceInputs in;
    in.range.name = "high";
    in.range.area_m2 = {.value = 11.3e-6, .u = 1.7e-10};
    in.range.area_drift = {.value = 0, .u = 1.7e-5, .distribution = Distribution::rectangular};
    in.range.thermal_expansion_per_k = {.value = 9.5e-6, .u = 6e-7, .distribution = Distribution::rectangular};
    in.range.distortion_per_pa = {.value = 0.9e-12, .u = 6e-14, .distribution = Distribution::rectangular};
    in.range.circumference_m = {.value = 11.92e-3, .u = 2e-5};
    in.range.tilt_rad = {.value = 0, .u = 4.6e-4, .distribution = Distribution::rectangular};
    in.range.float_height_m = {.value = 0, .u = 2.3e-3, .distribution = Distribution::rectangular};
    in.range.reference_level_m = {.value = 0, .u = 5e-4};
    in.range.floating_parts = {{"piston and carrier", {.value = 1.2, .u = 5e-6}, {.value = 7800, .u = 46}, false, ""}};
    for (int i = 0; i < 12; ++i)
        in.discs.push_back({"A" + std::to_string(i),
                            {.value = i < 10 ? 10.0 : 1.0, .u = 3e-5},
                            {.value = 7920, .u = 35, .distribution = Distribution::rectangular},
                            true,
                            "set"});
    in.site.gravity_m_s2 = {.value = 9.80731, .u = 2e-5};
    in.air.temperature_c = {.value = 21.5, .u = 0.29, .distribution = Distribution::rectangular};
    in.air.pressure_pa = {.value = 96800, .u = 100};
    in.air.humidity = {.value = 0.45, .u = 0.058, .distribution = Distribution::rectangular};
    in.piston_temperature_c = {.value = 21.3, .u = 0.17, .distribution = Distribution::rectangular};
    in.liquid.density_kg_m3 = {.value = 865, .u = 4.3};
    in.liquid.expansion_per_k = 7e-4;
    in.liquid.compressibility_per_pa = 6.5e-10;
    in.liquid.surface_tension_n_per_m = {.value = 0.0305, .u = 0.0017};
    in.head = {{in.liquid, {.value = 0.085, .u = 1e-3}}};
    return in;
}

struct Found {
    double mean_pa;
    double u_pa;
    double low_pa;
    double high_pa;
};

Found plain_loop(const ReferenceInputs& inputs, std::uint64_t seed) {
    ReferenceValues<double> values = values_of<double>(inputs);
    const Inventory<double> inventory = list_inputs(inputs, values);
    std::mt19937_64 dice(seed);
    std::normal_distribution<double> normal;
    std::uniform_real_distribution<double> even(-std::sqrt(3.0), std::sqrt(3.0));
    std::vector<double> found(trials);
    double sum = 0;
    double squares = 0;
    for (double& p : found) {
        for (const Component<double>& component : inventory.components()) {
            const bool bounded = component.members.front().input.distribution == Distribution::rectangular;
            const double deviation = bounded ? even(dice) : normal(dice);
            for (const Member<double>& member : component.members) {
                if (member.place == &values.range.tilt_loss)
                    *member.place = 1 - std::cos(inputs.range.tilt_rad.value + inputs.range.tilt_rad.u * deviation);
                else
                    *member.place = member.input.value + member.input.u * deviation;
            }
        }
        settle_air(values);
        p = pressure_at_instrument_pa(values, pressure_at_balance_pa(values.range));
        sum += p - found[0];
        squares += (p - found[0]) * (p - found[0]);
    }
    std::sort(found.begin(), found.end());
    const auto n = static_cast<double>(trials);
    const auto inside = static_cast<std::size_t>(0.95 * n);
    std::size_t best = 0;
    for (std::size_t r = 0; r + inside < trials; ++r)
        if (found[r + inside] - found[r] < found[best + inside] - found[best]) best = r;
    return {sum / n, std::sqrt((squares - sum * sum / n) / (n - 1)), found[best], found[best + inside]};
}

void on_both_cores(std::size_t count, const std::function<void(std::size_t)>& job) {
    std::atomic<std::size_t> next{0};
    const auto work = [&next, &job, count] {
        for (std::size_t i = next++; i < count; i = next++)
            job(i);
    };
    std::vector<std::jthread> others;
    for (unsigned i = 1; i < cores; ++i)
        others.emplace_back(work);
    work();
}

Found ours(const ReferenceInputs& inputs, std::uint64_t seed, const BlockRunner& runner) {
    MonteCarloSettings settings;
    settings.trials = trials;
    settings.seed = seed;
    const MonteCarloResult result = monte_carlo(reference_model(inputs), settings, runner);
    const MonteCarloOutput& p = result.outputs.front();
    return {p.mean, p.u, p.shortest.low, p.shortest.high};
}

template <class Work>
double wall_ms(Work work) {
    const auto begin = std::chrono::steady_clock::now();
    work();
    return std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - begin).count();
}

double median(std::vector<double> all) {
    std::sort(all.begin(), all.end());
    return all[all.size() / 2];
}

void print(const char* name, const std::vector<double>& times) {
    fmt::print("{:<34}{:>9.1f} ms   ({:.1f} to {:.1f})\n", name, median(times),
               *std::min_element(times.begin(), times.end()), *std::max_element(times.begin(), times.end()));
}

} // namespace

int main() {
    const ReferenceInputs inputs = invented_load();
    std::vector<double> plain_ms, ours_ms, alone_ms, ratios;
    Found plain{}, both{}, alone{};
    for (int round = 0; round < rounds; ++round) {
        const auto seed = static_cast<std::uint64_t>(round + 1);
        plain_ms.push_back(wall_ms([&] { plain = plain_loop(inputs, seed); }));
        ours_ms.push_back(wall_ms([&] { both = ours(inputs, seed, on_both_cores); }));
        alone_ms.push_back(wall_ms([&] { alone = ours(inputs, seed, one_after_the_other); }));
        ratios.push_back(plain_ms.back() / ours_ms.back());
    }
    fmt::print("10^6 trials of the pressure equation, {} times in turn: median (least to most)\n", rounds);
    print("plain loop, one core", plain_ms);
    print("the core's, one core", alone_ms);
    print("the core's, both cores", ours_ms);
    fmt::print("plain: u = {:.1f} Pa, shortest 95 % interval {:.1f} Pa wide; ours: u = {:.1f} Pa, {:.1f} Pa wide\n",
               plain.u_pa, plain.high_pa - plain.low_pa, both.u_pa, both.high_pa - both.low_pa);
    const bool same = both.mean_pa == alone.mean_pa && both.u_pa == alone.u_pa && both.low_pa == alone.low_pa &&
                      both.high_pa == alone.high_pa;
    const bool agree = std::abs(plain.u_pa / both.u_pa - 1) < 0.01;
    fmt::print("one core and two give {}\n", same ? "the same digits" : "DIFFERENT DIGITS");
    fmt::print("ratio, median of the rounds: {:.1f} (goal {:g})\n", median(ratios), goal);
    return same && agree && median(ratios) >= goal ? 0 : 1;
}
