#include "daemon/cli/pressure_trials.hpp"

#include "daemon/cli/blocks_on_threads.hpp"
#include "daemon/cli/pressure_report.hpp"
#include "daemon/metrology/propagation/coverage_factor.hpp"

#include <fmt/format.h>

#include <cmath>

namespace stillmark::cli {

namespace {

bool judged(const metrology::MonteCarloResult& trials) {
    return trials.trouble.empty() && trials.stable;
}

} // namespace

metrology::ReferenceTrials try_pressure(const metrology::ReferenceInputs& inputs, std::uint64_t seed) {
    metrology::MonteCarloSettings settings;
    settings.seed = seed;
    settings.coverage = metrology::usual_coverage;
    return metrology::reference_trials(inputs, settings, on_threads(all_cores()));
}

void print_trials(const metrology::ReferenceTrials& result, std::uint64_t seed) {
    const auto& trials = result.trials;
    fmt::print("\nMonte Carlo, {} trials, seed {}\n", trials.trials, seed);
    if (trials.outputs.empty()) {
        fmt::print("  {}\n", trials.trouble);
        return;
    }
    const auto& p = trials.outputs.front();
    const int decimals = decimals_for(p.u);
    fmt::print("  {:<32}{:>18.{}f}\n  {:<32}{:>18.{}f}\n", "Mean, Pa", p.mean, decimals, "Standard uncertainty, Pa",
               p.u, decimals);
    fmt::print("  {:<32}{:>18.{}f} to {:.{}f}\n", "Shortest 95.45 % interval, Pa", p.shortest.low, decimals,
               p.shortest.high, decimals);
    if (!judged(trials)) {
        fmt::print("  The trials did not become stable: the budget is not judged by them.\n");
        return;
    }
    const double wider = 2 * result.expanded_u_pa / p.shortest.width() - 1;
    fmt::print("  The budget's interval (U = {:.{}f} Pa) is {}validated: its ends are off by {:.{}f} and {:.{}f} Pa, "
               "allowed is {:g} Pa.\n  It is {:.1f} % {} than that of the trials.\n",
               result.expanded_u_pa, decimals, result.validation.validated ? "" : "NOT ", result.validation.off_low,
               decimals, result.validation.off_high, decimals, result.validation.tolerance, 100 * std::abs(wider),
               wider < 0 ? "narrower" : "wider");
}

nlohmann::json trials_json(const metrology::ReferenceTrials& result, std::uint64_t seed) {
    const auto& trials = result.trials;
    nlohmann::json all = {{"trials", trials.trials},
                          {"seed", seed},
                          {"undefined", trials.undefined},
                          {"stable", trials.stable},
                          {"mean_pa", nullptr},
                          {"u_pa", nullptr},
                          {"coverage", metrology::usual_coverage},
                          {"interval_shortest_pa", nullptr},
                          {"validated", nullptr}};
    if (trials.outputs.empty()) {
        all["trouble"] = trials.trouble;
        return all;
    }
    const auto& p = trials.outputs.front();
    all["mean_pa"] = p.mean;
    all["u_pa"] = p.u;
    all["interval_shortest_pa"] = {p.shortest.low, p.shortest.high};
    all["interval_symmetric_pa"] = {p.symmetric.low, p.symmetric.high};
    all["budget_expanded_u_pa"] = result.expanded_u_pa;
    if (!judged(trials)) return all;
    all["validated"] = result.validation.validated;
    all["tolerance_pa"] = result.validation.tolerance;
    all["d_low_pa"] = result.validation.off_low;
    all["d_high_pa"] = result.validation.off_high;
    return all;
}

} // namespace stillmark::cli
