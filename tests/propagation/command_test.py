"""`stillmark propagate`: what is wrong with a file is told with its place; the same seed gives the same digits."""
import copy
import json
import random
import re
import unittest

from propagation.command import DONE, EXAMPLES, NO, SOURCE, WRONG_USE, Propagated, call

GOOD = {"model": "V / I", "inputs": {"V": {"value": 5.0, "u": 0.01}, "I": {"value": 0.02, "u": 1e-5}}, "trials": 10000}


def changed(**keys):
    task = copy.deepcopy(GOOD)
    task.update(keys)
    return task


def with_input(**keys):
    task = copy.deepcopy(GOOD)
    task["inputs"]["V"] = keys
    return task


class WrongFiles(unittest.TestCase):
    def refused(self, task, *words):
        found = Propagated(task)
        self.assertEqual(found.code, WRONG_USE, found.said)
        self.assertIsNone(found.json)
        self.assertEqual(found.said.count("\n"), 1, found.said)
        for one in words:
            self.assertIn(one, found.said)

    def test_expressions(self):
        self.refused(changed(model="V / J"), "model: column 5", "\"J\" is no input", "I, V")
        self.refused(changed(model="V / (I"), "never closed")
        self.refused(changed(model="V ** 2"), "written with ^")
        self.refused(changed(model=""), "the expression ends")
        self.refused(changed(model=7), "an expression as a text")
        self.refused({**changed(), "models": {"R": "V"}}, "either model")
        self.refused({"inputs": GOOD["inputs"]}, "either model")

    def test_division_by_zero_at_the_estimates(self):
        self.refused(changed(model="V / (I - 0.02)"), "model: column 3", "division by zero")
        task = changed(models={"R": "V / I", "bad": "log(-V)"})
        del task["model"]
        self.refused(task, "models.bad: column 1", "logarithm")

    def test_uncertainties(self):
        self.refused(with_input(value=5, u=-1), "inputs.V.u", "negative")
        self.refused(with_input(value=5, U=1), "inputs.V.k", "coverage factor")
        self.refused(with_input(value=5, U=1, k=0), "inputs.V.k", "over 0")
        self.refused(with_input(value=5, u=1, limits=2), "u and limits")
        self.refused(with_input(value=5, u=1, k=2), "inputs.V.k")
        self.refused(with_input(u=1), "inputs.V.value", "missing")
        self.refused(with_input(limits=1), "inputs.V.value", "missing")
        self.refused(with_input(limits=[3, 1]), "inputs.V.limits", "[3, 1] begins above its end", "[1, 3]")
        self.refused(with_input(limits=[1, 2, 3]), "3 numbers stand here", "[low, high]")
        self.refused(with_input(value=1, limits=[1, 2]), "not the middle")
        self.refused(with_input(value=5, u=1, dof=0), "inputs.V.dof")
        self.refused(with_input(value=5, u=1, dof="many"), "\"infinite\"")
        self.refused(with_input(value=5, u=1, distribution="gaussian"), "normal")
        self.refused(with_input(value=5, u=1, sigma=2), "inputs.V.sigma", "unknown key")
        self.refused(with_input(value="5 V", u=1), "inputs.V.value")
        self.refused(with_input(observations=[1]), "inputs.V.observations", "at least 2")
        self.refused(with_input(observations=[1, 2], dof=3), "leave it out")
        self.refused(with_input(observations=[1, 2], value=3), "leave it out")
        self.refused(with_input(observations=[1, "2"]), "inputs.V.observations[1]")

    def test_names(self):
        for name in ("2a", "sin", "pi", "a b", ""):
            self.refused(changed(model="1", inputs={name: 1}), "can name no input")

    def test_correlations(self):
        between = ["V", "I"]
        self.refused(changed(correlations=[{"between": between, "r": 1.2}]), "correlations[0].r", "outside -1 to 1")
        self.refused(changed(correlations=[{"between": ["V", "W"], "r": 0}]), "\"W\" is no input")
        self.refused(changed(correlations=[{"between": ["V", "V"], "r": 0}]), "with itself")
        self.refused(changed(correlations=[{"between": between}]), "r: the correlation coefficient is missing")
        self.refused(changed(correlations=[{"between": between, "r": 0.1}, {"between": between[::-1], "r": 0.1}]), "twice")
        self.refused(changed(inputs={"V": {"value": 1, "u": 1}, "I": 2}, correlations=[{"between": between, "r": 0.1}]),
                     "I has no uncertainty")
        three = {name: {"value": 1, "u": 1} for name in "abc"}
        pairs = [{"between": list(pair), "r": -0.9} for pair in ("ab", "bc", "ac")]
        self.refused(changed(model="a + b + c", inputs=three, correlations=pairs), "a, b, c", "positive semidefinite")
        self.refused(changed(observed_together=[["V", "I"]]), "observed_together[0]")

    def test_settings(self):
        for coverage in (0, 0.4, 1, 95):
            self.refused(changed(coverage=coverage), "coverage")
        self.refused(changed(digits=3), "digits")
        self.refused(changed(trials=10), "trials")
        self.refused(changed(trials="many"), "trials")
        self.refused(changed(seed=3), "seed", "unknown key")

    def test_no_json(self):
        self.refused(b"", "not JSON")
        self.refused(b"[]", "object")
        self.refused(b'{"model": NaN}', "not JSON")
        self.refused(b'{"model": "V", "model": "V"}', "twice")
        self.refused(b'{"inputs": {"V": 1e999}}', "too large")
        self.refused(b"\xff\xfe" * 50)
        done = call("propagate", "/nonexistent.json")
        self.assertEqual(done.returncode, WRONG_USE)

    def test_damaged_files_are_survived(self):
        dice = random.Random(5)
        whole = (EXAMPLES / "h1_end_gauge.json").read_bytes().replace(b'"model"', b'"trials": "none", "model"')
        for _ in range(150):
            damaged = bytearray(whole)
            for _ in range(dice.randrange(1, 4)):
                place = dice.randrange(len(damaged))
                damaged[place:place + dice.randrange(3)] = bytes(dice.randrange(256) for _ in range(dice.randrange(3)))
            found = Propagated(bytes(damaged))
            self.assertIn(found.code, (DONE, NO, WRONG_USE), found.said)
            self.assertEqual(found.code == WRONG_USE, found.json is None)


class Answers(unittest.TestCase):
    def test_the_same_seed_and_any_threads(self):
        task = changed(trials="adaptive", digits=1)
        answers = [Propagated(task, "--seed", 9, "--threads", threads).json for threads in (1, 2, 3)]
        self.assertEqual(answers[0], answers[1])
        self.assertEqual(answers[0], answers[2])
        self.assertNotEqual(Propagated(task, "--seed", 10).json["monte_carlo"]["mean"], answers[0]["monte_carlo"]["mean"])

    def test_ways_to_state_an_uncertainty(self):
        def u(**keys):
            return next(line["u"] for line in Propagated(with_input(**keys)).json["budget"] if line["input"] == "V")
        self.assertAlmostEqual(u(value=5, U=1, k=2), 0.5, 15)
        self.assertAlmostEqual(u(value=5, limits=1), 3 ** -0.5, 15)
        self.assertAlmostEqual(u(limits=[4, 6]), 3 ** -0.5, 15)
        self.assertAlmostEqual(u(value=5, limits=1, distribution="triangular"), 6 ** -0.5, 15)
        self.assertAlmostEqual(u(value=5, limits=1, distribution="arcsine"), 2 ** -0.5, 15)
        self.assertAlmostEqual(u(observations=[4, 6]), 1, 15)

    def test_an_input_that_no_model_uses_is_noted(self):
        task = copy.deepcopy(GOOD)
        task["inputs"]["spare"] = {"value": 1, "u": 1}
        found = Propagated(task)
        self.assertEqual(found.code, DONE)
        self.assertEqual(found.json["notes"], ["no model uses the input spare"])

    def test_units_that_a_sum_does_not_convert_are_noted(self):
        def notes(model, a="bar", b="kPa"):
            found = Propagated({"model": model, "trials": "none", "inputs": {
                "a": {"value": 5, "u": 1, "unit": a}, "b": {"value": 2, "u": 1, "unit": b}}})
            self.assertEqual(found.code, DONE, found.said)
            return [note for note in found.json["notes"] if "converted" in note]
        words = "a in bar and b in kPa are added as they stand; nothing is converted"
        for model in ("a + b", "3 * (a - b)", "max(a, 1 - b)", "1 + a + b"):
            self.assertEqual(notes(model), [words], model)
        for model in ("a + b / 100", "a * b", "sqrt(a) + b"):
            self.assertEqual(notes(model), [], model)
        self.assertEqual(notes("a + b", b="bar"), [])

    def test_no_finite_slope(self):
        found = Propagated({"model": "sqrt(x)", "inputs": {"x": {"value": 0, "u": 1}}, "trials": "none"})
        self.assertEqual(found.code, NO)
        self.assertIsNone(found.json["u"])
        self.assertIn("derivative", found.json["notes"][0])

    def test_a_model_that_is_often_undefined(self):
        found = Propagated({"model": "log(x)", "inputs": {"x": {"value": 1, "u": 1}}})
        self.assertEqual(found.code, NO)
        self.assertIsNone(found.json["monte_carlo"]["validated"])
        self.assertTrue(any("no finite number" in note for note in found.json["notes"]))
        self.assertAlmostEqual(found.json["u"], 1)

    def test_a_heavy_tail_is_said(self):
        found = Propagated({"model": "x", "inputs": {"x": {"value": 0, "u": 1, "dof": 1}}})
        self.assertFalse(found.json["monte_carlo"]["stable"])
        self.assertIsNone(found.json["monte_carlo"]["validated"])
        self.assertIn("did not become stable", found.json["notes"][0])

    def test_infinite_degrees_of_freedom_are_null(self):
        self.assertIsNone(Propagated(GOOD).json["dof"])
        self.assertAlmostEqual(Propagated(GOOD).json["k"], 1.959963984540054, 12)


class PressureByTrials(unittest.TestCase):
    """`stillmark pressure --monte-carlo` on the demo bench, in both ranges, against its own budget."""

    def pressure(self, range_name, discs, *options):
        done = call("pressure", SOURCE / "simulator" / "demo" / "bench.json", "--range", range_name, "--discs", discs,
                    "--json", "--monte-carlo", *options)
        self.assertEqual(done.returncode, DONE, done.stderr)
        return json.loads(done.stdout)

    def test_both_ranges(self):
        for range_name, discs in (("low", "A1,A2,A3,B1,C1,D1"), ("high", "A1,A2,A3,A4,C1,C2,E1,F1,F2")):
            found = self.pressure(range_name, discs)
            trials = found["monte_carlo"]
            u = found["standard_uncertainty_pa"]
            self.assertTrue(trials["stable"])
            self.assertEqual(trials["undefined"], 0)
            self.assertLess(abs(trials["mean_pa"] - found["pressure_at_instrument_pa"]), 0.01 * u)
            self.assertLess(abs(trials["u_pa"] - u), 0.01 * u)
            low, high = trials["interval_shortest_pa"]
            # Rectangular parts weigh here: the true interval is narrower than that of a normal distribution.
            self.assertLess(high - low, 2 * trials["budget_expanded_u_pa"])
            self.assertGreater(high - low, 1.8 * trials["budget_expanded_u_pa"])

    def test_the_same_seed(self):
        one, again, other = (self.pressure("high", "A1,D1", "--seed", seed)["monte_carlo"] for seed in (5, 5, 6))
        self.assertEqual(one, again)
        self.assertNotEqual(one["mean_pa"], other["mean_pa"])


class ManPage(unittest.TestCase):
    def test_its_example_runs_as_printed(self):
        page = (SOURCE / "daemon" / "packaging" / "stillmark.1").read_text(encoding="utf-8")
        name, text = re.search(r"\.\\\" propagate: (\S+)\n\.nf\n(.*?)\.fi", page, re.S).groups()
        self.assertEqual(name, "impedance.json")
        found = Propagated(text.replace("\\-", "-"))
        self.assertEqual(found.code, DONE, found.said)
        self.assertAlmostEqual(found.json["outputs"]["R"]["y"], 127.73217, 5)


if __name__ == "__main__":
    unittest.main()
