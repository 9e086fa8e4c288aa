"""What a bench file says of its reference's uncertainty, through `stillmark pressure`."""
import json
import os
import pathlib
import subprocess
import tempfile
import unittest

from bench_at_work import BUILD, PROFILES

BASE = (pathlib.Path(os.environ["STILLMARK_SOURCE"]) / "tests" / "bad_bench" / "base.json").read_text(encoding="utf-8")
SHORT_FORM = ('"circumference": "35.1 mm", "short_form": {"a": "30 Pa", "b": "20 ppm of reading", "k": 2, "dof": 50, '
              '"covers": ["effective area", "masses", "distortion coefficient"]}')


class ReferenceUncertainty(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory(prefix="stillmark-reference-")
        self.addCleanup(self.folder.cleanup)

    def said(self, *options, changes=(), discs="A1"):
        text = BASE
        for old, new in changes:
            self.assertEqual(text.count(old), 1, old)
            text = text.replace(old, new)
        bench = pathlib.Path(self.folder.name) / "bench.json"
        bench.write_text(text, encoding="utf-8")
        result = subprocess.run([str(BUILD / "stillmark"), "pressure", str(bench), "--range", "low", "--discs", discs,
                                 "--profiles", str(PROFILES), *options],
                                capture_output=True, text=True, timeout=60, check=False)
        self.assertEqual((result.returncode, result.stderr), (0, ""))
        return result.stdout

    def pressure(self, *changes, discs="A1"):
        return json.loads(self.said("--json", changes=changes, discs=discs))

    def test_the_budget_is_a_result(self):
        told = self.pressure()
        budget = told["budget"]
        self.assertAlmostEqual(sum(line["share"] for line in budget), 1, delta=1e-12)
        self.assertEqual(budget, sorted(budget, key=lambda line: -abs(line["contribution_pa"])))
        self.assertAlmostEqual(told["expanded_uncertainty_pa"],
                               told["coverage_factor"] * told["standard_uncertainty_pa"], delta=1e-9)
        self.assertEqual((told["capability_floor_pa"], told["capability_decides"], told["notes"]), (0, False, []))
        self.assertEqual(next(line for line in budget if line["input"] == "drift of the area")["distribution"], "rectangular")

    def test_a_short_form_stands_for_what_it_covers(self):
        told = self.pressure(('"circumference": "35.1 mm"', SHORT_FORM))
        lines = {line["input"]: line for line in told["budget"]}
        expected_pa = (30 + 20e-6 * told["pressure_at_balance_pa"]) / 2
        self.assertAlmostEqual(lines["certificate of the range low"]["contribution_pa"], expected_pa, delta=1e-6)
        self.assertEqual(lines["certificate of the range low"]["degrees_of_freedom"], 50)
        for covered in ("effective area", "distortion coefficient", "masses of INV-M-17 (invented)"):
            self.assertNotIn(covered, lines)
        for left in ("drift of the area", "local gravity", "piston temperature", "level of the range", "tilt (1 - cos)"):
            self.assertIn(left, lines)
        self.assertEqual(told["pressure_at_instrument_pa"], self.pressure()["pressure_at_instrument_pa"])

    def test_discs_of_a_stated_correlation(self):
        told = self.pressure(('"masses": {', '"masses": {"correlation": 0.8,'))
        lines = {line["input"]: abs(line["contribution_pa"]) for line in told["budget"]}
        common, own = lines["masses of INV-M-17 (invented)"], lines["own error of A1"]
        self.assertAlmostEqual(common**2 / (common**2 + own**2), 0.8, delta=1e-9)

    def test_a_distortion_from_materials_is_said_to_be_an_estimate(self):
        materials = ('"distortion_from": {"piston": {"youngs_modulus": "600 GPa", "poisson": 0.22}, '
                     '"cylinder": {"youngs_modulus": "210 GPa", "poisson": 0.29}, "outer_to_inner": 3}')
        told = self.pressure(('"distortion": {"value": "2.6e-6 1/MPa", "limits": "0.3e-6 1/MPa"}', materials))
        line = next(line for line in told["budget"] if line["input"] == "distortion coefficient")
        self.assertAlmostEqual(line["estimate"] / 3.38333333e-12, 1, delta=1e-8)
        self.assertAlmostEqual(line["u"] / line["estimate"], 0.1, delta=1e-12)
        self.assertEqual(told["notes"], ["The distortion coefficient is an estimate from material constants, not from a "
                                         "certificate."])

    def test_no_uncertainty_below_the_capability(self):
        for constant_pa, decides in ((5000, True), (1, False)):
            with self.subTest(constant_pa):
                table = f'"capability": [{{"from": "0 bar", "to": "100 bar", "a": "{constant_pa} Pa", "k": 2}}], "rig": ['
                told = self.pressure(('"rig": [', table))
                self.assertEqual((told["capability_floor_pa"], told["capability_decides"]), (constant_pa, decides))
                own_pa = told["coverage_factor"] * told["standard_uncertainty_pa"]
                self.assertAlmostEqual(told["expanded_uncertainty_pa"], max(own_pa, constant_pa), delta=1e-9)
                shown = self.said(changes=[('"rig": [', table)])
                self.assertIn("larger than U: this is reported" if decides else "not larger than U", shown)
                if decides:
                    self.assertEqual(told["coverage_factor"], 2)
                self.assertEqual(told["cautions"], [])

    def test_capability_and_uncertainty_are_compared_at_one_coverage(self):
        """A capability of 1.98 u is less than U = k u, though more than 1.96 u, the interval of 95 %."""
        plain = self.pressure()
        between = 1.98 * plain["standard_uncertainty_pa"]
        self.assertGreaterEqual(plain["coverage_factor"], 2)
        table = f'"capability": [{{"from": "0 bar", "to": "100 bar", "a": "{between} Pa", "k": 2}}], "rig": ['
        told = self.pressure(('"rig": [', table))
        self.assertFalse(told["capability_decides"])
        self.assertEqual(told["expanded_uncertainty_pa"], plain["expanded_uncertainty_pa"])

    def test_a_pressure_without_a_stated_capability_is_told(self):
        table = '"capability": [{"from": "90 bar", "to": "100 bar", "a": "1 Pa", "k": 2}], "rig": ['
        words = "no capability is stated at"
        self.assertIn(words, self.pressure(('"rig": [', table))["cautions"][0])
        self.assertIn(f"Caution: {words}", self.said(changes=[('"rig": [', table)]))

    def test_a_pressure_beyond_the_limits_of_the_range_is_told(self):
        for discs, limits, word in (("A1,B1,C1,D1", '"lowest": "2 bar", "highest": "19.8 bar"', "above"),
                                    ("", '"lowest": "2.02 bar", "highest": "110 bar"', "below")):
            changes = [('"lowest": "2 bar", "highest": "110 bar"', limits)]
            told = self.pressure(*changes, discs=discs)["cautions"]
            self.assertEqual(len(told), 1)
            self.assertIn(f'bar is {word} the limits of the range "low"', told[0])
            self.assertIn(f"Caution: {told[0]}", self.said(changes=changes, discs=discs))
            self.assertEqual(self.pressure(discs=discs)["cautions"], [])

    def test_the_table_shows_it_to_people(self):
        shown = self.said(changes=[('"circumference": "35.1 mm"', SHORT_FORM)])
        for words in ("Standard uncertainty", "Expanded uncertainty", "(95.45 %, k = ", "share", "certificate of the range low",
                      "drift of the area"):
            self.assertIn(words, shown)


if __name__ == "__main__":
    unittest.main()
