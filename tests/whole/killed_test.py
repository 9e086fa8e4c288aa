"""The service is killed in the middle of reading, twice in one run: it goes on at the same point, and nothing is lost."""
import signal
import time
import unittest

from bench_at_work import HIGH, LOW, OVERLAP_HIGH, OVERLAP_LOW, BenchAtWork, quick_scenario, small_bench
from journal_in_python import Journal

GOING_ON_WITHIN_S = 30
SIGHTED = "sighted"


class Killed(unittest.TestCase):
    def read_with_open_float(self, client, point):
        """The frame in which the run reads at this point, its float is open, and some mark but not all are taken."""
        def holds(frame):
            step, marks = frame["step"], frame["marks"]
            return (step is not None and step["kind"] == "read" and step["title"].startswith(f"Point {point} of")
                    and frame["float"]["state"] == "confirmed"
                    and any(mark["point"] == point and mark["status"] == "provisional" for mark in marks))
        return client.frame_where(holds, 60, f"reading at point {point} with a mark taken")

    def kill_and_start_again(self, at_work, point):
        with at_work.client() as client:
            frame = self.read_with_open_float(client, point)
            before = client.ask("results")["results"]
            runs_before = client.ask("run_list")["runs"]
        at_work.end(at_work.service, signal.SIGKILL)
        time.sleep(1)
        began = time.monotonic()
        at_work.start_service()
        with at_work.client(GOING_ON_WITHIN_S) as client:
            after = client.ask("results")["results"]
            back = client.frame()
            took_s = time.monotonic() - began
            runs_after = client.ask("run_list")["runs"]
            advice = " ".join(one["text"] for one in back["advice"])
            again = client.frame_where(
                lambda one: one["float"]["state"] == "confirmed" and one["step"] and one["step"]["kind"] == "read"
                and one["step"]["number"] == frame["step"]["number"], GOING_ON_WITHIN_S, "the same reading step again")
            went_on_s = time.monotonic() - began
        print(f"point {point}: answers {took_s:.2f} s after its start, reads at the same step after {went_on_s:.2f} s")
        self.assertLess(went_on_s, GOING_ON_WITHIN_S)
        self.assertEqual(again["step"]["title"], frame["step"]["title"])
        self.assertEqual((runs_after[0]["id"], runs_after[0]["started_us"], runs_after[0]["state"]),
                         (runs_before[0]["id"], runs_before[0]["started_us"], "running"))
        return before, after, advice

    def check_nothing_is_lost(self, before, after):
        """Each mark that was told of is there still, with every number; only what nobody saw the end of has changed."""
        marks = {mark["mark"]: mark for mark in after["marks"]}
        open_float = max(mark["float"]["number"] for mark in before["marks"])
        for mark in before["marks"]:
            now = marks[mark["mark"]]
            same = {key for key in mark if key not in ("status", "float")}
            self.assertEqual({key: mark[key] for key in same}, {key: now[key] for key in same})
            if mark["float"]["number"] == open_float:
                self.assertEqual((mark["status"], now["status"]), ("provisional", "unbracketed"))
                self.assertEqual(now["float"]["end"], "unknown")
            else:
                self.assertEqual((mark["status"], mark["float"]), (now["status"], now["float"]))

    def test_a_killed_service_goes_on_where_it_was(self):
        bench = small_bench((LOW, OVERLAP_LOW, OVERLAP_HIGH, HIGH))
        with BenchAtWork(bench, quick_scenario(bench)) as at_work:
            at_work.start_simulator()
            at_work.start_service()
            for point in (2, 4):
                before, after, advice = self.kill_and_start_again(at_work, point)
                self.check_nothing_is_lost(before, after)
                self.assertIn("the service was away while the piston floated: look at the piston and confirm again", advice)
            at_work.wait_for_run(120)
            judged = at_work.judge(4 * 4)
            self.assertEqual(judged.returncode, 0, judged.stdout)
            with at_work.client() as client:
                results = client.ask("results")["results"]
            self.check_nothing_is_lost(before, results)
            self.assertEqual((results["run"]["state"], results["missing"]), ("finished", []))
            good = [(mark["channel"], mark["point"]) for mark in results["marks"] if mark["status"] == SIGHTED]
            self.assertEqual(len(good), len(set(good)))
            self.assertEqual(len(good), 16)
            self.assertEqual(at_work.end(at_work.service), 0)
            replay = at_work.replay()
            self.assertEqual(replay.returncode, 0, replay.stdout + replay.stderr)
            journal = Journal(at_work.journal)
            self.assertEqual(len(journal.facts("ServiceStarted")), 3)
            self.assertEqual(len(journal.facts("FloatUnknown")), 2)
            self.assertEqual(len(journal.facts("BenchTaken")), 1)
            numbers = [one["number"] for one in journal.events] + [one.number for one in journal.readings]
            self.assertEqual(len(numbers), len(set(numbers)), "a number stands twice in the one order")


if __name__ == "__main__":
    unittest.main()
