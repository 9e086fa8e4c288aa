"""The form that starts a run: a range in poor health asks for a reason, and only then."""
import unittest

from browser.tablet import Tablet
from gateway.web import ServedBench
from whole.bench_at_work import small_bench, wait_until

WHY = "the spare piston comes on Monday"


class StartForm(unittest.TestCase):
    def test_a_range_in_poor_health_asks_for_a_reason(self):
        bench = small_bench(instruments="D")
        bench["balance"]["ranges"][0]["spin_time"] = "240 s"
        served = self.enterContext(ServedBench(bench)).serve()
        client = self.enterContext(served.client())
        tablet = self.enterContext(Tablet(served.url.geturl().rstrip("/"))).open()
        tablet.until_label("Start the run")
        self.assertNotIn("Override", tablet.text("step-start"))
        client.done("health", range="low", spin_time="60 s")
        wait_until(lambda: "Override (reason required)" in tablet.text("step-start"), 10, "the form asks for a reason")
        self.assertIn("low range, spin time: 60 s", tablet.text("step-start"))
        tablet.until_label("Start the run")
        self.assertIn("in poor health: give a reason", tablet.press())
        self.assertIsNone(client.frame()["run"])
        # The refusal leads to the field that lacks.
        tablet.key(WHY)
        self.assertIn("An override has a name", tablet.press())
        tablet.key("Invented Ada")
        count = len(tablet.said())
        tablet.tap("#big")
        self.assertIn("the run began", tablet.answer(count))
        said = client.done("results")["results"]["run"]["override_health"]
        self.assertEqual((said["because"], said["by"]), (WHY, "Invented Ada"))
        self.assertEqual(tablet.console_errors(), [])


if __name__ == "__main__":
    unittest.main()
