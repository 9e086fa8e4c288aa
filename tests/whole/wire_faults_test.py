"""Each fault of a wire, one after the other: its word, the quiet of the other buses, and that it passes by itself."""
import time
import unittest

from bench_at_work import HIGH, LOW, BenchAtWork, channel_of, now_us, quick_scenario, small_bench
from journal_in_python import Journal

A, B, C = "transmitter A", "transmitter B", "digital gauge C"
GOOD = 0
FAULT_S = 1.3
# A lost instrument is asked once a second, a lost connection is opened again after pauses that grow with the outage.
PAUSE_S = {"disconnect": 3.5}
USUAL_PAUSE_S = 1.6
# What goes wrong, whose, and which words the service may have for it.
FAULTS = [
    ("silence", A, {}, {"silent"}),
    ("late", A, {"by": "0.25 s"}, {"silent", "bad frame"}),
    ("garbage", A, {}, {"bad frame", "silent"}),
    ("bad checksum", A, {}, {"bad frame"}),
    ("exception", A, {"code": 4}, {"refused"}),
    ("disconnect", A, {}, {"link down"}),
    ("wrong address", A, {}, {"bad frame"}),
    ("wrong word order", A, {}, {"not a number", "good"}),
    ("own report", A, {"means": "instrument_fault"}, {"instrument fault"}),
    ("silence", B, {}, {"silent"}),
    ("garbage", B, {}, {"bad frame", "link down"}),
    ("exception", B, {"code": 4}, {"refused"}),
    ("disconnect", B, {}, {"link down"}),
    ("wrong count", B, {}, {"bad frame"}),
    ("stuck value", B, {}, {"good"}),  # at rest it cannot be told from a still one; where pressure moves it is a deviation
    ("silence", C, {}, {"silent"}),
    ("garbage", C, {}, {"not understood", "bad frame"}),
    ("disconnect", C, {}, {"link down"}),
]
LONGEST_AGE_US = 600_000  # six periods of the slowest; a machine under load may skip some


def one_at_a_time():
    """The faults of a scenario, and when each holds: (from, to) in s after the simulator's start."""
    faults, when = [], []
    at_s = 2.0
    for what, instrument, details, _ in FAULTS:
        faults.append({"what": what, "instrument": instrument, "from": f"{at_s} s", "for": f"{FAULT_S} s", **details})
        when.append((at_s, at_s + FAULT_S))
        at_s += FAULT_S + PAUSE_S.get(what, USUAL_PAUSE_S)
    return faults, when


class OneAtATime(unittest.TestCase):
    def test_each_fault_has_its_word_and_passes_by_itself(self):
        faults, when = one_at_a_time()
        bench = small_bench((LOW, HIGH), instruments="ABC")
        with BenchAtWork(bench, quick_scenario(bench, faults)) as at_work:
            began_us = now_us()  # the simulator's own beginning is a moment later
            at_work.start_simulator(operator=False)
            at_work.start_service()
            frames = []
            with at_work.client() as client:
                client.ask("subscribe", at_most_hz=20)
                until = time.monotonic() + when[-1][1] + PAUSE_S["disconnect"]
                while time.monotonic() < until:
                    line = client.line(time.monotonic() + 2)
                    self.assertIsNotNone(line, "frames stopped")
                    frames.append(line["frame"])
            self.assertEqual(at_work.end(at_work.service), 0)
            journal = Journal(at_work.journal)
        for (what, instrument, _, words), (from_s, to_s) in zip(FAULTS, when):
            with self.subTest(what=what, instrument=instrument):
                self.check_fault(frames, instrument, words, began_us, from_s, to_s, PAUSE_S.get(what, USUAL_PAUSE_S))
        with self.subTest("the readings that are not good"):
            self.check_values(journal, began_us, when)

    def check_fault(self, frames, instrument, words, began_us, from_s, to_s, pause_s):
        def between(start_s, end_s):
            return [frame for frame in frames if start_s * 1e6 <= frame["at_us"] - began_us < end_s * 1e6]

        during, after = between(from_s + 0.7, to_s), between(to_s + pause_s - 0.4, to_s + pause_s)
        self.assertGreater(len(during), 4)
        self.assertGreater(len(after), 2)
        seen = {channel_of(frame, instrument)["status"] for frame in during}
        self.assertTrue(seen and seen <= words, f"{seen} instead of {words}")
        self.assertEqual({channel_of(frame, instrument)["status"] for frame in after}, {"good"}, "it passes by itself")
        for frame in between(from_s, to_s):
            for channel in frame["channels"]:
                if channel["name"] == instrument:
                    if channel["status"] != "good":
                        self.assertIn(channel["status"], words | {"silent", "bad frame"})
                else:
                    self.assertEqual(channel["status"], "good", f"{channel['name']} was disturbed")
                    self.assertLess(channel["age_us"], LONGEST_AGE_US, f"{channel['name']} was disturbed")

    def check_values(self, journal, began_us, when):
        """Gauges at rest show zero within a bar: whatever else came was not taken as good, but for swapped words."""
        swapped = next(span for fault, span in zip(FAULTS, when) if fault[0] == "wrong word order")
        for one in journal.readings:
            in_s = (one.at_us - began_us) / 1e6
            if one.status == GOOD and not swapped[0] <= in_s <= swapped[1] + 0.5:
                self.assertLess(abs(one.value_pa), 1e5, one)
        self.assertGreater(sum(one.status == GOOD for one in journal.readings), 1000)


if __name__ == "__main__":
    unittest.main()
