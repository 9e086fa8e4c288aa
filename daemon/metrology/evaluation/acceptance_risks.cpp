#include "daemon/metrology/evaluation/acceptance_risks.hpp"

#include <cmath>
#include <limits>

namespace stillmark::metrology {

AcceptanceRisks acceptance_risks(const Process& process, double u, double permissible, double acceptance) {
    const GlobalRisk global = global_risk(process, u, permissible, acceptance);
    const auto of = [](double part, double whole) {
        return whole > 0 ? part / whole : std::numeric_limits<double>::quiet_NaN();
    };
    AcceptanceRisks out;
    out.conforming = probability_within(process.mean, process.sd, -permissible, permissible);
    out.accepted = probability_within(process.mean, std::hypot(process.sd, u), -acceptance, acceptance);
    out.consumers = global.false_accept;
    out.producers = global.false_reject;
    out.of_accepted = of(out.consumers, out.accepted);
    out.of_rejected = of(out.producers, 1 - out.accepted);
    out.specific_at_limit = 1 - probability_within(acceptance, u, -permissible, permissible);
    return out;
}

} // namespace stillmark::metrology
