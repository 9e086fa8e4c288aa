"""Deliberate faults of what an evaluation says where it is asked: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

CORE, CLI = "daemon/metrology/evaluation/", "daemon/cli/"
LACK, INVERSE = CORE + "lack_of_fit.cpp", CORE + "inverse_reading.cpp"
ALLAN, RISKS = CORE + "allan_deviation.cpp", CORE + "acceptance_risks.cpp"
TABLE, ASKED, STABILITY = CLI + "observation_table.cpp", CLI + "evaluation_asked.cpp", CLI + "stability_table.cpp"
JSON = "daemon/decider/evaluation_json.cpp"


class Requests(fault.Faults):
    FAULTS = [
        Fault("pure error about the curve", LACK, "const double off = residuals[i] - sums.first - sums.beyond / sums.weights;",
              "const double off = residuals[i];", "evaluation", "LackOfFit.*"),
        Fault("lack of fit with the degrees of freedom of the residuals", LACK,
              "static_cast<double>(points.size() - fit.coefficients.size())",
              "static_cast<double>(residuals.size() - fit.coefficients.size())", "evaluation", "LackOfFit.*"),
        Fault("the probability of a better fit", LACK, "out.p = boost::math::cdf(", "out.p = 1 - boost::math::cdf(",
              "evaluation", "LackOfFit.*"),
        Fault("lack of fit without the weights of the points", LACK, "out.lack += sums.weights * sums.mean()",
              "out.lack += sums.mean()", "evaluation", "LackOfFit.*"),
        Fault("the reading's own uncertainty forgotten", INVERSE, "variance_at(curve, out.reference) + u_reading * u_reading",
              "variance_at(curve, out.reference)", "evaluation", "InverseReading.*"),
        Fault("the curve's uncertainty forgotten", INVERSE, "variance_at(curve, out.reference) + u_reading * u_reading",
              "u_reading * u_reading", "evaluation", "InverseReading.*"),
        Fault("an uncertainty in the unit of the reading", INVERSE, "std::abs(polynomial(slope, out.reference));", "1;",
              "evaluation", "InverseReading.*"),
        Fault("extrapolated", INVERSE, "if (!(reading >= least && reading <= most)) {", "if (std::isnan(reading)) {",
              "evaluation", "InverseReading.*"),
        Fault("a turn between the ends not seen", INVERSE, "slope.size() == 3 && slope[2] != 0", "slope.size() == 9",
              "evaluation", "InverseReading.*"),
        Fault("a level curve has a reference", INVERSE, "if (!(*least > level) && !(*most < -level)) return NoInverse::no_slope;",
              "", "evaluation", "InverseReading.*"),
        Fault("all differences overlap", ALLAN, "out.adev = by_steps_of(m_);", "out.adev = by_steps_of(1);", "evaluation",
              "AllanDeviation.*"),
        Fault("no differences overlap", ALLAN, "out.overlapping = by_steps_of(1);", "out.overlapping = by_steps_of(m_);",
              "evaluation", "AllanDeviation.*"),
        Fault("the sum of the modified deviation stands still", ALLAN,
              "if (i + 1 < terms) sum += difference(i + m_) - difference(i);", "", "evaluation", "AllanDeviation.*"),
        Fault("time deviation of one interval", ALLAN, "static_cast<double>(m_) * out.modified->deviation",
              "out.modified->deviation", "evaluation", "AllanDeviation.*"),
        Fault("the scale of the phase not taken off", ALLAN, "(one - values.front() - mean)", "one", "evaluation",
              "AllanDeviation.*"),
        Fault("risk of accepted ones among all", RISKS, "of(out.consumers, out.accepted)", "of(out.consumers, 1)",
              "evaluation", "AcceptanceRisks.*"),
        Fault("risk of rejected ones among the accepted", RISKS, "of(out.producers, 1 - out.accepted)",
              "of(out.producers, out.accepted)", "evaluation", "AcceptanceRisks.*"),
        Fault("accepted without the measurement's uncertainty", RISKS, "std::hypot(process.sd, u)", "process.sd",
              "evaluation", "AcceptanceRisks.*"),
        Fault("specific risk at the permissible error", RISKS, "probability_within(acceptance, u, -permissible, permissible)",
              "probability_within(permissible, u, -permissible, permissible)", "evaluation", "AcceptanceRisks.*"),
        Fault("covariance in the unit of the coefficient", JSON, "curve.covariance_of(i, j) * of_row * of_column",
              "curve.covariance_of(i, j) * of_row", "decider", "EvaluationJson.*"),
        Fault("a sum of squares in the unit of the readings", JSON, "of.weighted ? 1 : scale_ * scale_",
              "of.weighted ? 1 : scale_", "decider", "EvaluationJson.*"),
        Fault("degrees of freedom of the readings as those of the reference", TABLE, "one.dof_mean = dof_in(row, 12);",
              "one.dof_mean = dof_in(row, 11);", "cli", "ObservationTable.*"),
        Fault("no degrees of freedom are taken", TABLE, "if (!(value > 0) && row.objection.empty())", "if (false)", "cli",
              "ObservationTable.*"),
        Fault("a signal's uncertainty as a pressure", ASKED, "std::optional(*u * each)", "u", "cli", "EvaluationAsked.*"),
        Fault("a reading without uncertainty is exact", ASKED, "asked.u.value_or(fit.curve.residual_sd)",
              "asked.u.value_or(0)", "cli", "EvaluationAsked.*"),
        Fault("risks below the stated capability", ASKED, "const double u = *one->u; // of the stated capability",
              "const double u = one->contains.front().u; //", "cli", "EvaluationAsked.*"),
        Fault("an empty line is no gap", STABILITY, "if (row.line != last_line_ + 1) return", "if (false) return", "cli",
              "StabilityTable.*"),
        Fault("unequal steps are taken as equal", STABILITY, "std::abs(steps[i] - usual) > part_of_a_step * usual",
              "std::isnan(steps[i])", "cli", "StabilityTable.*"),
        Fault("milliseconds as seconds", STABILITY, "seconds_ = *seconds;", "seconds_ = 1;", "cli", "StabilityTable.*"),
    ]


if __name__ == "__main__":
    unittest.main()
