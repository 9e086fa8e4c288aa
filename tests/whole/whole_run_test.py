"""A whole run on the simulated bench: from the wires to marks that hold against the truth, and that replay makes again."""
import json
import math
import unittest

from balance_in_python import Balance
from bench_at_work import HIGH, LOW, OVERLAP_HIGH, OVERLAP_LOW, BenchAtWork, quick_scenario, small_bench
from journal_in_python import Journal, floats_of

SETTLE_US, WAIT_US, WAIT_AT_TOP_US = 600_000, 100_000, 300_000  # as small_bench states them
LATENCY_US = {"transmitter A": 2_000, "transmitter B": 2_000, "digital gauge C": 5_000, "dial gauge D": 0}
# Highest pressure, fall rate there, spin time.
RANGES = {"low": (110e5, 0.6e-3 / 60, 240.0), "high": (920e5, 1.2e-3 / 60, 180.0)}


class WholeRun(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        bench = small_bench((LOW, OVERLAP_LOW, OVERLAP_HIGH, HIGH), ("up", "down"), preloads=1)
        cls.bench = bench
        cls.names = [one["name"] for one in bench["instruments"]]
        cls.at_work = cls.enterClassContext(BenchAtWork(bench, quick_scenario(bench)))
        cls.at_work.start_simulator()
        cls.at_work.start_service()
        cls.marks = cls.at_work.wait_for_run(200)
        cls.told = {what: cls.at_work.stillmark(*what.split(), "--json") for what in ("results", "run list", "status")}
        cls.in_words = {what: cls.at_work.stillmark(*what.split()) for what in ("results", "run list", "status")}
        cls.exit_code = cls.at_work.end(cls.at_work.service)
        cls.journal = Journal(cls.at_work.journal)

        def longest_s(range_name, discs):
            """Half the band over the fall rate, which goes with the pressure, or the spin time: the lesser."""
            highest_pa, fall_m_per_s, spin_s = RANGES[range_name]
            pressure_pa = Balance(bench, range_name, discs, bench["instruments"][0]).at_balance_pa()
            return min(4e-3 / (fall_m_per_s * pressure_pa / highest_pa), spin_s)

        cls.floats = {one.number: one for one in floats_of(cls.journal, longest_s)}

    def pressure_pa(self, interval):
        return Balance(self.bench, interval.range, interval.discs, self.bench["instruments"][0]).at_balance_pa()

    def test_every_mark_holds_against_the_truth(self):
        judged = self.at_work.judge(8 * len(self.names))
        self.assertEqual(judged.returncode, 0, judged.stdout)
        self.assertIn("marks stand", judged.stdout)

    def test_replay_makes_every_mark_again(self):
        replay = self.at_work.replay()
        self.assertEqual(replay.returncode, 0, replay.stdout + replay.stderr)

    def test_the_client_tells_what_the_journal_holds(self):
        for what, result in {**self.told, **self.in_words}.items():
            self.assertEqual(result.returncode, 0, f"{what}: {result.stderr}")
        results = json.loads(self.told["results"].stdout)
        self.assertEqual(results["marks"], self.marks)
        self.assertEqual(results["missing"], [])
        self.assertEqual({mark["status"] for mark in results["marks"]}, {"sighted"})
        places = {(mark["channel"], mark["target"], mark["range"], mark["direction"]) for mark in results["marks"]}
        points = (("20 bar", "low"), ("110 bar", "low"), ("110 bar", "high"), ("250 bar", "high"))
        self.assertEqual(places, {(name, *point, way) for name in self.names for point in points
                                  for way in ("rising", "falling")})
        taken = {mark["mark"]: mark for mark in self.journal.facts("MarkTaken")}
        for mark in results["marks"]:
            event = taken[mark["mark"]]
            for key in ("mean_pa", "reference_pa", "u_reference_pa", "u_pa", "deviation_pa", "u_mean_pa"):
                self.assertEqual(mark[key], event[key])
        (run,) = json.loads(self.told["run list"].stdout)
        self.assertEqual((run["id"], run["state"], run["sequence"], run["marks"]), ("R1", "finished", "demo", len(taken)))
        frame = json.loads(self.told["status"].stdout)
        self.assertEqual((frame["run"]["state"], frame["journal"]), ("finished", "recording"))
        self.assertEqual([one["name"] for one in frame["channels"]], self.names)
        for words in ("R1", "finished"):
            self.assertIn(words, self.in_words["run list"].stdout)

    def test_every_window_lies_within_its_float_and_the_guards(self):
        marks = self.journal.facts("MarkTaken")
        self.assertEqual(len(marks), 8 * len(self.names))
        for mark in marks:
            with self.subTest(mark=mark["mark"]):
                name, interval = self.names[mark["channel"]], self.floats[mark["interval"]]
                top = mark["visit"] in (3, 4)
                guard_us = max(SETTLE_US, WAIT_AT_TOP_US if top else WAIT_US) + LATENCY_US[name]
                self.assertGreaterEqual(mark["from_us"] - mark["timing_us"], interval.from_us + guard_us)
                self.assertAlmostEqual(mark["at_balance_pa"] / self.pressure_pa(interval), 1, delta=1e-10)
                self.assertEqual(interval.end, "sighted")
                self.assertLessEqual(mark["to_us"] + mark["timing_us"], min(interval.to_us, interval.expires_us))
                self.assertLess(mark["from_us"], mark["to_us"])
                told = next(one for one in self.marks if one["mark"] == mark["mark"])["float"]
                self.assertEqual((told["number"], told["from_us"], told["to_us"]),
                                 (interval.number, interval.from_us, interval.to_us))

    def test_every_wired_mark_is_the_mean_of_its_journalled_readings(self):
        for mark in self.journal.facts("MarkTaken"):
            if mark["first"] == 0:
                continue
            with self.subTest(mark=mark["mark"]):
                readings = self.journal.readings_of(mark["channel"], mark["first"], mark["last"])
                self.assertEqual(len(readings), mark["count"])
                self.assertEqual({one.status for one in readings}, {0})
                self.assertEqual((readings[0].at_us, readings[-1].at_us), (mark["from_us"], mark["to_us"]))
                self.assertEqual(max(one.timing_us for one in readings), mark["timing_us"])
                mean_pa = math.fsum(one.value_pa for one in readings) / len(readings)
                self.assertAlmostEqual(mark["mean_pa"] / mean_pa, 1, delta=1e-12)
                self.assertGreaterEqual(mark["to_us"] - mark["from_us"], 1_500_000)
                self.assertAlmostEqual(mark["deviation_pa"], mark["mean_pa"] - mark["reference_pa"], delta=1e-6)
                resolved_pa = mark["resolution_pa"] / math.sqrt(12)
                self.assertAlmostEqual(math.hypot(mark["u_reference_pa"], mark["u_mean_pa"], resolved_pa) / mark["u_pa"], 1,
                                       delta=1e-9)

    def test_the_service_stopped_cleanly(self):
        self.assertEqual(self.exit_code, 0)
        self.assertEqual(self.journal.events[-1]["fact"], "ServiceStopped")
        self.assertEqual([event["fact"] for event in self.journal.events[:2]], ["ServiceStarted", "BenchTaken"])


if __name__ == "__main__":
    unittest.main()
