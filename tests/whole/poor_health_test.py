"""A range in poor health starts no run without a reason on record: by the client program, from the refusal to the results."""
import unittest

from bench_at_work import BenchAtWork, small_bench

WHY = "the spare piston comes on Monday"


class PoorHealth(unittest.TestCase):
    def setUp(self):
        bench = small_bench(instruments="D")
        bench["balance"]["ranges"][0]["spin_time"] = "240 s"
        self.sequence = bench["sequences"][0]["name"]
        self.at_work = self.enterContext(BenchAtWork(bench))
        self.at_work.start_service()
        self.client = self.enterContext(self.at_work.client())

    def said(self, status, *arguments):
        said = self.at_work.stillmark(*arguments)
        self.assertEqual(said.returncode, status, said.stdout + said.stderr)
        return said.stdout + said.stderr

    def test_a_run_starts_with_an_override_only(self):
        self.said(1, "health", "--range", "low", "--spin-time", "60 s")
        self.assertIn("spin time: 60 s", self.said(0, "status"))
        refusal = self.said(1, "run", "start", self.sequence, "--by", "Invented Ada")
        self.assertIn("needs a range in poor health", refusal)
        self.assertIn("start with an override and its reason", refusal)
        self.assertIsNone(self.client.frame()["run"])
        self.said(0, "run", "start", self.sequence, "--by", "Invented Ada", "--override-health", WHY)
        self.assertIn(f"Started on a range in poor health by Invented Ada: {WHY}", self.said(0, "results"))
        self.at_work.end(self.at_work.service)
        # What was said goes over the journal to the next start, and a replay knows it.
        self.assertEqual(self.at_work.replay().returncode, 0)
        self.at_work.start_service()
        with self.at_work.client() as again:
            run = again.done("results")["results"]["run"]
        self.assertEqual((run["override_health"]["because"], run["override_health"]["by"]), (WHY, "Invented Ada"))
        self.assertRegex(run["override_health"]["found"][0], "^low range, spin time: 60 s, .*poor")


if __name__ == "__main__":
    unittest.main()
