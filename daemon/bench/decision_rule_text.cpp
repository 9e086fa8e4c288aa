#include "daemon/bench/decision_rule_text.hpp"

#include <fmt/format.h>

#include <array>
#include <string_view>
#include <utility>

namespace stillmark::bench {

using drivers::Dimension;
using metrology::DecisionRule;
using metrology::Rule;

namespace {

double read_risk(const Place& place) {
    const double risk = place.at("risk").quantity(Dimension::fraction);
    if (!place.wrong() && !(risk > 0 && risk < 0.5))
        place.at("risk").say(
            fmt::format("a risk of {:g} % is none to decide by; use one over 0 % and under 50 %", risk * 100));
    return risk;
}

metrology::ByRatio read_ratio(const Place& place) {
    using metrology::ByRatio;
    static constexpr std::array<std::pair<std::string_view, ByRatio>, 4> ways{
        {{"RSS", ByRatio::root_sum_of_squares},
         {"1 - 1/TUR", ByRatio::whole_u},
         {"1.25 - 1/TUR", ByRatio::from_four},
         {"managed risk", ByRatio::managed_risk}}};
    const std::string name = place.at("by_ratio").text();
    if (place.has("guard_factor")) place.at("by_ratio").say("give either a guard_factor or by_ratio");
    for (const auto& [known, way] : ways)
        if (name == known) return way;
    place.at("by_ratio")
        .say(fmt::format("\"{}\" is not known; use RSS, 1 - 1/TUR, 1.25 - 1/TUR or managed risk", name));
    return ByRatio::whole_u;
}

} // namespace

DecisionRule read_decision_rule(const Place& place) {
    DecisionRule rule;
    const std::string name = place.at("rule").text();
    if (place.wrong()) return rule;
    if (name == "simple acceptance") {
        place.only({"rule"});
    } else if (name == "guard band") {
        place.only({"rule", "guard_factor", "by_ratio", "statements"});
        rule.rule = Rule::guard_band;
        if (place.has("by_ratio")) rule.by_ratio = read_ratio(place);
        if (place.has("guard_factor")) rule.guard_factor = place.at("guard_factor").number();
        if (!place.wrong() && !(rule.guard_factor >= -1 && rule.guard_factor <= 3))
            place.at("guard_factor")
                .say(fmt::format("{:g} is no usual part of U; use -1 to 3 (1 is the whole U)", rule.guard_factor));
        const auto statements = place.text_or("statements", "binary");
        if (statements != "binary" && statements != "non-binary")
            place.at("statements").say(fmt::format("\"{}\" is not known; use binary or non-binary", statements));
        rule.non_binary = statements == "non-binary";
    } else if (name == "specific risk") {
        place.only({"rule", "risk"});
        rule.rule = Rule::specific_risk;
        rule.risk = read_risk(place);
    } else if (name == "global risk") {
        place.only({"rule", "risk", "process"});
        rule.rule = Rule::global_risk;
        rule.risk = read_risk(place);
        const Place process = place.at("process");
        if (place.wrong()) return rule;
        process.only({"mean", "sd"});
        rule.process = {process.quantity_or("mean", Dimension::pressure, 0),
                        process.at("sd").over_zero(Dimension::pressure)};
    } else if (name == "test uncertainty ratio") {
        place.only({"rule", "at_least"});
        rule.rule = Rule::uncertainty_ratio;
        if (place.has("at_least")) rule.least_ratio = place.at("at_least").number();
        if (!place.wrong() && !(rule.least_ratio >= 1 && rule.least_ratio <= 100))
            place.at("at_least")
                .say(fmt::format("{:g} is no usual ratio; use 1 to 100 (4 is usual)", rule.least_ratio));
    } else {
        place.at("rule").say(
            fmt::format("\"{}\" is not known; use simple acceptance, guard band, specific risk, global risk or test "
                        "uncertainty ratio",
                        name));
    }
    return rule;
}

} // namespace stillmark::bench
