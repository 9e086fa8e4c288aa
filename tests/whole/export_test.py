"""What leaves a journal as tables is what the journal holds, read by a stranger to the program."""
import csv
import datetime
import io
import json
import math
import unittest

from bench_at_work import LOW, BenchAtWork, quick_scenario, small_bench
from journal_in_python import Journal

DONE, WRONG_USE = 0, 2


class Export(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        bench = small_bench((LOW,), instruments="BD")
        cls.at_work = cls.enterClassContext(BenchAtWork(bench, quick_scenario(bench)))
        cls.at_work.start_simulator()
        cls.at_work.start_service()
        cls.told = cls.at_work.wait_for_run(120)
        cls.at_work.end(cls.at_work.service)
        cls.journal = Journal(cls.at_work.journal)
        cls.names = [one["name"] for one in bench["instruments"]]
        cls.dial = next(name for name in cls.names if name.endswith("D"))

    def offset_us(self, at_us):
        """UTC less CLOCK_BOOTTIME at an instant: this machine's wall clock may step while the test runs."""
        anchors = self.journal.facts("ServiceStarted") + self.journal.facts("ClockAnchored")
        latest = max((one for one in anchors if one["at_us"] <= at_us), key=lambda one: one["at_us"])
        return latest["utc_us"] - latest["at_us"]

    def said(self, *arguments):
        return self.at_work.stillmark("export", self.at_work.journal, *arguments)

    def table(self, *arguments):
        said = self.said(*arguments)
        self.assertEqual((said.returncode, said.stderr), (DONE, ""))
        header, *rows = csv.reader(io.StringIO(said.stdout, newline=""), strict=True)
        return [dict(zip(header, row, strict=True)) for row in rows]

    def json(self, *arguments):
        said = self.said(*arguments, "--json")
        self.assertEqual((said.returncode, said.stderr), (DONE, ""))
        return json.loads(said.stdout)

    def marks(self):
        return self.journal.facts("MarkTaken")

    def us_of(self, utc):
        return round((datetime.datetime.fromisoformat(utc.replace("Z", "+00:00")) -
                      datetime.datetime(1970, 1, 1, tzinfo=datetime.timezone.utc)) / datetime.timedelta(microseconds=1))

    def test_marks(self):
        rows = self.table("--run", "R1", "marks")
        self.assertEqual(len(rows), 2)
        for row, mark in zip(rows, self.marks(), strict=True):
            self.assertEqual((row["run"], row["mark"], row["instrument"]),
                             ("R1", str(mark["mark"]), self.names[mark["channel"]]))
            for heading, key in (("reference", "reference_pa"), ("indication", "mean_pa"), ("deviation", "deviation_pa"),
                                 ("u(deviation)", "u_pa"), ("u(reference)", "u_reference_pa")):
                self.assertEqual(float(row[f"{heading} / Pa"]), mark[key], heading)
            self.assertEqual(row["status"], "sighted")
            self.assertEqual(row["untapped / Pa"] != "", row["instrument"] == self.dial)
        self.assertEqual(self.table("marks"), rows)
        told = self.json("--run", "R1", "marks")
        self.assertEqual([one["mark"] for one in told], [one["mark"] for one in self.told])
        self.assertEqual([one["deviation_pa"] for one in told], [one["deviation_pa"] for one in self.told])

    def test_readings_of_a_window(self):
        (mark,) = [one for one in self.marks() if self.names[one["channel"]] != self.dial]
        rows = self.table("--run", "R1", "--mark", mark["mark"], "readings")
        held = self.journal.readings_of(mark["channel"], mark["first"], mark["last"])
        self.assertGreater(len(held), 10)
        offset_us = self.offset_us(mark["at_us"])
        for row, reading in zip(rows, held, strict=True):
            self.assertEqual((int(row["number"]), int(row["boottime / us"])), (reading.number, reading.at_us))
            self.assertEqual(self.us_of(row["utc"]), reading.at_us + offset_us)
            self.assertEqual(float(row["value / Pa"]), reading.value_pa)
            self.assertAlmostEqual(float(row["value / bar"]), reading.value_pa / 1e5, delta=1e-12 * reading.value_pa)
            self.assertEqual(row["status"], "good")
        mean = math.fsum(float(row["value / Pa"]) for row in rows) / len(rows)
        self.assertAlmostEqual(mean, mark["mean_pa"], delta=1e-9 * mean)
        told = self.json("--mark", mark["mark"], "readings")
        self.assertEqual([one["value_pa"] for one in told["readings"]], [one.value_pa for one in held])
        self.assertEqual([one["utc_us"] - one["at_us"] for one in told["readings"]], [offset_us] * len(held))

    def test_readings_of_a_person(self):
        (mark,) = [one for one in self.marks() if self.names[one["channel"]] == self.dial]
        before, after = self.table("--mark", mark["mark"], "readings")
        self.assertEqual((before["status"], after["status"]), ("before tapping", "after tapping"))
        self.assertEqual((float(before["value / Pa"]), float(after["value / Pa"])), (mark["untapped_pa"], mark["tapped_pa"]))
        self.assertEqual((before["number"], after["number"]), ("", ""))

    def test_budget(self):
        for mark in self.marks():
            rows = self.table("--run", "R1", "--mark", mark["mark"], "budget")
            for part, u_pa in (("reference", mark["u_reference_pa"]), ("deviation", mark["u_pa"])):
                lines = [row for row in rows if row["part"] == part]
                self.assertGreater(len(lines), 1)
                total = math.sqrt(math.fsum(float(row["contribution / Pa"]) ** 2 for row in lines))
                self.assertAlmostEqual(total, u_pa, delta=1e-9 * u_pa)
                self.assertAlmostEqual(math.fsum(float(row["share of the variance of its part"]) for row in lines), 1, places=9)
            told = self.json("--run", "R1", "--mark", mark["mark"], "budget")
            self.assertEqual([line["input"] for line in told["lines"] + told["reading"]], [row["input"] for row in rows])

    def test_what_is_not_there_is_told(self):
        for arguments, words in ((("--run", "R9", "marks"), "there is no run R9"),
                                 (("--run", "R1", "--mark", 99, "readings"), "run R1 has no mark 99"),
                                 (("--mark", 99, "budget"), "no run has a mark 99"),
                                 (("--run", "R1", "readings"), "--mark is missing"),
                                 (("--run", "R1", "everything"), "everything")):
            said = self.said(*arguments)
            self.assertEqual((said.returncode, said.stdout), (WRONG_USE, ""), arguments)
            self.assertIn(words, said.stderr)
        said = self.at_work.stillmark("export", self.at_work.folder / "none", "marks")
        self.assertEqual((said.returncode, said.stdout), (WRONG_USE, ""))
        self.assertIn("no such file", said.stderr)
        said = self.at_work.stillmark("export", self.at_work.bench, "--mark", 1, "readings")
        self.assertEqual((said.returncode, said.stdout), (WRONG_USE, ""))


if __name__ == "__main__":
    unittest.main()
