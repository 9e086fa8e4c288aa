"""Faults of the wires in the middle of a run: it waits, says what for, and goes on by itself with good readings alone."""
import unittest

from bench_at_work import HIGH, LOW, BenchAtWork, channel_of, quick_scenario, small_bench
from journal_in_python import Journal

A, B, C = "transmitter A", "transmitter B", "digital gauge C"
GOOD = 0


class InARun(unittest.TestCase):
    def test_the_run_waits_says_what_for_and_goes_on(self):
        def at(point):
            return {"at": {"point": point, "direction": "rising", "step": "read"}, "for": "4 s"}

        faults = [{"what": "exception", "instrument": A, "code": 4, **at(1)},
                  {"what": "silence", "instrument": C, "every": 2, **at(1)},
                  {"what": "disconnect", "instrument": B, **at(2)},
                  {"what": "garbage", "instrument": C, **at(2)}]
        bench = small_bench((LOW, HIGH), instruments="ABC")
        with BenchAtWork(bench, quick_scenario(bench, faults)) as at_work:
            at_work.start_simulator()
            at_work.start_service()
            with at_work.client() as client:
                self.check_waiting(client, 1, {A: {"refused"}})
                self.check_waiting(client, 2, {B: {"link down"}, C: {"not understood", "bad frame"}})
            marks = at_work.wait_for_run(60)
            judged = at_work.judge(6)
            self.assertEqual(judged.returncode, 0, judged.stdout)
            self.assertEqual(at_work.end(at_work.service), 0)
            self.assertEqual(at_work.replay().returncode, 0)
            journal = Journal(at_work.journal)
        self.assertEqual({mark["status"] for mark in marks}, {"sighted"})
        for mark in journal.facts("MarkTaken"):
            readings = journal.readings_of(mark["channel"], mark["first"], mark["last"])
            self.assertEqual({one.status for one in readings}, {GOOD}, "a mark from a bad reading")
            self.assertEqual(len(readings), mark["count"])

    def check_waiting(self, client, point, faulty):
        def waits(frame):
            step = frame["step"]
            if step is None or step["kind"] != "read" or not step["title"].startswith(f"Point {point} of"):
                return False
            return all(channel_of(frame, name)["status"] in words and channel_of(frame, name)["stillness"] in ("faulty", "silent")
                       for name, words in faulty.items())

        frame = client.frame_where(waits, 40, f"point {point} waits for {faulty}")
        self.assertEqual(frame["step"]["wants"], "nothing")
        for name in faulty:
            self.assertRegex(frame["step"]["waits_for"], rf"{name}: the reading is (faulty|silent)")
            self.assertEqual(channel_of(frame, name)["mark"], "waiting")


if __name__ == "__main__":
    unittest.main()
