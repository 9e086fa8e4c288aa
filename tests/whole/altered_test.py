"""One reading altered in a finished journal: replay finds the mark that no longer follows from its readings."""
import shutil
import sqlite3
import struct
import time
import unittest

from bench_at_work import LOW, BenchAtWork, quick_scenario, small_bench
from journal_in_python import Journal, readings_of_block, value_offset


class Altered(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        bench = small_bench((LOW,), instruments="B")
        cls.at_work = cls.enterClassContext(BenchAtWork(bench, quick_scenario(bench)))
        cls.at_work.start_simulator(operator=False)
        cls.at_work.start_service()
        with cls.at_work.client() as client:
            client.done("run_start", sequence="demo")
            while (step := client.frame()["step"])["kind"] == "do":
                client.done("step_done", step=step["number"])
            client.done("load", step=step["number"])
            for times in (1, 2):  # a mark, and another that takes its place
                client.insists("confirm", range="low")
                client.frame_where(lambda frame: frame["step"]["wants"] == "sighted", 20, "a mark, and a look that counts")
                if times == 1:
                    client.done("lost")
                    time.sleep(0.1)
            client.insists("sighted", close=True)
            step = client.frame_where(lambda frame: frame["step"]["kind"] == "do", 5, "the last step")["step"]
            client.done("step_done", step=step["number"])
            client.frame_where(lambda frame: frame["run"]["state"] == "finished", 5, "the end of the run")
        cls.at_work.end(cls.at_work.service)
        cls.marks = Journal(cls.at_work.journal).facts("MarkTaken")

    def copy(self, name):
        to = self.at_work.folder / name
        shutil.copy(self.at_work.journal, to)
        return to

    def change_reading(self, path, number, change):
        """Writes another value in place of a reading's, in its block, and leaves every other bit as it was."""
        base = sqlite3.connect(path)
        first, channel, data = base.execute(
            "SELECT first_number, channel, columns FROM blocks WHERE first_number <= ? AND channel = 0"
            " ORDER BY first_number DESC LIMIT 1", (number,)).fetchone()
        place = [one.number for one in readings_of_block(first, channel, data)].index(number)
        at = value_offset(data)[0] + 8 * place
        (value,) = struct.unpack_from("<d", data, at)
        data = data[:at] + struct.pack("<d", change(value)) + data[at + 8:]
        base.execute("UPDATE blocks SET columns = ? WHERE first_number = ?", (data, first))
        base.commit()
        base.close()

    def test_an_unaltered_copy_is_the_same(self):
        replay = self.at_work.replay(self.copy("unaltered"))
        self.assertEqual(replay.returncode, 0, replay.stdout + replay.stderr)
        self.assertEqual(len(self.marks), 2)

    def test_a_reading_altered_by_a_pascal_is_found_in_its_mark(self):
        for mark in self.marks:
            number = (mark["first"] + mark["last"]) // 2
            readings = Journal(self.at_work.journal).readings_of(0, mark["first"], mark["last"])
            number = min((one.number for one in readings), key=lambda one: abs(one - number))
            altered = self.copy(f"altered-{mark['mark']}")
            self.change_reading(altered, number, lambda value: value + 1)
            replay = self.at_work.replay(altered)
            self.assertEqual(replay.returncode, 1, replay.stdout + replay.stderr)
            (other,) = [one["mark"] for one in self.marks if one is not mark]
            self.assertRegex(replay.stdout, rf"mark +{mark['mark']} .*DIFFERS")
            self.assertRegex(replay.stdout, rf"mark +{other} .*same to the last bit")
            self.assertIn("mean_pa: journalled", replay.stdout)

    def test_a_number_altered_in_a_mark_is_found(self):
        altered = self.copy("altered-mark")
        base = sqlite3.connect(altered)
        number, body = base.execute("SELECT number, body FROM events WHERE body LIKE '%MarkTaken%' ORDER BY number").fetchone()
        mean = str(self.marks[0]["mean_pa"])
        self.assertIn(mean, body)
        base.execute("UPDATE events SET body = ? WHERE number = ?", (body.replace(mean, "1.5", 1), number))
        base.commit()
        base.close()
        self.assertEqual(self.at_work.replay(altered).returncode, 1)

    def test_a_confirmation_taken_away_is_found(self):
        without = self.copy("without-confirmation")
        base = sqlite3.connect(without)
        base.execute("DELETE FROM events WHERE number = (SELECT MIN(number) FROM events WHERE body LIKE '%FloatConfirmed%')")
        base.commit()
        base.close()
        self.assertEqual(self.at_work.replay(without).returncode, 1, "a mark without a float around it")


if __name__ == "__main__":
    unittest.main()
