"""A sequence by a method's name through all programs: planned loads, zeros with the line open, instruments clamped anew."""
import json
import unittest

from bench_at_work import BenchAtWork, quick_scenario, small_bench

NOT_CONFIRMED = "method data not confirmed against the edition"


def bench_with_method():
    bench = small_bench(instruments="AD")
    bench["sequences"] = [{
        "name": "demo", "title": "Invented: a method by its name, hurried", "method": "DKD-R 6-1 C", "up_to": "80 bar",
        "wait": "0.3 s", "wait_at_top": "0.5 s", "preloads": {"count": 1, "hold": "0.5 s"},
        "series": ["up", "down", {"direction": "up", "reclamp": True, "points": ["0 bar", "80 bar"]}],
    }]
    return bench


class MethodRun(unittest.TestCase):
    def test_a_method_is_worked_through_and_evaluated(self):
        bench = bench_with_method()
        with BenchAtWork(bench, quick_scenario(bench)) as at_work:
            at_work.start_simulator()
            at_work.start_service()
            at_work.wait_for_run(200)
            told = json.loads(at_work.stillmark("results", "--json").stdout)
            shown = at_work.stillmark("results").stdout
            replay = at_work.replay()
            at_work.end(at_work.service)
        self.assertEqual(replay.returncode, 0, replay.stdout + replay.stderr)

        run = told["run"]
        self.assertEqual((run["state"], run["method"], run["method_confirmed"]), ("finished", "DKD-R 6-1 C", None))
        self.assertIn("wait at a point 0.3 s where DKD-R 6-1 C asks for 30 s", run["departures"])
        self.assertIn("3 series where DKD-R 6-1 C asks for 2", run["departures"])

        # Five points up and down (DKD-R 6-1 C, second hand), and two of them after clamping anew; two instruments.
        self.assertEqual(len(told["marks"]), 2 * (5 + 5 + 2))
        self.assertEqual(told["missing"], [])
        zeros = [mark for mark in told["marks"] if mark["target_pa"] == 0]
        self.assertEqual(len(zeros), 2 * 3)
        for mark in zeros:
            self.assertEqual(mark["status"], "vented")
            self.assertIsNone(mark["range"])
            self.assertIsNone(mark["float"]["from_us"], "no float is behind a zero")
            # 85 mm of oil below the mark, or 140 mm above: within 2 kPa of nothing.
            self.assertLess(abs(mark["reference_pa"]), 2000)
        self.assertTrue(all(mark["status"] == "sighted" for mark in told["marks"] if mark["target_pa"] > 0))

        by_name = {one["channel"]: one for one in told["evaluations"]}
        self.assertEqual(set(by_name), {"transmitter A", "dial gauge D"})
        transmitter = by_name["transmitter A"]
        self.assertEqual(len(transmitter["points"]), 5)
        self.assertTrue(transmitter["points"][0]["zero"])
        self.assertIsNotNone(transmitter["zero_deviation"])
        self.assertIsNotNone(transmitter["largest"]["reproducibility"])
        self.assertIn(transmitter["verdict"], ("pass", "fail"))
        self.assertIn(NOT_CONFIRMED, [one["why"] for one in transmitter["unsaid"]])
        self.assertIn("Evaluation of transmitter A", shown)
        self.assertIn(NOT_CONFIRMED, shown)


if __name__ == "__main__":
    unittest.main()
