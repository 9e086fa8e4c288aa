"""A second service on the same bench: each serial line has one reader, and the other one is told whose it is."""
import unittest

from bench_at_work import BUILD, HIGH, LOW, PROFILES, BenchAtWork, channel_of, quick_scenario, small_bench, wait_until
from journal_in_python import Journal

A = "transmitter A"
GOOD, LINK_DOWN = 0, 2


class OneServiceALine(unittest.TestCase):
    def test_a_second_service_is_refused_the_line_and_told_who_has_it(self):
        bench = small_bench((LOW, HIGH), instruments="A")
        with BenchAtWork(bench, quick_scenario(bench)) as at_work:
            at_work.start_simulator(operator=False)
            first = at_work.start_service()
            with at_work.client() as client:
                client.frame_where(lambda frame: channel_of(frame, A)["status"] == "good", 20, "a reading")
                log = at_work.folder / "second.log"
                second = at_work.start(log, BUILD / "stillmarkd", at_work.bench, "--profiles", PROFILES, "--journal",
                                       at_work.folder / "second.journal", "--socket", at_work.folder / "second.socket")
                words = f"the port is in use by stillmarkd (process {first.pid}); end it, or give this bus another device"
                wait_until(lambda: words in log.read_text(encoding="utf-8"), 20, lambda: log.read_text(encoding="utf-8"))
                seen = client.frame()["at_us"]
                client.frame_where(lambda frame: frame["at_us"] > seen + 2_000_000, 20, "two seconds more")
            self.assertEqual(at_work.end(second), 0)
            self.assertEqual(at_work.end(first), 0)
            ours = Journal(at_work.journal).readings
            theirs = Journal(at_work.folder / "second.journal").readings
        self.assertEqual({one.status for one in theirs}, {LINK_DOWN}, "nothing of the line was read by the second")
        self.assertEqual({one.status for one in ours if one.at_us > seen}, {GOOD}, "the first was not disturbed")


if __name__ == "__main__":
    unittest.main()
