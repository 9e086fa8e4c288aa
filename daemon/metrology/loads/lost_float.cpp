#include "daemon/metrology/loads/lost_float.hpp"

#include <algorithm>
#include <cmath>

namespace stillmark::metrology {

namespace {

constexpr double usual_volume_m3 = 1e-4;
constexpr double usual_warming_k_per_s = 1e-3;
const double volume_spread = std::log(4.0); // lines differ by a factor of four, as often up as down

} // namespace

std::vector<LossReason> loss_reasons(const DriftEvidence& evidence) {
    const double drift = std::abs(evidence.drift_pa_per_s);
    const bool sized = evidence.compressibility_per_pa > 0 && drift > 0;
    const double gap_m3_per_s = evidence.fall_rate_m_per_s * evidence.area_m2;
    const double volume_m3 = sized ? gap_m3_per_s / (evidence.compressibility_per_pa * drift) : 0;
    const double warming_k_per_s =
        sized && evidence.expansion_per_k > 0 ? drift * evidence.compressibility_per_pa / evidence.expansion_per_k : 0;
    const double ratio = warming_k_per_s / usual_warming_k_per_s;
    const double warmth = evidence.expansion_per_k > 0 ? 1 / (1 + ratio * ratio) : 0;
    std::vector<LossReason> reasons;
    if (evidence.drift_pa_per_s < 0) {
        double bottom = 1, leak = 0.5;
        if (sized) {
            const double off = std::log(volume_m3 / usual_volume_m3) / volume_spread;
            bottom = std::exp(-off * off / 2);
            leak = 1 / (1 + 4 * volume_m3 / usual_volume_m3);
        }
        // It needs time to sink; seen just now it is less likely to be at its rest already.
        const double sinks_in_s =
            evidence.fall_rate_m_per_s > 0 ? evidence.half_band_m / evidence.fall_rate_m_per_s : 0;
        const double had_time = sinks_in_s > 0 ? std::min(1.0, evidence.since_sighted_s / sinks_in_s) : 1;
        reasons = {{LossCause::at_bottom, bottom * (0.3 + 0.7 * had_time) + 0.05, volume_m3},
                   {LossCause::leak, leak + 0.05, volume_m3 > 0 ? usual_volume_m3 / volume_m3 : 0},
                   {LossCause::temperature, 0.5 * warmth, warming_k_per_s}};
    } else {
        reasons = {{LossCause::at_stop, 1 - 0.7 * warmth, drift}, {LossCause::temperature, warmth, warming_k_per_s}};
    }
    std::stable_sort(reasons.begin(), reasons.end(),
                     [](const LossReason& a, const LossReason& b) { return a.weight > b.weight; });
    double sum = 0;
    for (const LossReason& reason : reasons)
        sum += reason.weight;
    for (LossReason& reason : reasons)
        reason.weight /= sum;
    std::erase_if(reasons, [](const LossReason& reason) { return reason.weight < 0.02; });
    return reasons;
}

} // namespace stillmark::metrology
