"""`stillmark pressure` against a second implementation of the same published equations."""
import json
import os
import random
import subprocess
import unittest

from balance_in_python import Balance, moist_air_kg_m3
from bench_at_work import BUILD, DEMO, PROFILES, read_json

BENCH = read_json(DEMO / "bench.json")
DISCS = [disc["id"] for disc in BENCH["masses"]["discs"]]
NAMES = [one["name"] for one in BENCH["instruments"]]


def pressure(*options):
    result = subprocess.run([str(BUILD / "stillmark"), "pressure", str(DEMO / "bench.json"), *options, "--json"],
                            capture_output=True, text=True, timeout=60, check=False,
                            env={**os.environ, "STILLMARK_PROFILES": str(PROFILES)})
    if result.returncode != 0:
        raise AssertionError(result.stderr)
    return json.loads(result.stdout)


def cases():
    """Loads in both ranges, from none to nearly all, under the bench's own air and under others within the equation's."""
    draw = random.Random(20260101)  # the same cases every time
    yield "low", [], NAMES[0], None, None
    yield "high", [], NAMES[0], None, None
    for i in range(20):
        discs = draw.sample(DISCS, draw.randint(1, len(DISCS) - 2))
        air = (draw.uniform(15, 27), draw.uniform(60000, 110000), draw.uniform(0, 1)) if i % 3 else None
        yield ("low", "high")[i % 2], discs, NAMES[i % 4], air, draw.uniform(17, 29) if i % 4 else None


class PressureByPython(unittest.TestCase):
    def test_every_load_under_every_air(self):
        worst, worst_u = 0.0, 0.0
        for range_name, discs, instrument, air, piston_c in cases():
            with self.subTest(range=range_name, discs=discs, air=air, piston_c=piston_c):
                options = ["--range", range_name, "--discs", ",".join(discs), "--instrument", instrument]
                if air:
                    options += ["--air", f"{air[0]!r} degC,{air[1]!r} Pa,{air[2] * 100!r} %"]
                if piston_c is not None:
                    options += ["--temperature", f"{piston_c!r} degC"]
                ours = pressure(*options)
                where = next(one for one in BENCH["instruments"] if one["name"] == instrument)
                python = Balance(BENCH, range_name, discs, where, air, piston_c)
                at_balance_pa, at_instrument_pa = python.at_balance_pa(), python.at_instrument_pa()
                for name, value in (("pressure_at_balance_pa", at_balance_pa), ("pressure_at_instrument_pa", at_instrument_pa),
                                    ("air_density_kg_m3", python.air_kg_m3(python.values)), ("gravity_m_s2", 9.80731),
                                    ("area_m2", python.area_m2(python.values, at_balance_pa))):
                    relative = abs(ours[name] / value - 1)
                    worst = max(worst, relative)
                    self.assertLess(relative, 1e-10, name)
                nominal_pa = python.nominal_pa()
                corrected_pa = nominal_pa + sum(one["pa"] for one in ours["corrections"])
                self.assertLess(abs(corrected_pa / ours["pressure_at_instrument_pa"] - 1), 1e-12)
                u_pa = python.u_pa()
                worst_u = max(worst_u, abs(ours["standard_uncertainty_pa"] / u_pa - 1))
                self.assertLess(abs(ours["standard_uncertainty_pa"] / u_pa - 1), 1e-3)
                summed_pa = sum(line["contribution_pa"]**2 for line in ours["budget"])**0.5
                self.assertLess(abs(summed_pa / ours["standard_uncertainty_pa"] - 1), 1e-12)
                self.assertEqual(ours["range"], range_name)
        print(f"pressures agree to {worst:.1e} relative, uncertainties to {100 * worst_u:.4f} %")

    def test_each_correction_is_what_switching_it_on_makes(self):
        """The great ones by themselves: local gravity, air buoyancy, head, as the equation's own factors."""
        ours = pressure("--range", "low", "--discs", "A1,A2,B1", "--instrument", NAMES[0])
        lines = {one["name"]: one["pa"] for one in ours["corrections"]}
        python = Balance(BENCH, "low", ["A1", "A2", "B1"], BENCH["instruments"][0])
        nominal_pa = python.nominal_pa()
        self.assertAlmostEqual(lines["local gravity"] / (nominal_pa * (9.80731 / 9.80665 - 1)), 1, delta=1e-9)
        air = moist_air_kg_m3(21.5, 96800, 0.45)
        self.assertLess(abs(lines["air buoyancy"] / (-nominal_pa * air / 7900) - 1), 0.01)
        self.assertGreater(lines["head"], 0, "a lower instrument sees more")
        self.assertAlmostEqual(lines["head"], (865 - air) * 9.80731 * 0.085, delta=3)
        above = pressure("--range", "low", "--discs", "A1,A2,B1", "--instrument", "digital gauge C")
        self.assertLess({one["name"]: one["pa"] for one in above["corrections"]}["head"], 0)

    def test_the_same_form_of_the_air_in_two_languages(self):
        ours = pressure("--range", "low", "--discs", "A1", "--air", "20 degC,1013.25 hPa,50 %")
        self.assertAlmostEqual(ours["air_density_kg_m3"] / moist_air_kg_m3(20, 101325, 0.5), 1, delta=1e-13)

    def test_what_is_wrong_is_refused_in_words(self):
        for options, words in ((("--range", "middle", "--discs", "A1"), 'no range "middle"'),
                               (("--range", "low", "--discs", "A1,A1"), "stands twice"),
                               (("--range", "low", "--discs", "Z9"), '"Z9"'),
                               (("--range", "low", "--discs", "A1", "--air", "20 degC"), "--air"),
                               (("--range", "low", "--discs", "A1", "--temperature", "20"), "--temperature"),
                               (("--range", "low", "--discs", "A1", "--instrument", "gauge E"), "gauge E")):
            with self.subTest(options):
                with self.assertRaises(AssertionError) as refused:
                    pressure(*options)
                self.assertIn(words, str(refused.exception))


if __name__ == "__main__":
    unittest.main()
