#include "daemon/metrology/loads/balance_health.hpp"

#include <algorithm>
#include <numbers>
#include <vector>

namespace stillmark::metrology {

HealthJudgement judge_health(HealthSign sign, double value, std::optional<double> stated,
                             std::span<const double> history) {
    HealthJudgement judgement;
    const auto worse = [sign](double ratio, double factor) {
        return sign == HealthSign::spin_time ? ratio < 1 / factor : ratio > factor;
    };
    if (history.size() >= 3) {
        std::vector<double> sorted(history.begin(), history.end());
        std::sort(sorted.begin(), sorted.end());
        const std::size_t half = sorted.size() / 2;
        const double median = sorted.size() % 2 == 1 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
        judgement.against_history = value / median;
        // A change to the better is a change too: a fall rate that drops may be dirt in the gap.
        const double ratio = *judgement.against_history;
        if (ratio > history_factor || ratio < 1 / history_factor) judgement.verdict = HealthVerdict::changed;
    }
    if (stated && *stated > 0) {
        judgement.against_stated = value / *stated;
        if (worse(*judgement.against_stated, stated_factor)) judgement.verdict = HealthVerdict::poor;
    }
    return judgement;
}

double fall_rate_at(double fall_rate_m_per_s, double measured_at_pa, double at_pa) {
    return fall_rate_m_per_s * at_pa / measured_at_pa;
}

double fall_rate_m_per_s(double diameter_m, double gap_m, double length_m, double viscosity_pa_s, double pressure_pa) {
    return gap_m * gap_m * gap_m * pressure_pa / (3 * viscosity_pa_s * length_m * diameter_m);
}

double spin_decay_s(double inertia_kg_m2, double diameter_m, double gap_m, double length_m, double viscosity_pa_s) {
    const double radius_m = diameter_m / 2;
    return inertia_kg_m2 * gap_m / (2 * std::numbers::pi * radius_m * radius_m * radius_m * length_m * viscosity_pa_s);
}

} // namespace stillmark::metrology
