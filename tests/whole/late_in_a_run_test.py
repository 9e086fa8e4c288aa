"""A run with instruments that are late at random: each reading of each mark is of the request that it was read by.

A value names its request: whole bars are the pressure, hundred-thousandths of a bar count the requests. A request that was
there before its exchange began was another exchange's.
"""
import random
import time
import unittest
from contextlib import ExitStack

from bench_at_work import BenchAtWork, small_bench
from counting_instruments import ModbusRtu, TextLine, TextSerial
from journal_in_python import Journal

GOOD, SILENT, DOUBTFUL = 0, 1, 11
COUNTS_A_BAR = 100_000
LONGEST_RUN_S = 120
POINTS = (1, 2, 3)  # whole bars


class AtPressure:
    """What is added to an instrument: the pressure of the moment, and the number of the request."""

    pressure_bar = 0

    def bar(self, number):
        return self.pressure_bar + number / COUNTS_A_BAR


class Rtu(AtPressure, ModbusRtu):
    pass


class Serial(AtPressure, TextSerial):
    def bar(self, number):
        return f"{super().bar(number):.5f}"


class TerminalServer(AtPressure, TextLine):
    one_after_the_other = True

    def bar(self, number):
        return f"{super().bar(number):.5f}"


def late_at_random(seed, deadline_s, one_in):
    """One answer in so many is 0.5 to 6 deadlines too late, one in three hundred never comes."""
    draw = random.Random(seed)

    def late_s(_):
        if draw.random() < 1 / 300:
            return None
        return deadline_s * (1 + draw.uniform(0.5, 6)) if draw.random() < 1 / one_in else 0.0

    return late_s


class LateInARun(unittest.TestCase):
    def work(self, at_work, instruments):
        """The person's part, until the run is over."""
        with at_work.client() as client:
            client.done("run_start", sequence="demo")
            until = time.monotonic() + LONGEST_RUN_S
            while (frame := client.frame())["run"] and frame["run"]["state"] == "running":
                self.assertLess(time.monotonic(), until, frame["step"])
                step = frame["step"]
                bar = round(step["target_pa"] / 1e5) if step and step["target_pa"] else 0
                for one in instruments:
                    one.pressure_bar = bar
                # A press that comes too late is refused, and the next frame says what is wanted then.
                if step is None or step["wants"] == "nothing":
                    time.sleep(0.1)
                elif step["wants"] == "step_done":
                    client.press("step_done", step=step["number"])
                elif step["wants"] == "load":
                    client.press("load", step=step["number"])
                elif step["wants"] == "confirm":
                    time.sleep(1)  # the winding ends, the readings rest
                    client.press("confirm", range=step["range"])
                elif step["wants"] == "sighted":
                    client.press("sighted", close=True)
                elif step["wants"] == "vented":
                    time.sleep(1)
                    client.press("vented")
                else:
                    self.fail(step)

    def test_no_mark_holds_a_reading_of_another_request(self):
        for kind, text in (("text_serial", Serial), ("text_tcp", TerminalServer)):
            with self.subTest(kind):
                self.run_with(kind, text)

    def run_with(self, kind, text):
        bench = small_bench(POINTS, instruments="AC")
        for one in bench["balance"]["ranges"]:
            one["max_float"] = "10 min"
        for one in bench["instruments"]:
            one["window"], one["hold"] = "1 s", "0.2 s"
        line_c = next(one for one in bench["buses"] if one["name"] == "line C")
        if kind == "text_serial":
            line_c.clear()
            line_c.update(name="line C", kind=kind, device="wire/line-c", baud=38400, parity="none", stop_bits=1,
                          data_bits=8)
        with BenchAtWork(bench) as at_work, ExitStack() as stack:
            rtu = stack.enter_context(Rtu(at_work.folder / "wire/line-a", late_at_random(1, 0.15, 60)))
            place = at_work.folder / "wire/line-c" if kind == "text_serial" else line_c["port"]
            other = stack.enter_context(text(place, late_at_random(2, 0.2, 30)))
            at_work.start_service()
            self.work(at_work, (rtu, other))
            self.assertEqual(at_work.end(at_work.service), 0)
            journal = Journal(at_work.journal)
        marks = journal.facts("MarkTaken")
        self.assertGreaterEqual(len(marks), 2 * len(POINTS))
        counted = 0
        for channel, instrument in enumerate((rtu, other)):
            readings = [one for one in journal.readings if one.channel == channel]
            self.assertGreaterEqual(sum(one.status == SILENT for one in readings), 2, "nothing was late")
            for mark in marks:
                if mark["channel"] != channel:
                    continue
                held = journal.readings_of(channel, mark["first"], mark["last"])
                self.assertGreater(len(held), 8)
                for one in held:
                    self.check_fresh(instrument, one)
                    counted += 1
            for one in readings:
                if one.status == GOOD:
                    self.check_fresh(instrument, one)
        print(f"RTU and {kind}: {len(marks)} marks with {counted} readings, each of its own request; "
              f"{sum(one.status == SILENT for one in journal.readings)} silences, "
              f"{sum(one.status == DOUBTFUL for one in journal.readings)} readings taken back")

    def check_fresh(self, instrument, one):
        self.assertEqual(one.status, GOOD)
        bar = one.value_pa / 1e5
        number = round((bar - int(bar + 1e-7)) * COUNTS_A_BAR)
        asked_us, _ = instrument.exchanges[number]
        # Half a microsecond of each rounding.
        self.assertGreaterEqual(asked_us, one.at_us - one.timing_us - 2, f"request {number} was there before: {one}")


if __name__ == "__main__":
    unittest.main()
