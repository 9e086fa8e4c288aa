"""Each journalled reading against the instrument's own account of the exchange: whose answer it is, and when it was."""
import statistics
import time
import unittest
from contextlib import ExitStack

from bench_at_work import BenchAtWork, small_bench
from counting_instruments import ModbusRtu, ModbusTcp, TextLine
from journal_in_python import Journal

GOOD, SILENT = 0, 1


def every_seventh_late(number):
    """Later than the deadline (150 and 200 ms), later than the next requests, or never."""
    return {3: 0.21, 10: 0.26, 17: 0.45, 24: None, 31: 0.9}.get(number % 35, 0.0)


def watch(for_s, late_s):
    """What three instruments answered, and what the journal says of it: name -> (exchanges, readings)."""
    bench = small_bench(instruments="ABC")
    ports = {bus["name"]: bus.get("port") for bus in bench["buses"]}
    with BenchAtWork(bench) as at_work, ExitStack() as stack:
        instruments = [stack.enter_context(one) for one in (
            ModbusRtu(at_work.folder / "wire/line-a", late_s), ModbusTcp(ports["line B"], late_s),
            TextLine(ports["line C"], late_s))]
        at_work.start_service()
        at_work.client().close()
        time.sleep(for_s)
        assert at_work.end(at_work.service) == 0
        journal = Journal(at_work.journal)
        parts_per_bar = (128, 1000, 100)
        told = {}
        for channel, (instrument, parts) in enumerate(zip(instruments, parts_per_bar)):
            readings = [one for one in journal.readings if one.channel == channel]
            for one in readings:
                one.exchange = round(one.value_pa / 1e5 * parts)
            told[bench["instruments"][channel]["name"]] = (dict(instrument.exchanges), readings)
        return told


class Exchanges(unittest.TestCase):
    def check_stamps(self, name, exchanges, readings):
        errors_us = []
        for one in readings:
            if one.status != GOOD:
                continue
            asked_us, answered_us = exchanges[one.exchange]
            # The instrument's instant lies between question and answer, and so within half the exchange of the stamp. What
            # a kernel's scheduling adds to python's own two looks at the clock is outside of the exchange.
            for truly_us in (asked_us, answered_us):
                self.assertLessEqual(abs(one.at_us - truly_us), one.timing_us + 500, f"{name}: {one}")
            errors_us.append(one.at_us - (asked_us + answered_us) / 2)
        return errors_us

    def test_a_reading_is_stamped_within_its_stated_timing_uncertainty(self):
        for name, (exchanges, readings) in watch(6, lambda number: 0.0).items():
            with self.subTest(name):
                errors_us = self.check_stamps(name, exchanges, readings)
                self.assertGreater(len(errors_us), 40)
                print(f"{name}: {len(errors_us)} stamps, median error {statistics.median(errors_us):+.0f} us, "
                      f"median stated +-{statistics.median(one.timing_us for one in readings):.0f} us")
                self.assertLess(abs(statistics.median(errors_us)), 5_000)

    def test_a_late_answer_is_never_taken_for_the_next(self):
        for name, (exchanges, readings) in watch(20, every_seventh_late).items():
            with self.subTest(name):
                good = [one for one in readings if one.status == GOOD]
                self.check_stamps(name, exchanges, readings)
                numbers = [one.exchange for one in good]
                self.assertEqual(numbers, sorted(set(numbers)), "an answer was taken twice, or after a later one")
                late = {number for number, (asked_us, answered_us) in exchanges.items()
                        if answered_us is None or answered_us - asked_us > 205_000}
                self.assertGreaterEqual(len(late), 8)
                self.assertEqual(late & set(numbers), set(), "a late answer was taken")
                self.assertGreater(sum(one.status == SILENT for one in readings), 5)
                self.assertGreater(len(good), 60)


if __name__ == "__main__":
    unittest.main()
