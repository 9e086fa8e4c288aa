"""Deliberate faults of the evaluation of an instrument: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

ROOM = "daemon/metrology/evaluation/"
EVALUATION, PASSES = ROOM + "evaluation.cpp", ROOM + "passes.cpp"
FITS, READING_FIT, LEAST_SQUARES = ROOM + "evaluation_fits.cpp", ROOM + "reading_fit.cpp", ROOM + "least_squares.cpp"


class Evaluation(fault.Faults):
    FAULTS = [
        Fault("zero of a series not taken off", EVALUATION, "(zeroed ? pass.zero.value_or(0) : 0)", "0", "evaluation",
              "Evaluation.*"),
        Fault("zero deviation against nothing", EVALUATION,
              "std::abs(*pass.zero - *table_.passes[*pass.partner].zero)", "std::abs(*pass.zero)", "evaluation",
              "Evaluation.*"),
        Fault("full width as half width", EVALUATION, "return spread / (2 * std::numbers::sqrt3);",
              "return spread / std::numbers::sqrt3;", "evaluation", "Evaluation.*"),
        Fault("hysteresis in a single direction", EVALUATION, "if (point.up) expand(*point.up, up, false);",
              "if (point.up) expand(*point.up, up, true);", "evaluation", "Evaluation.*"),
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
        Fault("references averaged in parts", PASSES, "return first + beyond / static_cast<double>(readings.size());",
              "return (first * static_cast<double>(readings.size()) + beyond) / static_cast<double>(readings.size());",
              "evaluation", "Sorting.*"),
        Fault("the tenth of the span judged to the last bit", EVALUATION,
              "!at_most(*settings_.span_low + 0.1 * *span(), point.reference)",
              "point.reference < *settings_.span_low + 0.1 * *span()", "evaluation", "Sorting.*"),
        Fault("the reference's error averaged out by the line", READING_FIT,
              "curve.covariance[i * n + j] += moved.coefficients[i] * moved.coefficients[j];", ";",
              "evaluation", "ReadingFit.*"),
        Fault("the reference's error common, but along the axis of the readings", READING_FIT,
              "shift.push_back(slope_at(fit.curve.coefficients, readings.reference[i]) * readings.u_reference[i]);",
              "shift.push_back(readings.u_reference[i]);", "evaluation", "ReadingFit.*"),
        Fault("stated uncertainties believed against the readings", READING_FIT,
              "if (fit.curve.chi_squared <= *fit.chi_squared_limit) return;", "return;", "evaluation", "ReadingFit.*"),
        Fault("chi-squared held against the wrong quantile", READING_FIT, "constexpr double part = 0.95;",
              "constexpr double part = 0.5;", "evaluation", "ReadingFit.*"),
        Fault("the settings' reference not in the line", FITS,
              "if (!u && settings_.u_reference) u = settings_.u_reference(one.reference);", "", "evaluation",
              "Evaluation.*"),
        Fault("weights lost without a word", FITS, """cannot_say("the weights of the fits",""",
              """(void)std::pair("the weights of the fits",""", "evaluation", "Evaluation.*"),
        Fault("explained from zero on", LEAST_SQUARES, "problem.about_mean = true;", "problem.about_mean = false;",
              "evaluation", "ReferenceRegressions.*"),
        Fault("scatter of the other direction", EVALUATION, "if (one->rising != rising) continue;", "", "evaluation",
              "Evaluation.*"),
        Fault("scatter of repeats in the mean", EVALUATION,
              "if (std::find(roles.begin(), roles.end(), table_.passes[i].role) != roles.end()) by_pass[i].push_back(one);",
              "by_pass[i].push_back(one);", "evaluation", "Evaluation.*"),
        Fault("few independent readings forgotten", EVALUATION, "one->dof_mean});", "infinity});", "evaluation",
              "Evaluation.*"),
        Fault("a mark's degrees of freedom lost on the way", "daemon/bench/run_evaluation.cpp",
              "one.dof_mean = taken.u_mean_dof;", "", "bench", "RunEvaluation.*"),
        Fault("void rows count", PASSES, "if (!one.left_out.empty())", "if (one.left_out == \"never\")", "evaluation",
              "Evaluation.*"),
    ]


if __name__ == "__main__":
    unittest.main()
