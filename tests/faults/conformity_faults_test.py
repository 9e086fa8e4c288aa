"""Deliberate faults of verdicts, permissible errors and fits: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

ROOM = "daemon/metrology/evaluation/"
CONFORMITY, PERMISSIBLE = ROOM + "conformity.cpp", ROOM + "permissible_error.cpp"
LINE, SQUARES, LINEARITY = ROOM + "transfer_line.cpp", ROOM + "least_squares.cpp", ROOM + "linearity.cpp"


class Conformity(fault.Faults):
    FAULTS = [
        Fault("sign of the guard band", CONFORMITY, "return w && std::isfinite(*w) ? std::optional(what.permissible - *w) : std::nullopt;",
              "return w && std::isfinite(*w) ? std::optional(what.permissible + *w) : std::nullopt;", "evaluation", "Conformity.*"),
        Fault("rounded before the verdict", CONFORMITY, "const double size = std::abs(what.deviation);",
              "const double size = std::round(std::abs(what.deviation) * 100) / 100;", "evaluation", "Conformity.*"),
        Fault("one limit of two in the specific risk", CONFORMITY,
              "probability_within(what.deviation, what.u, -what.permissible, what.permissible, what.dof)",
              "probability_within(what.deviation, what.u, -1e9, what.permissible, what.dof)", "evaluation", "Conformity.*"),
        Fault("an acceptance limit by the normal distribution", CONFORMITY,
              "probability_within(deviation, what.u, -what.permissible, what.permissible, what.dof) <= rule.risk;",
              "probability_within(deviation, what.u, -what.permissible, what.permissible) <= rule.risk;", "evaluation",
              "ConformityBasis.*"),
        Fault("one tail of the process", CONFORMITY,
              "risk.false_accept = both_below(below, high, r, rest) - both_below(below, low, r, rest) +",
              "risk.false_accept =", "evaluation", "GlobalRisk.Deaver*"),
        Fault("a verdict by a rule that could accept nothing", CONFORMITY, "if (!(*accepted > 0) && w > 0) {",
              "if (!(*accepted > 0) && w < 0) {", "evaluation", "Conformity.*"),
        Fault("class as a part, not per cent", PERMISSIBLE, "Kind::of_span, per_cent / 100, 0}}",
              "Kind::of_span, per_cent, 0}}", "evaluation", "PermissibleErrors.*"),
        Fault("hysteresis in service against the limit in service", PERMISSIBLE,
              "error.hysteresis_of_span = accuracy_class / 100;", "error.hysteresis_of_span = error.terms[0].value;",
              "evaluation", "Verdicts.*"),
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
