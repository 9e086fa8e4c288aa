"""The programs as a person starts and stops them: files that are wrong, services in each other's way, exit codes."""
import json
import os
import signal
import sqlite3
import subprocess
import unittest

from bench_at_work import BUILD, PROFILES, BenchAtWork, now_us, quick_scenario, small_bench
from journal_in_python import Journal

DONE, NO, WRONG_USE, UNREACHABLE = 0, 1, 2, 3


class Programs(unittest.TestCase):
    def setUp(self):
        self.at_work = self.enterContext(BenchAtWork(small_bench(instruments="BD")))

    def daemon(self, *arguments, within_s=20):
        """Runs the service for as long as it lives by itself."""
        return subprocess.run([str(BUILD / "stillmarkd"), *map(str, arguments)], capture_output=True, text=True,
                              timeout=within_s, check=False, env={**os.environ, "STILLMARK_PROFILES": str(PROFILES)})

    def start_again(self, *options, journal=None, socket=None):
        return self.daemon(self.at_work.bench, "--journal", journal or self.at_work.journal, "--socket",
                           socket or self.at_work.socket, *options)

    def refused(self, result, *words):
        self.assertEqual(result.returncode, WRONG_USE, result.stdout + result.stderr)
        self.assertEqual(result.stdout, "")
        for one in words:
            self.assertIn(one, result.stderr)
        self.assertEqual(len(result.stderr.strip().splitlines()), 1, result.stderr)

    def change_bench(self, change):
        bench = json.loads(self.at_work.bench.read_text(encoding="utf-8"))
        change(bench)
        self.at_work.bench.write_text(json.dumps(bench), encoding="utf-8")

    def test_check_reads_the_bench_file_and_ends(self):
        good = self.daemon(self.at_work.bench, "--check")
        self.assertEqual((good.returncode, good.stderr), (DONE, ""))
        self.assertRegex(good.stdout, r"good: 2 instruments, 18 discs, 1 sequences, revision [0-9a-f]+\n")
        self.assertFalse(self.at_work.journal.exists())
        self.change_bench(lambda bench: bench["balance"]["ranges"][0].update(area="98.07"))
        self.refused(self.daemon(self.at_work.bench, "--check"), "balance.ranges[0].area", "98.07", "mm2")
        self.refused(self.start_again(), "balance.ranges[0].area")
        self.assertFalse(self.at_work.journal.exists())

    def test_files_that_are_not_there_or_of_another_kind(self):
        self.refused(self.daemon(self.at_work.folder / "none.json", "--check"), "none.json")
        self.at_work.bench.write_text("this is no JSON", encoding="utf-8")
        self.refused(self.daemon(self.at_work.bench, "--check"), "bench.json")

    def test_wrong_use(self):
        self.assertEqual(self.daemon().returncode, WRONG_USE)
        self.assertEqual(self.daemon(self.at_work.bench, "--unknown").returncode, WRONG_USE)
        self.assertEqual(self.daemon("--help").returncode, DONE)

    def test_a_file_of_another_kind_is_no_journal(self):
        self.at_work.journal.write_text("dear diary\n" * 200, encoding="utf-8")
        self.refused(self.start_again(), "run.journal")
        self.assertTrue(self.at_work.journal.read_text(encoding="utf-8").startswith("dear diary"))
        self.at_work.journal.unlink()
        other = sqlite3.connect(self.at_work.journal)
        other.execute("CREATE TABLE recipes (cake TEXT)")
        other.commit()
        other.close()
        self.refused(self.start_again(), "run.journal")
        self.refused(self.start_again(journal=self.at_work.folder / "no/folder/journal"), "no/folder")
        self.assertEqual(self.at_work.replay().returncode, WRONG_USE)

    def test_a_newer_journal_is_refused(self):
        self.at_work.start_service()
        self.at_work.client().close()
        self.at_work.end(self.at_work.service)
        base = sqlite3.connect(self.at_work.journal)
        base.execute("UPDATE meta SET value = '3' WHERE key = 'format'")
        base.commit()
        base.close()
        self.refused(self.start_again(), "run.journal")

    def test_one_service_on_a_socket_and_on_a_journal(self):
        self.at_work.start_service()
        with self.at_work.client() as client:
            self.refused(self.start_again(journal=self.at_work.folder / "other.journal"), "another service answers there")
            self.refused(self.start_again(socket=self.at_work.folder / "other"), "run.journal")
            self.assertEqual(client.frame()["journal"], "recording")
        self.at_work.end(self.at_work.service)
        self.at_work.socket.write_text("a file", encoding="utf-8")
        self.refused(self.start_again(), "is no socket")
        self.refused(self.start_again(socket=self.at_work.folder / ("deep" * 40)), "at most 107 bytes")

    def test_a_socket_that_a_killed_service_left_is_taken_over(self):
        self.at_work.start_service()
        self.at_work.client().close()
        self.at_work.end(self.at_work.service, signal.SIGKILL)
        self.assertTrue(self.at_work.socket.exists())
        self.at_work.start_service()
        with self.at_work.client() as client:
            self.assertEqual(client.frame()["journal"], "recording")
        self.assertEqual(oct(self.at_work.socket.stat().st_mode & 0o777), "0o660")

    def test_stopped_by_either_signal_with_everything_on_disk(self):
        for times, how in enumerate((signal.SIGTERM, signal.SIGINT), 1):
            self.at_work.start_service()
            with self.at_work.client() as client:
                client.done("load", range="low", discs=["A1"])
                self.assertEqual(self.at_work.end(self.at_work.service, how), DONE)
            self.assertFalse(self.at_work.socket.exists())
            self.assertFalse(self.at_work.journal.with_name("run.journal-wal").exists(), "the log was not taken in")
            journal = Journal(self.at_work.journal)
            self.assertEqual(len(journal.facts("LoadStated")), times)
            self.assertEqual(journal.events[-1]["fact"], "ServiceStopped")

    def test_a_bench_file_that_changed_under_an_open_run(self):
        self.at_work.start_service()
        with self.at_work.client() as client:
            client.done("run_start", sequence="demo")
        self.assertEqual(self.at_work.end(self.at_work.service), DONE)
        before = Journal(self.at_work.journal).events
        former = self.at_work.bench.read_text(encoding="utf-8")
        self.change_bench(lambda bench: bench["masses"]["discs"][0].update(mass="9.9 kg"))
        self.refused(self.start_again(), "run R1 is open", "--end-run")
        self.assertEqual(Journal(self.at_work.journal).events, before)
        self.at_work.bench.write_text(former, encoding="utf-8")
        self.at_work.start_service()
        with self.at_work.client() as client:
            self.assertEqual(client.frame()["run"]["state"], "running")
        self.at_work.end(self.at_work.service)
        self.change_bench(lambda bench: bench["masses"]["discs"][0].update(mass="9.9 kg"))
        self.at_work.start_service("--end-run")
        with self.at_work.client() as client:
            (run,) = client.ask("run_list")["runs"]
            self.assertEqual((run["state"], run["reason"]), ("stopped", "the bench file was changed"))
            self.assertEqual(client.done("run_start", sequence="demo")["run"], "R2")
            first, second = (one["bench_revision"] for one in client.ask("run_list")["runs"])
            self.assertNotEqual(first, second, "a run keeps the revision that it began with")

    def test_the_client_s_exit_codes(self):
        self.assertEqual(self.at_work.stillmark("status").returncode, UNREACHABLE)
        self.assertEqual(self.at_work.stillmark("dance").returncode, WRONG_USE)
        self.assertEqual(self.at_work.stillmark("results", "--json", "R1", "R2").returncode, WRONG_USE)
        self.at_work.start_service()
        with self.at_work.client():
            for arguments, code, words in (
                    (("status",), DONE, "recording"), (("run", "list"), DONE, "No run yet."),
                    (("results",), NO, "there was no run yet"), (("run", "start", "other"), NO, 'no sequence "other"'),
                    (("run", "start", "demo"), DONE, "R1"), (("run", "start", "demo"), NO, "run R1 is going on"),
                    (("results", "R7"), NO, 'there is no run "R7"'), (("void", "3", "--reason", "test"), NO, "there is no mark 3"),
                    (("run", "stop"), WRONG_USE, "--reason"), (("run", "stop", "--reason", "test"), DONE, "stopped")):
                with self.subTest(arguments):
                    result = self.at_work.stillmark(*arguments)
                    self.assertEqual(result.returncode, code, result.stdout + result.stderr)
                    self.assertIn(words, result.stdout + result.stderr)
        self.at_work.end(self.at_work.service)
        self.assertEqual(self.at_work.stillmark("run", "list").returncode, UNREACHABLE)
        self.assertEqual(self.at_work.replay(self.at_work.folder / "none").returncode, WRONG_USE)
        self.assertEqual(self.at_work.replay().returncode, DONE)

    def test_the_simulator_s_exit_codes(self):
        simulator = str(BUILD / "stillmark-sim")
        bench = json.loads(self.at_work.bench.read_text(encoding="utf-8"))
        scenario = quick_scenario(bench)

        def ends_with(scenario, *options):
            self.at_work.scenario.write_text(json.dumps(scenario), encoding="utf-8")
            return subprocess.run([simulator, str(self.at_work.scenario), "--bench", str(self.at_work.bench), "--profiles",
                                   str(PROFILES), *options], capture_output=True, text=True, timeout=30, check=False)

        wrong = ends_with({**scenario, "faults": [{"what": "gremlins", "bus": "line B"}]}, "--no-operator")
        self.assertEqual(wrong.returncode, WRONG_USE)
        self.assertIn("gremlins", wrong.stderr)
        self.assertEqual(ends_with(scenario).returncode, WRONG_USE, "an operator without a socket has nobody to talk to")

    def test_a_clock_for_all(self):
        """What a client presses is compared on the clock of the service: the boot's, which goes on while a lid is closed."""
        self.at_work.start_service()
        with self.at_work.client() as client:
            before = now_us()
            at_us = client.frame()["at_us"]
            self.assertLessEqual(before, at_us)
            self.assertLessEqual(at_us, now_us())


if __name__ == "__main__":
    unittest.main()
