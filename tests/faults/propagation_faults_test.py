"""Deliberate faults of the propagation of uncertainty: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

FOLDER = "daemon/metrology/propagation/"


class Propagation(fault.Faults):
    FAULTS = [
        Fault("one jump too short", FOLDER + "random_stream.cpp", "0x39ABDC4529B1661CU", "0x39ABDC4529B1661DU",
              "propagation", "RandomStream.*"),
        Fault("tail of the normal distribution cut off", FOLDER + "draws.cpp",
              "return std::copysign(Ziggurat::tail_begins + beyond, along);",
              "return std::copysign(Ziggurat::tail_begins, along);", "propagation", "Draws.*"),
        Fault("finite degrees of freedom drawn as normal", FOLDER + "draws.cpp",
              "return std::isinf(what.dof) ? deviation : deviation * t_scale(what.dof);", "return deviation;",
              "propagation", "Draws.TOf*"),
        Fault("correlation forgotten in the draws", FOLDER + "draws.cpp",
              "for (std::size_t column = 0; column <= row; ++column)",
              "for (std::size_t column = row; column <= row; ++column)", "propagation", "Draws.Correlated*"),
        Fault("undefined trials kept", FOLDER + "monte_carlo.cpp", "all_defined = all_defined && x == 0;",
              "all_defined = all_defined && !(x > 0);", "propagation", "MonteCarlo.*"),
        Fault("equal tails for the shortest interval", FOLDER + "trial_figures.cpp",
              "if (width(tails, r) < width(tails, best)) best = r;",
              "if (r <= tails.low.size() / 2) best = r;", "propagation", "Tails.*"),
        Fault("stable at the first look", FOLDER + "monte_carlo.cpp",
              "return 2 * spread(figure) <= limit;", "return 2 * spread(figure) >= 0 * limit;", "propagation",
              "MonteCarlo.AHeavyTail*"),
        Fault("one end alone judged", FOLDER + "monte_carlo.cpp",
              "out.validated = out.off_low <= out.tolerance && out.off_high <= out.tolerance;",
              "out.validated = out.off_low <= out.tolerance;", "propagation", "Validation.*"),
        Fault("a group with its greatest degrees of freedom", FOLDER + "measurement_model.cpp",
              "groups[group].dof = std::min(groups[group].dof, model.inputs[i].known.dof);",
              "groups[group].dof = model.inputs[i].known.dof;", "propagation", "FirstOrder.*"),
        Fault("mixed third derivatives dropped", FOLDER + "measurement_model.cpp",
              "variance += ij * ij + own[i].derivative(1) * ijj + own[j].derivative(1) * iij;", "variance += ij * ij;",
              "propagation", "SecondOrder.*"),
        Fault("minus binds before the power", FOLDER + "expression.cpp",
              "if (take('-')) {\n            signed_power();\n            add(Operation::negate, place);",
              "if (take('-')) {\n            primary();\n            add(Operation::negate, place);\n            "
              "if (take('^')) { signed_power(); add(Operation::power, place); }", "propagation", "Expression.*"),
        Fault("tilt drawn by its first-order spread", FOLDER + "reference_trials.cpp",
              "if (member.place != &values.range.tilt_loss) return false;", "return false;", "propagation",
              "ReferenceTrials.ATiltIsDrawn*"),
    ]


if __name__ == "__main__":
    unittest.main()
