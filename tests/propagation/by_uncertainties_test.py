"""First-order propagation against a stranger, python3-uncertainties, on random expressions and correlated inputs; the t
quantile against SciPy's."""
import math
import random
import unittest

from scipy import stats
from uncertainties import correlated_values, correlation_matrix, ufloat, umath

from propagation.command import DONE, Propagated

FUNCTIONS = {name: getattr(umath, name) for name in
             ("sqrt", "exp", "log", "log10", "sin", "cos", "tan", "asin", "acos", "atan")}
EXPRESSIONS, A_FILE = 300, 30


def random_expression(dice, names, depth):
    """A text that both read; of bounded size, defined around the inputs (which lie in 0.5 to 2)."""
    if depth == 0 or dice.random() < 0.15:
        return dice.choice(names) if dice.random() < 0.8 else f"{dice.uniform(0.5, 3):.4g}"

    def inner():
        return random_expression(dice, names, depth - 1)

    kind = dice.randrange(9)
    if kind < 4:
        return f"({inner()} {dice.choice('+-*/')} {inner()})"
    if kind == 4:
        if dice.random() < 0.7:
            return f"({inner()})^{dice.choice([2, 3, -1, -2, 0.5, 1.7])}"
        return f"abs({inner()})^{dice.choice(names)}"
    if kind == 5:
        return f"-({inner()})"
    name = dice.choice(list(FUNCTIONS))
    if name in ("asin", "acos"):
        return f"{name}(({inner()}) / (1 + ({inner()})^2 + ({inner()})^2) / 10)"
    return f"{name}({inner()})"


def random_inputs(dice, count):
    """Values, uncertainties and a correlation matrix that some quantities could have."""
    values = [dice.uniform(0.5, 2) for _ in range(count)]
    u = [dice.uniform(1e-4, 0.1) for _ in range(count)]
    rows = [[dice.gauss(0, 1) for _ in range(count)] for _ in range(count)]
    covariance = [[sum(a * b for a, b in zip(p, q)) + (0.5 if p is q else 0) for q in rows] for p in rows]
    r = [[covariance[i][j] / math.sqrt(covariance[i][i] * covariance[j][j]) for j in range(count)] for i in range(count)]
    return values, u, r


class AgainstUncertainties(unittest.TestCase):
    def test_random_expressions(self):
        dice = random.Random(20260701)
        compared = 0
        for _ in range(EXPRESSIONS // A_FILE):
            names = ["a", "b", "c", "d"]
            values, u, r = random_inputs(dice, len(names))
            covariance = [[r[i][j] * u[i] * u[j] for j in range(4)] for i in range(4)]
            strangers = dict(zip(names, correlated_values(values, covariance)))
            models, expected = {}, {}
            while len(models) < A_FILE:
                text = random_expression(dice, names, 4)
                try:
                    y = eval(text.replace("^", "**"), {"__builtins__": {}, "abs": abs, **FUNCTIONS}, strangers)
                    plain = (y.nominal_value, y.std_dev)
                except (ValueError, ZeroDivisionError, OverflowError, TypeError, AttributeError):
                    continue
                if isinstance(y.nominal_value, complex) or not all(map(math.isfinite, plain)):
                    continue
                if not 1e-6 < abs(plain[0]) < 1e6 or not 1e-9 < plain[1] < 1e6:
                    continue
                models[f"m{len(models)}"], expected[f"m{len(expected)}"] = text, (plain, y)
            task = {"models": models, "trials": "none",
                    "inputs": {n: {"value": v, "u": s} for n, v, s in zip(names, values, u)},
                    "correlations": [{"between": [names[i], names[j]], "r": r[i][j]} for i in range(4) for j in range(i)]}
            found = Propagated(task)
            self.assertEqual(found.code, DONE, found.said)
            for name, ((y, s), _) in expected.items():
                one = found.json["outputs"][name]
                with self.subTest(text=models[name]):
                    self.assertLessEqual(abs(one["y"] - y), 1e-9 * abs(y))
                    # What cancels in a sum of correlated parts leaves the rounding of the parts behind.
                    parts = sum(line["contribution"] ** 2 for line in one["budget"])
                    self.assertLessEqual(abs(one["u"] ** 2 - s ** 2), 1e-9 * s * s + 1e-13 * parts)
                    compared += 1
            self.correlations(found.json["correlation"], expected)
        self.assertEqual(compared, EXPRESSIONS)

    def correlations(self, matrix, expected):
        order = matrix["order"]
        stranger = correlation_matrix([expected[name][1] for name in order])
        for i, _ in enumerate(order):
            for j in range(i):
                self.assertAlmostEqual(matrix["first_order"][i][j], float(stranger[i][j]), 7)

    def test_independent_inputs_and_their_budget(self):
        dice = random.Random(3)
        values, u, _ = random_inputs(dice, 4)
        names = ["a", "b", "c", "d"]
        found = Propagated({"model": "a * b^2 / sqrt(c) + d", "trials": "none",
                            "inputs": {n: {"value": v, "u": s} for n, v, s in zip(names, values, u)}})
        strangers = [ufloat(v, s) for v, s in zip(values, u)]
        y = strangers[0] * strangers[1] ** 2 / umath.sqrt(strangers[2]) + strangers[3]
        self.assertAlmostEqual(found.json["u"], y.std_dev, 12)
        by_name = {line["input"]: line for line in found.json["budget"]}
        for name, stranger in zip(names, strangers):
            self.assertAlmostEqual(by_name[name]["sensitivity"], y.derivatives[stranger], 12)
        self.assertAlmostEqual(sum(line["share"] for line in found.json["budget"]), 1, 12)


class AgainstScipy(unittest.TestCase):
    def test_coverage_factors(self):
        dice = random.Random(4)
        for _ in range(25):
            dof = math.exp(dice.uniform(math.log(0.6), math.log(1e6)))
            coverage = dice.choice([0.5, 0.6827, 0.9, 0.95, 0.9545, 0.99, 0.9973, 0.999])
            found = Propagated({"model": "x", "trials": "none", "coverage": coverage,
                                "inputs": {"x": {"value": 1, "u": 1, "dof": dof}}})
            # The tail that SciPy finds for our factor: its own quantile is good to some 1e-9 only.
            tail = stats.t.sf(found.json["k"], dof)
            self.assertLessEqual(abs(tail - (1 - coverage) / 2), 1e-11 * tail, (dof, coverage))


if __name__ == "__main__":
    unittest.main()
