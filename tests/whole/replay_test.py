"""What replay says of marks that were made elsewhere: equal decisions, numbers within 1e-12, every difference printed."""
import json
import math
import shutil
import sqlite3
import unittest

from bench_at_work import LOW, BenchAtWork, quick_scenario, small_bench

SAME, DIFFERS = 0, 1


class Elsewhere(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        bench = small_bench((LOW,), instruments="B")
        cls.at_work = cls.enterClassContext(BenchAtWork(bench, quick_scenario(bench)))
        cls.at_work.start_simulator()
        cls.at_work.start_service()
        cls.at_work.wait_for_run(120)
        cls.at_work.end(cls.at_work.service)

    def replayed(self, of_mark=None, of_service=None):
        """What replay says of a copy in which these keys of the mark and of the service's start are changed."""
        copy = self.at_work.journal.with_name("changed.journal")
        shutil.copyfile(self.at_work.journal, copy)
        database = sqlite3.connect(copy)
        with database:
            for number, body in database.execute("SELECT number, body FROM events").fetchall():
                event = json.loads(body)
                change = {"MarkTaken": of_mark, "ServiceStarted": of_service}.get(event.get("fact"))
                if change:
                    change(event)
                    database.execute("UPDATE events SET body = ? WHERE number = ?", (json.dumps(event), number))
        database.close()
        return self.at_work.replay(copy)

    @staticmethod
    def by_a_bit(mark):
        mark["mean_pa"] = math.nextafter(mark["mean_pa"], math.inf)

    @staticmethod
    def another_libm(service):
        service["libm"] = "another one"

    def test_here_every_bit_counts(self):
        self.assertEqual(self.replayed().returncode, SAME)
        said = self.replayed(self.by_a_bit)
        self.assertEqual(said.returncode, DIFFERS)
        self.assertIn("DIFFERS", said.stdout)
        self.assertRegex(said.stdout, r"mean_pa: journalled [0-9.]+, again [0-9.]+")

    def test_elsewhere_the_last_bit_is_told_and_no_more(self):
        said = self.replayed(self.by_a_bit, self.another_libm)
        self.assertEqual(said.returncode, SAME, said.stdout)
        self.assertIn("equal within 1e-12 on another build or machine", said.stdout)
        self.assertRegex(said.stdout, r"mean_pa: journalled [0-9.]+, again [0-9.]+")
        self.assertIn("1 within 1e-12, 0 differ", said.stdout)

    def test_elsewhere_a_larger_difference_differs(self):
        def by_more(mark):
            mark["mean_pa"] *= 1 + 1e-11
        self.assertEqual(self.replayed(by_more, self.another_libm).returncode, DIFFERS)

    def test_elsewhere_decisions_must_be_equal(self):
        def another_count(mark):
            mark["count"] += 1
        def flagged(mark):
            mark["flags"].append("invented")
        for change in (another_count, flagged):
            said = self.replayed(change, self.another_libm)
            self.assertEqual(said.returncode, DIFFERS, said.stdout)


if __name__ == "__main__":
    unittest.main()
