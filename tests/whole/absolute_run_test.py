"""A pneumatic balance in absolute mode through all programs: an absolute, a gauge and a sealed instrument with their
zeros at the open line, the barometer asked for again while the run goes on, certificates, and the hidden truth behind it."""
import csv
import io
import json
import math
import subprocess
import unittest

from balance_in_python import moist_air_kg_m3
from bench_at_work import BUILD, DEMO, BenchAtWork, read_json

NAMES = ("absolute transducer", "gauge transmitter", "sealed transmitter")
G, BAROMETER_PA, BAROMETER_UP_M = 9.80731, 96240.0, 1.4
REVIEWER = "R. Reviewer (invented)"
ALLOWED = {"air temperature", "air pressure", "humidity", "equation of the air density", "level of the barometer",
           "temperature of the line", "gravity on the line", "height of head segment 1", "molar mass of nitrogen",
           "equation of state of nitrogen", "sealed reference pressure"}


def bench_and_scenario(**surroundings):
    bench = read_json(DEMO / "absolute-bench.json")
    bench["surroundings"].update(surroundings)
    return bench, read_json(DEMO / "absolute-scenario.json")


def air_at_pa(above_mark_m):
    """By a column of air in small steps from the barometer down: no formula of the product."""
    pressure, steps = BAROMETER_PA, 1000
    step_m = (BAROMETER_UP_M - above_mark_m) / steps
    for _ in range(steps):
        middle = pressure + moist_air_kg_m3(21.5, pressure, 0.45) * G * step_m / 2
        pressure += moist_air_kg_m3(21.5, middle, 0.45) * G * step_m
    return pressure


def nitrogen_gains_pa(down_m):
    """Of a line of nitrogen open to air at the level mark, beside the air at the same height."""
    density = air_at_pa(0) * 28.0134e-3 / (8.314462618 * (21.3 + 273.15))
    return (density - moist_air_kg_m3(21.5, air_at_pa(0), 0.45)) * G * down_m


class AbsoluteRun(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        # A short validity, so that the barometer is asked for again within the run.
        bench, scenario = bench_and_scenario(air_pressure_valid="8 s")
        cls.at_work = cls.enterClassContext(BenchAtWork(bench, scenario))
        cls.at_work.start_simulator(seed=3)
        cls.at_work.start_service()
        cls.at_work.wait_for_run(150)
        cls.told = json.loads(cls.at_work.stillmark("results", "--json").stdout)

    def marks(self, name, zero):
        return [one for one in self.told["marks"] if one["channel"] == name and (one["target_pa"] == 0) == zero]

    def test_every_mark_is_there_and_near_the_hidden_truth(self):
        self.assertEqual(self.told["run"]["state"], "finished")
        self.assertEqual(self.told["missing"], [])
        self.assertEqual({name: (len(self.marks(name, True)), len(self.marks(name, False))) for name in NAMES},
                         {name: (2, 6) for name in NAMES})
        judged = self.at_work.judge(24)
        self.assertEqual(judged.returncode, 0, judged.stdout + judged.stderr)

    def test_a_zero_is_the_air_at_the_instruments_own_level(self):
        for name, down_m, zero_pa in ((NAMES[0], 0.060, air_at_pa(-0.060)), (NAMES[1], 0.035, 0.0),
                                      (NAMES[2], -0.020, air_at_pa(0.020) - 101300)):
            for mark in self.marks(name, True):
                self.assertEqual(mark["status"], "vented")
                self.assertAlmostEqual(mark["reference_pa"], zero_pa + nitrogen_gains_pa(down_m), delta=2e-3)
                self.assertAlmostEqual(mark["at_balance_pa"], air_at_pa(0), delta=1e-2)
        self.assertAlmostEqual(self.marks(NAMES[0], True)[0]["u_reference_pa"], math.hypot(5, 1.13 * G * 0.02), delta=0.01)
        self.assertAlmostEqual(self.marks(NAMES[2], True)[0]["u_reference_pa"], math.hypot(5, 25), delta=0.05)
        self.assertLess(self.marks(NAMES[1], True)[0]["u_reference_pa"], 0.02)

    def test_no_part_of_the_balance_is_in_a_zeros_budget(self):
        for name in NAMES:
            mark = self.marks(name, True)[0]["mark"]
            said = subprocess.run([BUILD / "stillmark", "export", self.at_work.journal, "--mark", str(mark), "budget"],
                                  capture_output=True, text=True, timeout=60, check=False)
            self.assertEqual(said.returncode, 0, said.stderr)
            lines = [row["input"] for row in csv.DictReader(io.StringIO(said.stdout)) if row["part"] == "reference"]
            self.assertTrue(lines)
            self.assertLessEqual(set(lines), ALLOWED)

    def test_the_barometer_was_read_again_and_again(self):
        actions = [json.loads(line) for line in self.at_work.actions.read_text(encoding="utf-8").splitlines()]
        read = [one for one in actions if one.get("do") == "surroundings"]
        self.assertGreater(len(read), 1)
        self.assertEqual({key for one in read[1:] for key in one if key.startswith(("air", "hum", "piston"))},
                         {"air_pressure"}, "nothing else was asked for")

    def test_replay_makes_the_same_marks(self):
        replay = self.at_work.replay()
        self.assertEqual(replay.returncode, 0, replay.stdout + replay.stderr)

    def test_certificates_carry_the_numbers(self):
        with self.at_work.client() as client:
            client.done("particulars", run="R1", customer="Invented Works", customer_address=["Lane 2"],
                        customer_country="DE")
            for name in NAMES:
                draft = client.done("draft", runs=["R1"], instrument=name)
                self.assertEqual(draft["lacking"], [])
                signed = client.done("sign", certificate=draft["certificate"], by=REVIEWER)
                folder = self.at_work.folder / "run.journal.records" / signed["certificate"]
                whole = json.loads((folder / f"{signed['certificate']}.json").read_text(encoding="utf-8"))
                rows = [row for results in whole["results"] for part in results["tables"] for row in part["rows"]]
                table = list(csv.DictReader(io.StringIO((folder / f"{signed['certificate']}.csv")
                                                        .read_text(encoding="utf-8"))))
                self.assertEqual((len(rows), len(table)), (8, 8))
                by_number = {one["mark"]: one for one in self.told["marks"]}
                for row in rows:
                    mark = by_number[row["mark"]]
                    self.assertAlmostEqual(row["reference"]["value"], mark["reference_pa"] / 1e5, delta=1e-9)
                    self.assertAlmostEqual(row["indication"]["value"], mark["mean_pa"] / 1e5, delta=1e-9)


class WithoutABarometersCertificate(unittest.TestCase):
    def test_a_draft_says_so(self):
        bench, scenario = bench_and_scenario()
        bench["standards"] = [one for one in bench["standards"] if one["what"] != "barometer"]
        with BenchAtWork(bench, scenario) as at_work:
            at_work.start_simulator(operator=False)
            at_work.start_service()
            with at_work.client() as client:
                client.done("run_start", sequence="absolute", condition="as found", instruments=[])
                client.done("run_stop", reason="invented")
                for name in NAMES:
                    lacking = " ".join(one["words"] for one in client.done("draft", runs=["R1"], instrument=name)["lacking"])
                    self.assertIn("states no certificate for the barometer", lacking)


if __name__ == "__main__":
    unittest.main()
