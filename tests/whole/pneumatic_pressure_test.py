"""`stillmark pressure` on the pneumatic bench, beside SciPy: its root finder for the balance of forces and for the gas's
density, and a column of gas gone down in small steps instead of by a formula."""
import copy
import json
import math
import os
import pathlib
import shutil
import subprocess
import tempfile
import unittest

from scipy import integrate, optimize

from balance_in_python import moist_air_kg_m3
from bench_at_work import BUILD, DEMO, PROFILES, read_json

BENCH = read_json(DEMO / "pneumatic-bench.json")
LOADS = [point["discs"] for point in BENCH["sequences"][0]["points"]]
G, AMBIENT_PA, AIR_C, HUMIDITY, PISTON_C = 9.80731, 96800.0, 21.5, 0.45, 21.3
AIR = moist_air_kg_m3(AIR_C, AMBIENT_PA, HUMIDITY)
MOLAR_MASS, RT = 28.0134e-3, 8.314462618 * (PISTON_C + 273.15)
B, C = -5.9e-6 + 0.19e-6 * (PISTON_C - 20), 1426e-12
DISC_KG = {"A1": 10, "A2": 10, "A3": 10, "B1": 3, "C1": 1, "D1": 0.3, "E1": 0.1}


def nitrogen_kg_m3(absolute_pa):
    """From the virial series in the density, which the product does not use."""
    ideal = absolute_pa / RT
    return MOLAR_MASS * optimize.brentq(lambda c: c * (1 + B * c + C * c * c) - ideal, 0.5 * ideal, 2 * ideal,
                                        xtol=1e-300, rtol=1e-15)


def below_pa(absolute_pa, down_m, density):
    """A column from its upper end down."""
    solved = integrate.solve_ivp(lambda _, p: [density(p[0]) * G], (0, down_m), [absolute_pa], rtol=1e-12, atol=1e-9)
    return float(solved.y[0, -1])


def at_balance_pa(discs, air_kg_m3, residual_pa=0.0):
    """Both materials of one kind, R/r = 3: lambda by the one-material form (R. Lewisch, Bulletin de l'OIML 128 (1992))."""
    youngs, poisson = 600e9, 0.22
    distortion = ((3 * poisson - 1) + (10 / 8 + poisson)) / (2 * youngs)
    area = 335.7e-6 * (1 + 9.0e-6 * (PISTON_C - 20))
    held = 34.2e-3 * (1 - air_kg_m3 / 14950)
    for disc in discs:
        held += DISC_KG[disc] * (1 - 1.2 / 8000) / (1 - 1.2 / 7950) * (1 - air_kg_m3 / 7950)
    u_tilt = 0.5e-3 / math.sqrt(3)
    force = held * G * (1 - u_tilt**2 / 2)
    return residual_pa + optimize.brentq(lambda p: area * p * (1 + distortion * p) - force, 0, 1e9, xtol=1e-12, rtol=1e-15)


def ambient_below_pa(down_m):
    return below_pa(AMBIENT_PA, down_m, lambda p: AIR * p / AMBIENT_PA)


class Pneumatic(unittest.TestCase):
    def setUp(self):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="stillmark-pneumatic-"))
        self.addCleanup(shutil.rmtree, self.folder)

    def told(self, discs, instrument, bench=None, as_json=True, more=()):
        path = DEMO / "pneumatic-bench.json"
        if bench is not None:
            path = self.folder / "bench.json"
            path.write_text(json.dumps(bench), encoding="utf-8")
        result = subprocess.run([BUILD / "stillmark", "pressure", path, "--range", "gas", "--discs", ",".join(discs),
                                 "--instrument", instrument, *more] + ["--json"] * as_json, capture_output=True, text=True,
                                timeout=60, check=False, env={**os.environ, "STILLMARK_PROFILES": str(PROFILES)})
        self.assertEqual(result.returncode, 0, result.stderr)
        return json.loads(result.stdout) if as_json else result.stdout

    def near(self, ours_pa, pa):
        self.assertLess(abs(ours_pa - pa), 3e-10 * abs(pa) + 1e-7, (ours_pa, pa))

    def test_a_gauge_instrument(self):
        for discs in LOADS:
            with self.subTest(discs):
                ours = self.told(discs, "gauge transmitter")
                p = at_balance_pa(discs, AIR)
                self.near(ours["pressure_at_balance_pa"], p)
                down = below_pa(p + AMBIENT_PA, 0.085, nitrogen_kg_m3)
                self.near(ours["pressure_at_instrument_pa"], down - ambient_below_pa(0.085))
                self.assertEqual((ours["mode"], ours["fluid"], ours["instrument_counts"]), ("gauge", "nitrogen", "gauge"))

    def test_an_absolute_instrument_behind_gas_and_oil(self):
        for discs in LOADS:
            with self.subTest(discs):
                ours = self.told(discs, "absolute transmitter")
                down = below_pa(at_balance_pa(discs, AIR) + AMBIENT_PA, 0.060, nitrogen_kg_m3) + 960 * G * 0.012
                self.near(ours["pressure_at_instrument_pa"], down)
                barometer = next(line for line in ours["budget"] if line["input"] == "air pressure")
                self.assertAlmostEqual(barometer["contribution_pa"] / 5, 1, delta=2e-3)
                self.assertEqual(ours["instrument_counts"], "absolute")

    def test_a_sealed_instrument(self):
        bench = copy.deepcopy(BENCH)
        bench["instruments"][0].update(pressure="sealed", sealed_reference={"value": "1.013 bar", "u": "40 Pa"})
        ours = self.told(["B1"], "gauge transmitter", bench)
        self.near(ours["pressure_at_instrument_pa"], below_pa(at_balance_pa(["B1"], AIR) + AMBIENT_PA, 0.085, nitrogen_kg_m3) - 101300)
        self.assertEqual(ours["budget"][0]["input"], "sealed reference pressure")
        self.assertAlmostEqual(ours["budget"][0]["contribution_pa"], -40, delta=1e-6)

    def test_an_evacuated_bell(self):
        bench = copy.deepcopy(BENCH)
        bench["balance"].update(mode="absolute", residual_pressure={"value": "5 Pa", "u": "0.5 Pa"})
        residual_kg_m3 = 5 * 28.96546e-3 / (8.314472 * (PISTON_C + 273.15))
        for discs in LOADS:
            with self.subTest(discs):
                p = at_balance_pa(discs, residual_kg_m3, 5)
                ours = self.told(discs, "absolute transmitter", bench)
                self.near(ours["pressure_at_balance_pa"], p)
                self.near(ours["pressure_at_instrument_pa"], below_pa(p, 0.060, nitrogen_kg_m3) + 960 * G * 0.012)
                self.assertNotIn("air pressure", [line["input"] for line in ours["budget"]])
                gauge = self.told(discs, "gauge transmitter", bench)
                self.near(gauge["pressure_at_instrument_pa"], below_pa(p, 0.085, nitrogen_kg_m3) - ambient_below_pa(0.085))
                self.assertEqual((gauge["mode"], gauge["instrument_counts"]), ("absolute", "gauge"))

    def test_the_lowest_pressure_in_words(self):
        ours = self.told([], "gauge transmitter")
        self.assertLess(ours["pressure_at_instrument_pa"], 1000)
        self.assertLess(ours["standard_uncertainty_pa"], 0.1)
        # 0.15 Pa and 20 ppm of reading, k = 2, is more than this balance's own.
        floor = 0.15 + 20e-6 * ours["pressure_at_instrument_pa"]
        self.assertAlmostEqual(ours["capability_floor_pa"], floor, delta=1e-9)
        self.assertEqual(ours["expanded_uncertainty_pa"], ours["capability_floor_pa"])
        text = self.told([], "gauge transmitter", as_json=False)
        self.assertIn("Balance: gauge, nitrogen. gauge transmitter: gauge.\n", text)
        self.assertIn("larger than U: this is reported", text)
        self.assertRegex(text, r"At gauge transmitter +99\d\.\d{4,} +")
        self.assertIn("Note: ", text, "the distortion is an estimate")
        self.assertAlmostEqual(sum(line["share"] for line in ours["budget"]), 1, delta=1e-12)

    def test_trials_of_the_same_equation(self):
        bell = copy.deepcopy(BENCH)
        bell["balance"].update(mode="absolute", residual_pressure={"value": "5 Pa", "u": "0.5 Pa"})
        for bench in (BENCH, bell):
            ours = self.told(["C1", "D1"], "absolute transmitter", bench, more=["--monte-carlo"])
            trials = ours["monte_carlo"]
            self.assertAlmostEqual(trials["u_pa"] / ours["standard_uncertainty_pa"], 1, delta=0.02)
            self.assertLess(abs(trials["mean_pa"] - ours["pressure_at_instrument_pa"]), 0.02 * trials["u_pa"])
        text = self.told([], "gauge transmitter", as_json=False, more=["--monte-carlo"])
        self.assertRegex(text, r"Standard uncertainty, Pa +0\.01\d\d\n", "three digits at a hundredth of a bar too")

    def test_the_service_takes_the_bench(self):
        said = subprocess.run([BUILD / "stillmarkd", DEMO / "pneumatic-bench.json", "--check", "--profiles", PROFILES],
                              capture_output=True, text=True, timeout=60, check=False)
        self.assertEqual((said.returncode, said.stderr), (0, ""))

    def test_a_gas_has_no_circumference(self):
        for key, value in (("circumference", "65 mm"), ("immersed_volume", "10 mm3")):
            bench = copy.deepcopy(BENCH)
            bench["balance"]["ranges"][0][key] = value
            self.refused(bench, f"balance.ranges[0].{key}: belongs to a balance in liquid; take it away")

    def test_what_a_bell_needs(self):
        for residual, words in ((None, "is missing; add it"),
                                ("2000 Pa", "2000 Pa is no evacuated bell; use 0 Pa to 1000 Pa, absolute"),
                                ("-1 Pa", "-1 Pa is no evacuated bell; use 0 Pa to 1000 Pa, absolute")):
            bench = copy.deepcopy(BENCH)
            bench["balance"]["mode"] = "absolute"
            if residual:
                bench["balance"]["residual_pressure"] = residual
            self.refused(bench, f"balance.residual_pressure: {words}")

    def test_the_liquid_of_a_balance_in_gas(self):
        bench = copy.deepcopy(BENCH)
        bench["instruments"][1]["head"][0] = {"liquid": "balance", "height": "60 mm down"}
        self.refused(bench, 'instruments[1].head[0].liquid: the balance is filled with a gas; write "gas": "balance", or describe '
                            "the liquid")

    def refused(self, bench, words):
        path = self.folder / "bench.json"
        path.write_text(json.dumps(bench), encoding="utf-8")
        said = subprocess.run([BUILD / "stillmarkd", path, "--check", "--profiles", PROFILES], capture_output=True, text=True,
                              timeout=60, check=False)
        self.assertEqual((said.returncode, said.stdout, said.stderr), (2, "", f"stillmarkd: bench.json: {words}\n"))


if __name__ == "__main__":
    unittest.main()
