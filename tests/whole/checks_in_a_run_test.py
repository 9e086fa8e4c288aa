"""Checks before a run through all programs: a bench that is cold, holds air and weeps is found out, put right, and goes on."""
import csv
import json
import unittest

from bench_at_work import LOW, BenchAtWork, quick_scenario, small_bench

WATCH_S = 3
CHECKS = {
    "warm_up": "6 min",
    "level": "1 mrad",
    "purge": {"to": "50 bar", "turns": 1.5,
              "valves": ["Close valve V1 (wide piston).", "Close valve V2 (narrow piston alone)."]},
    "leak": {"at": "400 bar", "settle": "0.5 s", "watch": f"{WATCH_S} s", "drop": "0.1 bar", "channel": "transmitter A",
             "valves": ["Close valve V1 (wide piston).", "Close valve V2 (narrow piston alone)."]},
    "zero": {},
}


def fall_of_the_truth(path, until_us):
    """How far the true pressure fell within the watch that ended at an instant, in Pa: the mean slope of the log's rows."""
    with open(path, encoding="utf-8", newline="") as file:
        rows = list(csv.reader(line for line in file if not line.startswith("#")))
    heading = rows[0]
    at, pressure = heading.index(next(name for name in heading if "us" in name)), heading.index(
        next(name for name in heading if "pressure" in name))
    seen = [(int(row[at]) / 1e6, float(row[pressure])) for row in rows[1:]
            if until_us - WATCH_S * 1e6 <= int(row[at]) <= until_us]
    mean_t = sum(t for t, _ in seen) / len(seen)
    mean_p = sum(p for _, p in seen) / len(seen)
    slope = sum((t - mean_t) * (p - mean_p) for t, p in seen) / sum((t - mean_t) ** 2 for t, _ in seen)
    return -slope * WATCH_S


class ChecksInARun(unittest.TestCase):
    def test_what_the_bench_hides_is_found_and_recorded(self):
        bench = small_bench(points=(LOW,), instruments="AD")
        bench["checks"] = CHECKS
        scenario = quick_scenario(bench, powered="5 min")
        scenario["hydraulics"].update({"leak": {"drop": "2 bar", "within": f"{WATCH_S} s", "at": "400 bar"},
                                       "trapped_air": "2 cm3"})
        with BenchAtWork(bench, scenario) as at_work:
            at_work.start_simulator()
            at_work.start_service()
            at_work.wait_for_run(150)
            told = json.loads(at_work.stillmark("results", "--json").stdout)
            shown = at_work.stillmark("results").stdout
            replay = at_work.replay()
            at_work.end(at_work.service)
            at_work.end(at_work.simulator)
            leaks = [one for one in told["checks"] if one["check"] == "leak"]
            # A result comes half a second after the last reading of its watch.
            true_fall = fall_of_the_truth(at_work.truth, leaks[0]["at_us"] - 500_000)
        self.assertEqual(replay.returncode, 0, replay.stdout + replay.stderr)
        self.assertEqual(told["run"]["state"], "finished")

        course = [(one["check"], one["channel"], one["passed"]) for one in told["checks"]]
        self.assertEqual(course, [
            ("warm-up", None, False), ("warm-up", None, True), ("level", None, True),
            ("purge", None, False), ("purge", None, True), ("leak", None, False), ("leak", None, True),
            ("zero", "transmitter A", True), ("zero", "dial gauge D", True)])
        self.assertTrue(all(one["waived_because"] is None for one in told["checks"]))
        by_person = {one["check"] for one in told["checks"] if one["by"]}
        self.assertEqual(by_person, {"warm-up", "level", "purge", "zero"})

        # The leak is what the line really lost, to the transmitter's own error and noise.
        self.assertGreater(true_fall, 1e5)
        self.assertAlmostEqual(leaks[0]["value"] / true_fall, 1, delta=0.05)
        self.assertEqual((leaks[0]["limit"], leaks[0]["unit"]), (1e4, "Pa"))
        self.assertGreater(leaks[0]["last"] - leaks[0]["first"], 30)
        self.assertLess(abs(leaks[1]["value"]), 1e4)

        self.assertIn("Checks before the run", shown)
        self.assertIn("FAILED  transmitter A fell by", shown)


if __name__ == "__main__":
    unittest.main()
