#pragma once

#include "daemon/metrology/evaluation/conformity_basis.hpp"
#include "daemon/records/certificate.hpp"

namespace stillmark::records {

/// Rounds what a verdict rests on, `scale` units of the certificate for one of the evaluation. U has two significant
/// digits (JCGM 100:2008, 7.2.6), deviation and acceptance limit go to its last place, k has two decimals, the degrees
/// of freedom three significant digits (from ten thousand on they count as infinite). Where the rule, applied to those
/// figures, would give another verdict than the unrounded values did, all of them take further digits until it gives
/// the same: a reader of the figures alone comes to the verdict that is printed. `otherwise` is the place's uncertainty
/// where none is known, in the certificate's unit. `rule` has its own figures in the certificate's unit.
Basis basis_figures(const metrology::ConformityBasis& basis, const std::optional<metrology::DecisionRule>& rule,
                    double scale, double otherwise);

/// The rule with the figures of a process times `scale`.
std::optional<metrology::DecisionRule> rule_in_unit(std::optional<metrology::DecisionRule> rule, double scale);

/// One figure of a decision rule: "guard factor", "risk".
struct RuleFigure {
    const char* name;
    Figure figure;
    bool in_unit = false; ///< in the unit of the certificate; otherwise a plain number
};
/// What a reader needs beside the name of a rule to apply it.
std::vector<RuleFigure> rule_figures(const metrology::DecisionRule& rule);

/// The value that a figure's digits say; not a number where there are none.
double printed_value(const Figure& figure);

/// A stated number as a person wrote it, as far as twelve digits show it.
std::string as_stated(double value);
Figure stated_figure(double value);

} // namespace stillmark::records
