"""`stillmark evaluate --stability`: Allan deviations of a column of values, and what tables are refused."""
import json
import pathlib
import tempfile
import unittest

import numpy

from evaluation.command import DONE, WRONG_USE, call

NINE = [892, 809, 823, 798, 671, 644, 883, 903, 677]


def stability(text, *options):
    with tempfile.TemporaryDirectory(prefix="stillmark-stability-") as folder:
        file = pathlib.Path(folder) / "table.csv"
        file.write_bytes(text if isinstance(text, bytes) else text.encode())
        return call(file, "--stability", *options)


def column(values, heading="value"):
    return "\n".join([heading, *map(repr, values)]) + "\n"


def with_times(times, values=NINE, heading="time,value"):
    return "\n".join([heading, *(f"{t!r},{v!r}" for t, v in zip(times, values))]) + "\n"


def plain(values, m):
    """The definitions as they are written down (NIST SP 1065, 5.2), each average by itself: (ADEV, overlapping, modified)
    with their terms."""
    values = numpy.asarray(values, dtype=float)
    averages = numpy.array([values[i:i + m].mean() for i in range(values.size - m + 1)])
    apart = averages[m:] - averages[:-m]  # of adjacent averages, at every place
    deviation = lambda of: (numpy.sqrt(numpy.mean(of**2) / 2), of.size) if of.size else None
    means = numpy.array([apart[i:i + m].mean() for i in range(apart.size - m + 1)])
    return deviation(apart[::m]), deviation(apart), deviation(means)


class Published(unittest.TestCase):
    def test_nine_values_of_the_handbook(self):
        """NIST SP 1065, p. 107."""
        done = stability(column(NINE), "--json")
        self.assertEqual((done.returncode, done.stderr), (DONE, b""))
        found = json.loads(done.stdout)
        one, two, four = found["times"]
        for name in ("adev", "overlapping_adev", "modified_adev"):
            self.assertAlmostEqual(one[name]["deviation"], 91.22945, places=5)
            self.assertEqual(one[name]["terms"], 8)
        self.assertAlmostEqual(two["adev"]["deviation"], 115.8082, places=4)
        self.assertAlmostEqual(two["overlapping_adev"]["deviation"], 85.95287, places=5)
        self.assertAlmostEqual(two["modified_adev"]["deviation"], 74.78849, places=5)
        self.assertAlmostEqual(one["tdev"], 52.67135, places=5)
        self.assertAlmostEqual(two["tdev"], 86.35831, places=5)
        self.assertIsNone(four["modified_adev"])
        self.assertEqual((found["interval_s"], one["tau_s"], found["tdev_time_unit"]), (None, None, "sampling interval"))

    def test_the_report_shows_them(self):
        text = stability(column(NINE, "value [bar]"), "--interval", "2 s").stdout.decode()
        lines = [" ".join(line.split()) for line in text.splitlines()]
        self.assertIn("9 values in bar, 2 s apart.", lines[0])
        self.assertIn("NIST SP 1065, 5.2", text)
        self.assertIn("tau/s ADEV terms overlapping terms modified terms TDEV", lines)
        self.assertIn("2 91.22945 8 91.22945 8 91.22945 8 105.3427", lines)
        self.assertIn("4 115.8082 3 85.95287 6 74.78849 5 172.7166", lines)
        self.assertIn("8 39.06765 1 27.63518 2 - - -", lines)
        self.assertLessEqual(max(map(len, text.splitlines())), 100)


class ByDefinition(unittest.TestCase):
    def test_random_values_by_the_definitions(self):
        random = numpy.random.default_rng(1139)
        for size in (2, 3, 5, 17, 64, 301):
            values = 700 + numpy.cumsum(random.normal(0, 0.1, size)) + random.normal(0, 1, size)
            found = json.loads(stability(column(values.tolist()), "--json").stdout)
            self.assertEqual([one["intervals"] for one in found["times"]],
                             [2**i for i in range(20) if 2**i <= size // 2])
            for one in found["times"]:
                m = one["intervals"]
                for name, wanted in zip(("adev", "overlapping_adev", "modified_adev"), plain(values, m)):
                    if wanted is None:
                        self.assertIsNone(one[name])
                        continue
                    self.assertEqual(one[name]["terms"], wanted[1])
                    numpy.testing.assert_allclose(one[name]["deviation"], wanted[0], rtol=1e-9)
                if one["modified_adev"]:
                    self.assertAlmostEqual(one["tdev"], m * one["modified_adev"]["deviation"] / 3**0.5, places=9)


class Times(unittest.TestCase):
    def test_a_column_of_times_gives_the_interval(self):
        for heading, step, seconds in (("time,value", 0.5, 0.5), ("time [ms],value", 500, 0.5), ("time [min],value", 2, 120),
                                       ("Time (h),Value", 1, 3600)):
            found = json.loads(stability(with_times([100 + step * i for i in range(9)], heading=heading), "--json").stdout)
            self.assertAlmostEqual(found["interval_s"], seconds, places=9)
            self.assertAlmostEqual(found["times"][1]["tau_s"], 2 * seconds, places=9)
            self.assertAlmostEqual(found["times"][1]["tdev"], 86.35831 * seconds, delta=1e-5 * seconds)

    def test_a_step_may_be_off_by_a_twentieth(self):
        times = [0, 1.04, 2, 3.04, 4, 5, 6, 7, 8]
        self.assertEqual(stability(with_times(times)).returncode, DONE)

    def refused(self, text, words, *options):
        done = stability(text, *options)
        self.assertEqual((done.returncode, done.stdout), (WRONG_USE, b""))
        self.assertIn(words, done.stderr.decode())

    def test_gaps_and_unequal_steps_are_refused_with_their_place(self):
        self.refused(with_times([0, 1, 2, 3, 5, 6, 7, 8, 9]),
                     "table.csv: line 6: 2 s after the value before it, where the steps are 1 s")
        self.refused(with_times([0, 1, 2, 3.06, 4, 5, 6, 7, 8]), "line 5: 1.06 s after")
        self.refused(with_times([0, 1, 2, 2, 3, 4, 5, 6, 7]), "line 5: the time is not after the one before it")
        self.refused(with_times([0, 1, 2, 1, 3, 4, 5, 6, 7]), "line 5: the time is not after the one before it")
        self.refused("value\n1\n2\n\n3\n4\n", "table.csv: line 4: the row is empty, a gap")
        self.refused("time,value\n0,1\n,\n2,3\n", "line 3: the row is empty, a gap")
        self.refused("value\n\n2\n3\n", "line 2: the row is empty, a gap")
        self.refused("time,value\n0,1\n1,\n2,3\n", "line 3: column value: it is empty")
        self.refused("value\n1\nnan\n3\n", "line 3: column value: \"nan\"")

    def test_other_tables_are_refused_with_a_reason(self):
        self.refused("", "it is empty; the first line names the columns: value, or time,value")
        self.refused("value\n", "0 values; the smallest averaging time takes two")
        self.refused("value\n1\n", "1 values; the smallest")
        self.refused("time\n1\n2\n", "the column \"value\" is missing")
        self.refused("value,value\n1,2\n", "the column \"value\" is there twice")
        self.refused("series,value\n1,2\n", "column 1: \"series\" is not a column; use value and time")
        self.refused("time [bar],value\n1,2\n", "line 1: time:")
        self.refused(column(NINE), "--interval:", "--interval", "2 bar")
        self.refused(column(NINE), "is no time between two values", "--interval", "0 s")
        self.refused(with_times(range(9)), "the table has a column time", "--interval", "1 s")
        self.refused(column(NINE), "take --settings and --inverse away", "--inverse", "3")

    def test_an_interval_belongs_to_a_stability(self):
        with tempfile.TemporaryDirectory(prefix="stillmark-stability-") as folder:
            file = pathlib.Path(folder) / "table.csv"
            file.write_text(column(NINE), encoding="utf-8")
            done = call(file, "--interval", "1 s")
        self.assertEqual(done.returncode, WRONG_USE)
        self.assertIn("--interval belongs to --stability", done.stderr.decode())

    def test_a_byte_order_mark_and_a_last_empty_line_do_no_harm(self):
        found = json.loads(stability(b"\xef\xbb\xbf" + column(NINE).encode() + b"\n", "--json").stdout)
        self.assertEqual(found["values"], 9)


if __name__ == "__main__":
    unittest.main()
