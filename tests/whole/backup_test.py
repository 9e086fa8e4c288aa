"""A journal is copied while the service writes it, verified by the programs and by a strange one, and restored from the copy."""
import shutil
import sqlite3
import subprocess
import sys
import time
import unittest

from bench_at_work import BUILD, LOW, SOURCE, BenchAtWork, quick_scenario, small_bench, wait_until
from journal_in_python import Journal

sys.path.insert(0, str(SOURCE / "tests/journal"))
import verify_by_python  # noqa: E402


def stillmark(*arguments):
    return subprocess.run([str(BUILD / "stillmark"), *map(str, arguments)], capture_output=True, text=True, timeout=60,
                          check=False)


class Backup(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        bench = small_bench((LOW,), instruments="B")
        cls.at_work = cls.enterClassContext(BenchAtWork(bench, quick_scenario(bench)))
        cls.at_work.start_simulator(operator=False)
        cls.at_work.start_service()
        cls.key = cls.at_work.folder / "run.journal.key"
        cls.public = cls.at_work.folder / "run.journal.key.pub"
        cls.at_work.client().close()

    def copy_of(self, name, *options):
        to = self.at_work.folder / name
        said = stillmark("backup", "--journal-only", self.at_work.journal, to, *options)
        self.assertEqual(said.returncode, 0, said.stdout + said.stderr)
        self.assertIn("content identical to what was written", said.stdout)
        return to

    def digest_told(self, said):
        number, digest = said.stdout.split("digest at number ")[1].split()[:2]
        return f"{number.rstrip(':')}:{digest}"

    def test_1_a_copy_is_made_while_readings_come_in(self):
        first = self.copy_of("first.copy")
        time.sleep(1)
        second = self.copy_of("second.copy")
        self.assertGreater(len(Journal(second).readings), len(Journal(first).readings))
        said = stillmark("verify", second, "--key", self.public, "--against", first)
        self.assertEqual(said.returncode, 0, said.stdout + said.stderr)
        self.assertIn("holds all that is in", said.stdout)
        self.assertEqual(stillmark("verify", first, "--against", second).returncode, 1, "the first lacks what followed")
        again = stillmark("backup", "--journal-only", self.at_work.journal, second)
        self.assertEqual(again.returncode, 2)
        self.assertIn("is there already and stays as it is", again.stderr)
        self.copy_of("second.copy", "--replace")

    def test_2_the_journal_is_verified_beside_the_service_that_writes_it(self):
        said = stillmark("verify", self.at_work.journal, "--key", self.public)
        self.assertEqual(said.returncode, 0, said.stdout + said.stderr)
        printed = self.digest_told(said)
        time.sleep(0.5)
        later = stillmark("verify", self.at_work.journal, "--digest", printed)
        self.assertEqual(later.returncode, 0, later.stdout + later.stderr)
        number, digest = printed.split(":")
        other = f"{number}:{'0' if digest[0] != '0' else '1'}{digest[1:]}"
        self.assertEqual(stillmark("verify", self.at_work.journal, "--digest", other).returncode, 1)
        self.assertEqual(stillmark("verify", self.at_work.journal, "--digest", number).returncode, 2)

    def test_3_the_service_is_restored_from_a_copy(self):
        """From a copy of the journal alone, by hand."""
        at_work = self.at_work
        with at_work.client() as client:
            client.done("run_start", sequence="demo")
        copy = self.copy_of("last.copy")
        with at_work.client() as client:
            run = client.ask("run_list")["runs"][0]["id"]
            client.done("run_stop", reason="after the copy")
        self.assertEqual(at_work.end(at_work.service), 0)
        whole = stillmark("verify", at_work.journal, "--key", self.public)
        self.assertEqual(whole.returncode, 0, whole.stdout + whole.stderr)
        self.assertNotIn("not signed", whole.stdout)
        links, checkpoints, number, digest = verify_by_python.verify(at_work.journal)
        self.assertGreaterEqual(checkpoints, 2)
        self.assertIn(f"digest at number {number}: {digest}", whole.stdout)

        aside = at_work.folder / "aside"
        aside.mkdir()
        for one in list(at_work.folder.glob("run.journal*")):
            if not one.name.startswith("run.journal.key"):
                one.rename(aside / one.name)
        shutil.copy(copy, at_work.journal)
        said = stillmark("verify", at_work.journal, "--key", self.public, "--against", aside / "run.journal")
        self.assertEqual(said.returncode, 1)
        self.assertIn("LACKS what follows", said.stdout)
        at_work.start_service()
        with at_work.client() as client:
            runs = client.ask("run_list")["runs"]
            self.assertEqual([(one["id"], one["state"]) for one in runs], [(run, "running")],
                             "the run of before the copy goes on")
            before = len(Journal(at_work.journal).readings)
            wait_until(lambda: len(Journal(at_work.journal).readings) > before, 10, "new readings in the restored journal")
        self.assertEqual(at_work.end(at_work.service), 0)
        said = stillmark("verify", at_work.journal, "--key", self.public, "--pages", "--against", copy)
        self.assertEqual(said.returncode, 0, said.stdout + said.stderr)
        self.assertEqual(at_work.replay().returncode, 0)

    def test_4_the_key_is_its_owners_alone_and_another_is_refused_open(self):
        self.assertEqual(self.key.stat().st_mode & 0o777, 0o600)
        self.assertEqual(self.public.stat().st_mode & 0o777, 0o644)
        self.key.chmod(0o640)
        try:
            said = subprocess.run([BUILD / "stillmarkd", self.at_work.bench, "--profiles", SOURCE / "drivers/profiles",
                                   "--journal", self.at_work.journal, "--socket", self.at_work.socket],
                                  capture_output=True, text=True, timeout=30, check=False)
            self.assertEqual(said.returncode, 2)
            self.assertIn("others than its owner may read or write it (mode 640)", said.stderr)
        finally:
            self.key.chmod(0o600)

    def test_5_what_was_changed_is_named(self):
        altered = self.copy_of("altered.copy")
        base = sqlite3.connect(altered)
        number = base.execute("SELECT min(number) FROM events").fetchone()[0]
        base.execute("UPDATE events SET at_us = at_us + 1 WHERE number = ?", (number,))
        base.commit()
        base.close()
        said = stillmark("verify", altered)
        self.assertEqual(said.returncode, 1)
        self.assertIn("NOT what was written", said.stdout)
        self.assertIn(f"event {number}: it is not what was written", said.stdout)
        self.assertEqual(stillmark("verify", self.at_work.bench).returncode, 2)


if __name__ == "__main__":
    unittest.main()
