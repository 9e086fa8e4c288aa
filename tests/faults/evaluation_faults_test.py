"""Deliberate faults of the evaluation, its fits and its verdicts: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

ROOM = "daemon/metrology/evaluation/"
EVALUATION, PASSES, CONFORMITY = ROOM + "evaluation.cpp", ROOM + "passes.cpp", ROOM + "conformity.cpp"
LINE, SQUARES, LINEARITY = ROOM + "transfer_line.cpp", ROOM + "least_squares.cpp", ROOM + "linearity.cpp"
PERMISSIBLE = ROOM + "permissible_error.cpp"


class Evaluation(fault.Faults):
    FAULTS = [
        Fault("zero of a series not taken off", EVALUATION, "(zeroed ? pass.zero.value_or(0) : 0)", "0", "evaluation",
              "Evaluation.*"),
        Fault("zero deviation against nothing", EVALUATION,
              "std::abs(*pass.zero - *table_.passes[*pass.partner].zero)", "std::abs(*pass.zero)", "evaluation",
              "Evaluation.*"),
        Fault("full width as half width", EVALUATION, "return spread / (2 * std::numbers::sqrt3);",
              "return spread / std::numbers::sqrt3;", "evaluation", "Evaluation.*"),
        Fault("hysteresis in a single direction", EVALUATION, "if (point.up) expand(*point.up, in_series);",
              "if (point.up) expand(*point.up, in_mean);", "evaluation", "Evaluation.*"),
        Fault("reproducibility against the wrong series", EVALUATION, "std::abs(again - first.front())",
              "std::abs(again - first.back())", "evaluation", "Evaluation.*"),
        Fault("repeatability of few points not for all", EVALUATION,
              "settings_.method->guide == Guide::cg17;", "settings_.method->guide == Guide::dkd_r_6_1;", "evaluation",
              "Evaluation.*"),
        Fault("an uncertainty below the capability", EVALUATION,
              "to.expanded = std::max(k * u, least_expanded(point.reference));", "to.expanded = k * u;", "evaluation",
              "Evaluation.*"),
        Fault("degrees of freedom forgotten", EVALUATION, "coverage(effective_dof(shares))", "coverage(infinity)",
              "evaluation", "Evaluation.*"),
        Fault("uncertainty line over the wrong edge", EVALUATION,
              "if (pressure[b] < mean && i + 1 < chain.size()) continue;",
              "if (pressure[b] > mean && i + 1 < chain.size()) continue;", "evaluation", "Evaluation.*"),
        Fault("the better direction decides", EVALUATION, "point.verdict ? worse(*point.verdict, *verdict) : *verdict",
              "point.verdict ? std::min(*point.verdict, *verdict) : *verdict", "evaluation", "Evaluation.*"),
        Fault("hysteresis of the class ignored", EVALUATION,
              "if (!finding.met && finding.rule.starts_with(\"hysteresis\") && out_.verdict)",
              "if (finding.met && finding.rule.starts_with(\"hysteresis\") && out_.verdict)", "evaluation",
              "Evaluation.*"),
        Fault("readings on the stop count", PASSES, "if (!settings.dial || !settings.dial->pointer_stop) return;",
              "return;", "evaluation", "Sorting.*:Evaluation.*"),
        Fault("a head is no zero", PASSES, "constexpr double zero_part = 5e-3;", "constexpr double zero_part = 1e-4;",
              "evaluation", "Sorting.*"),
        Fault("void rows count", PASSES, "if (!one.left_out.empty())", "if (one.left_out == \"never\")", "evaluation",
              "Evaluation.*"),
        Fault("sign of the guard band", CONFORMITY, "return yes_or_no(size <= what.permissible - *w);",
              "return yes_or_no(size <= what.permissible + *w);", "evaluation", "Conformity.*"),
        Fault("rounded before the verdict", CONFORMITY, "const double size = std::abs(what.deviation);",
              "const double size = std::round(std::abs(what.deviation) * 100) / 100;", "evaluation", "Conformity.*"),
        Fault("one limit of two in the specific risk", CONFORMITY,
              "probability_within(what.deviation, what.u, -what.permissible, what.permissible)",
              "probability_within(what.deviation, what.u, -1e9, what.permissible)", "evaluation", "Conformity.*"),
        Fault("one tail of the process", CONFORMITY,
              "risk.false_accept = both_below(below, high, r, rest) - both_below(below, low, r, rest) +",
              "risk.false_accept =", "evaluation", "GlobalRisk.Deaver*"),
        Fault("class as a part, not per cent", PERMISSIBLE, "per_cent / 100, 0}}, false, accuracy_class}",
              "per_cent, 0}}, false, accuracy_class}", "evaluation", "PermissibleErrors.*"),
        Fault("class of the upper end", PERMISSIBLE, "return term.value * span;", "return term.value * high;",
              "evaluation", "PermissibleErrors.*"),
        Fault("weights upside down", SQUARES, "t.b[i] /= problem.u[i];", "t.b[i] *= problem.u[i];", "evaluation",
              "TransferLine.*"),
        Fault("scatter divided by the count", SQUARES, "out.dof = static_cast<double>(rows - n);",
              "out.dof = static_cast<double>(rows);", "evaluation", "TransferLine.*"),
        Fault("sign of the covariance", LINE, "line.covariance = fit.covariance_of(0, 1);",
              "line.covariance = -fit.covariance_of(0, 1);", "evaluation", "TransferLine.*"),
        Fault("x taken as exact", LINE, "const double of_x = line.slope * u_x;", "const double of_x = 0 * u_x;",
              "evaluation", "TransferLine.*"),
        Fault("whole band for the half", LINEARITY, "return (highest - lowest) / 2;", "return highest - lowest;",
              "evaluation", "Linearity.*"),
    ]


if __name__ == "__main__":
    unittest.main()
