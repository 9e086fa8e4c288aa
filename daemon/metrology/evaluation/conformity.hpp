#pragma once

#include <cstdint>
#include <limits>
#include <optional>
#include <string>

namespace stillmark::metrology {

/// Probability that a quantity lies within limits: normal about the estimate (JCGM 106:2012, 7.2 to 7.4), or Student's
/// t scaled by u where u is known with `dof` degrees of freedom (JCGM 101:2008, 6.4.9; JCGM 106:2012, annex A). Leave a
/// limit infinite for a one-sided one. Without uncertainty: 1 or 0.
double probability_within(double estimate, double u, double lowest, double highest,
                          double dof = std::numeric_limits<double>::infinity());

enum class Rule : std::uint8_t {
    simple_acceptance, ///< |deviation| <= limit (ILAC-G8:09/2019, 4.2.1)
    guard_band,        ///< |deviation| <= limit - w, w = factor * U (ILAC-G8:09/2019, 4.2.2)
    specific_risk,     ///< probability of not conforming at most `risk` (JCGM 106:2012, 8.3)
    global_risk,       ///< probability that an item of the process is accepted and does not conform at most `risk`
                       ///< (JCGM 106:2012, 9)
    uncertainty_ratio, ///< |deviation| <= limit where permissible error / U is at least `least_ratio`; no verdict
                       ///< elsewhere (ANSI/NCSL Z540.3, where the risk of false acceptance cannot be estimated)
};

/// Where an instrument of that kind lies before it is measured: normal, about `mean`, in the unit of the deviation.
struct Process {
    double mean = 0;
    double sd = 0;
};

/// Ways to draw the acceptance limit by the test uncertainty ratio TUR = permissible error / U, as a factor on the
/// permissible error.
enum class ByRatio : std::uint8_t {
    root_sum_of_squares, ///< sqrt(1 - 1/TUR^2)
    whole_u,             ///< 1 - 1/TUR
    from_four,           ///< 1.25 - 1/TUR: nothing is taken off from a ratio of four on
    managed_risk,        ///< 1 - (1.04 - exp(0.38 ln TUR - 0.54))/TUR: at most 2 % false accepts
};
/// That factor, from 0 (nothing can be accepted) to 1 (nothing is taken off).
double acceptance_factor(ByRatio by, double ratio);
/// "RSS", "1 - 1/TUR", "1.25 - 1/TUR", "managed risk".
const char* word(ByRatio by);

struct DecisionRule {
    Rule rule = Rule::simple_acceptance;
    double guard_factor = 1; ///< r in w = r U; ISO 14253-1:2017 uses 0.83 for a risk of 5 %
    bool non_binary = false; ///< also conditional pass and conditional fail within the guard band
    double risk = 0.05;
    std::optional<Process> process = std::nullopt;
    std::optional<ByRatio> by_ratio = std::nullopt; ///< of a guard band, in place of the factor
    double least_ratio = 4;
};

/// The rule with its level of risk, as a result has to state it (ISO/IEC 17025:2017, 7.8.6.1).
std::string words(const DecisionRule& rule);
const char* word(Rule rule);

enum class Verdict : std::uint8_t { pass, conditional_pass, conditional_fail, fail };
const char* word(Verdict verdict);
/// The worse of two.
Verdict worse(Verdict a, Verdict b);

/// A measured deviation with its standard and expanded uncertainty, all in one unit, unrounded. The global risk takes
/// process and measurement as normal (JCGM 106:2012, 9); all else goes by Student's t with `dof`.
struct Judged {
    double deviation = 0;
    double u = 0;
    double expanded = 0;
    double permissible = 0;
    double dof = std::numeric_limits<double>::infinity(); ///< effective degrees of freedom of u, over 0
};

/// The verdict; nothing where the rule needs something that is not there (a process for the global risk), and nothing
/// where the rule could accept no result at all, unless the deviation is beyond the limit by as much as the rule takes
/// off: that fails by any rule.
std::optional<Verdict> judge(const Judged& what, const DecisionRule& rule);

/// The largest deviation, either way, that the rule accepts; not over zero where it accepts none, nothing where it
/// cannot say.
std::optional<double> acceptance_limit(const Judged& what, const DecisionRule& rule);

/// Guard band w of the rule, so that |deviation| <= permissible - w is accepted; of the specific risk the one for a
/// limit far from the other. Nothing where no guard band reaches the risk.
std::optional<double> guard_band(const Judged& what, const DecisionRule& rule);

/// Global risks of accepting within +-acceptance where +-permissible is right, for a process and a measurement with
/// normal distributions (JCGM 106:2012, 9.3 and 9.4).
struct GlobalRisk {
    double false_accept = 0; ///< consumer's: accepted and not conforming
    double false_reject = 0; ///< producer's: rejected and conforming
};
GlobalRisk global_risk(const Process& process, double u, double permissible, double acceptance);

/// Measurement capability index C_m = T / (4 u) for a tolerance from `lowest` to `highest` (JCGM 106:2012, 7.6.3); the
/// test uncertainty ratio is the same where U = 2 u.
double capability_index(double lowest, double highest, double u);

/// Process capability: the distance of the mean to the nearer limit in three standard deviations.
double process_capability(const Process& process, double lowest, double highest);

/// Normalized error |a - b| / sqrt(U_a^2 + U_b^2) of two independent results with expanded uncertainties: agreement
/// where it is at most 1 (ISO 13528; ISO/IEC 17043).
double normalized_error(double a, double expanded_a, double b, double expanded_b);

} // namespace stillmark::metrology
