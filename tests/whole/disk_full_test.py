"""The disk is full for a while: nobody is told that something is recorded which is not, and the service lives on."""
import contextlib
import os
import resource
import shutil
import sqlite3
import subprocess
import time
import unittest

from bench_at_work import HIGH, LOW, BenchAtWork, now_us, quick_scenario, small_bench
from journal_in_python import Journal


@contextlib.contextmanager
def small_disk(at_work):
    """A file system of 2 MB that can be filled; only root may mount one."""
    place = at_work.folder / "disk"
    place.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(place)], check=True)
    filler = place / "filler"

    def fill():
        with open(filler, "ab", buffering=0) as to, contextlib.suppress(OSError):
            while True:
                to.write(bytes(4096))

    try:
        yield place / "run.journal", fill, filler.unlink
    finally:
        for process in reversed(at_work.started):
            at_work.end(process)
        subprocess.run(["umount", str(place)], check=True)


@contextlib.contextmanager
def small_files(at_work):
    """A limit on how long a file may become, which needs no rights: it stops the service's writing as a full disk does."""
    def fill():
        resource.prlimit(at_work.service.pid, resource.RLIMIT_FSIZE, (0, resource.RLIM_INFINITY))

    def make_room():
        resource.prlimit(at_work.service.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))

    yield at_work.journal, fill, make_room


class DiskFull(unittest.TestCase):
    def test_a_small_disk_where_one_may_be_mounted_or_small_files(self):
        for room in ([small_disk] if os.geteuid() == 0 else []) + [small_files]:
            with self.subTest(room.__name__):
                self.go_through(room)

    def go_through(self, room):
        bench = small_bench((LOW, HIGH), instruments="AB")
        with BenchAtWork(bench, quick_scenario(bench)) as at_work, room(at_work) as (journal, fill, make_room):
            at_work.start_simulator(operator=False)
            at_work.start_service(journal=journal)
            with at_work.client() as client:
                client.done("run_start", sequence="demo")
                while (step := client.frame()["step"])["kind"] == "do":
                    client.done("step_done", step=step["number"])
                client.done("load", step=step["number"])
                client.insists("confirm", range="low")
                recorded = client.frame_where(lambda frame: all(one["status"] == "good" for one in frame["channels"]), 5,
                                              "readings of all")
                fill()
                self.check_while_full(client, recorded, fill)
                make_room()
                back = client.frame_where(lambda frame: frame["journal"] == "recording", 15, "the journal records again")
                self.check_state_is_the_journal_s(back, recorded)
                client.insists("confirm", range="low")
                client.frame_where(lambda frame: frame["marks"], 20, "a mark after all")
                told = client.ask("results")["results"]
            self.assertEqual(at_work.end(at_work.service), 0)
            replay = at_work.replay(journal)
            self.assertEqual(replay.returncode, 0, replay.stdout + replay.stderr)
            self.check_journal(Journal(journal), told)

    def test_a_service_that_can_record_nothing_does_not_start(self):
        bench = small_bench((LOW,), instruments="B")
        with BenchAtWork(bench) as at_work:
            service = at_work.start_service(preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (8192, 8192)))
            self.assertEqual(service.wait(40), 2)
            self.assertFalse(at_work.socket.exists())
            self.assertIn("run.journal", at_work.service_log.read_text(encoding="utf-8"))

    def test_a_journal_that_is_taken_away_is_not_begun_anew(self):
        bench = small_bench((LOW,), instruments="B")
        with BenchAtWork(bench) as at_work:
            at_work.start_service()
            with at_work.client() as client:
                client.done("load", range="low", discs=["A1"])
                older = at_work.folder / "older"
                with contextlib.closing(sqlite3.connect(at_work.journal)) as base, \
                        contextlib.closing(sqlite3.connect(older)) as copy:
                    base.backup(copy)
                client.done("load", range="low", discs=["B1"])
                for end in ("", "-wal", "-shm"):
                    at_work.journal.with_name("run.journal" + end).unlink()
                reply = client.press("load", range="low", discs=["A2"])
                self.assertEqual((reply["ok"], reply.get("code")), (False, "not_recorded"), reply)
                time.sleep(2.5)
                self.assertFalse(at_work.journal.exists())
                shutil.copy(older, at_work.journal)
                time.sleep(2.5)
                frame = client.frame()
                self.assertEqual((frame["journal"], frame["load"]["discs"]), ("failed", ["B1"]))
            self.assertEqual(at_work.end(at_work.service), 0)
            self.assertEqual([event["discs"] for event in Journal(at_work.journal).facts("LoadStated")], [["A1"]])
            log = at_work.service_log.read_text(encoding="utf-8")
            self.assertEqual(log.count("is not the journal that was written before; put that one back"), 1, log)

    def check_while_full(self, client, recorded, fill):
        # The first press may be what finds the disk full, or readings have found it before.
        reply = client.press("lost")
        self.assertEqual((reply["ok"], reply.get("code")), (False, "not_recorded"), reply)
        frame = client.frame_where(lambda one: one["journal"] == "failed", 5, "the frame says that the journal failed")
        self.assertIn("the journal cannot be written: nothing is recorded until it can",
                          [one["text"] for one in frame["advice"] if one["code"] == "journal_failed" and one["alarm"]])
        for _ in range(10):
            fill()  # a log that was taken in when the journal was closed leaves room again
            for what, keys in (("lost", {}), ("load", {"range": "low", "discs": ["A1"]}), ("run_stop", {"reason": "test"})):
                reply = client.press(what, **keys)
                self.assertEqual((reply["ok"], reply["code"]), (False, "not_recorded"), f"{what}: {reply}")
            frame = client.frame()
            for part in ("run", "load"):
                self.assertEqual(frame[part], recorded[part])
            self.assertNotIn(frame["float"]["state"], ("lost", "closed"), "what was not recorded has happened")
            self.assertEqual(frame["marks"], [])
            for channel in frame["channels"]:
                self.assertEqual(channel["status"], "good")
                self.assertLess(channel["age_us"], 1_000_000, "readings go on")
            time.sleep(0.4)

    def check_state_is_the_journal_s(self, back, recorded):
        for part in ("run", "load"):
            self.assertEqual({**back[part], "step": 0}, {**recorded[part], "step": 0})
        # Nobody's word was kept meanwhile, so nobody knows whether the piston went on floating.
        self.assertEqual(back["float"]["state"], "unknown")
        self.assertEqual(back["step"]["kind"], "float")

    def check_journal(self, journal, told):
        self.assertEqual(journal.facts("FloatLost"), [])
        self.assertEqual(len(journal.facts("LoadStated")), 1)
        self.assertEqual(journal.facts("RunStopped"), [])
        # The one after the full disk, and the one that the stop of the service left open.
        self.assertEqual([event["interval"] for event in journal.facts("FloatUnknown")], [1, 2])
        self.assertEqual(len(journal.facts("FloatConfirmed")), 2)
        taken = {mark["mark"] for mark in journal.facts("MarkTaken")}
        self.assertLessEqual({mark["mark"] for mark in told["marks"]}, taken, "a mark was told of and is not in the journal")
        numbers = [one["number"] for one in journal.events] + [one.number for one in journal.readings]
        self.assertEqual(len(numbers), len(set(numbers)))
        self.assertLess(max(event["at_us"] for event in journal.events), now_us())


if __name__ == "__main__":
    unittest.main()
