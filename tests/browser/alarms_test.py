"""What must not be missed, on the page: over-pressure over the whole top until it is over, faults of a wire, asking again."""
import json
import unittest

from browser.access_test import CHECKS
from browser.tablet import AWAY, REFUSED, Tablet, wait_until
from gateway.web import ServedBench
from whole.bench_at_work import small_bench

OVER = {"code": "over_pressure", "alarm": True, "channel": "transmitter A",
        "text": "transmitter A reads 1012 bar; the hose bears 1000 bar: let the pressure down now"}
FAULT = {"kind": "refused", "detail": "asked for 2 registers from 0, got exception 2 (illegal data address)", "count": 3}


class Alarms(unittest.TestCase):
    def setUp(self):
        self.bench = self.enterContext(ServedBench(small_bench(instruments="AD"))).serve()
        self.tablet = self.enterContext(Tablet(self.bench.url.geturl().rstrip("/"), altered=True)).open()

    def alter(self, body):
        self.tablet.run(f"window.alterFrame = (frame) => {{ {body}; return frame; }};")

    def until_over(self):
        wait_until(lambda: "let the pressure down now" in self.tablet.text("over-pressure"), 5, "over-pressure is told")

    def test_over_pressure_takes_the_whole_top_until_it_is_over(self):
        tablet = self.tablet
        self.alter(f"frame.advice = [{json.dumps(OVER)}]")
        self.until_over()
        left, top, wide, high = tablet.run("const r = document.getElementById('over-pressure').getBoundingClientRect();"
                                           "return [r.left, r.top, innerWidth - r.width, r.height / innerHeight]")
        self.assertEqual((left, top, wide), (0, 0, 0))
        self.assertGreater(high, 0.2)
        self.assertIn("let the pressure down", tablet.text("alarm-words"), "whoever listens hears it")
        for view in ("run", "settings", "now"):
            tablet.run("location.hash = arguments[0]", view)
            self.until_over()
        for size in ("phone", "tablet", "laptop", "wall"):
            tablet.resize(size)
            for dark in (False, True):
                tablet.go_dark(dark)
                tablet.settled()
                tablet.shot(f"over-pressure-{size}-{'dark' if dark else 'light'}")
                self.assertEqual(tablet.run(CHECKS), [], (size, dark))
        tablet.go_dark(False)
        tablet.resize("tablet")
        self.alter("frame.advice = []")
        wait_until(lambda: not tablet.text("over-pressure"), 5, "what is over is not told any more")
        self.assertTrue(tablet.run("return document.getElementById('top').checkVisibility()"))
        self.assertEqual(tablet.console_errors(allowed=REFUSED), [])

    def test_a_dialog_does_not_hide_over_pressure(self):
        tablet = self.tablet
        tablet.until_label("Start the run")
        self.assertIn("Recorded", tablet.press())
        tablet.tap("nav a[data-view=run]")
        wait_until(lambda: tablet.run("const one = [...document.querySelectorAll('#view-run button')].find((b) => b.textContent === 'Stop this run');"
                                      "one?.click(); return Boolean(one);"), 10, "the run can be stopped")
        self.alter(f"frame.advice = [{json.dumps(OVER)}]")
        wait_until(lambda: "let the pressure down now" in tablet.text("dialog"), 5, "the dialog says it first")
        tablet.settled()
        tablet.shot("over-pressure-over-a-dialog")
        self.assertEqual(tablet.run(CHECKS), [])
        self.alter("frame.advice = []")
        wait_until(lambda: "let the pressure down now" not in tablet.text("dialog"), 5, "until it is over")
        self.assertIn("Stop run", tablet.text("dialog"))

    def test_over_pressure_is_not_over_because_the_service_is_away(self):
        self.alter(f"frame.advice = [{json.dumps(OVER)}]")
        self.until_over()
        self.bench.end(self.bench.service)
        wait_until(lambda: "The service is away" in self.tablet.alarms, 10, "the page tells that it hears nothing")
        self.assertIn("when the service was last heard", self.tablet.text("over-pressure"))
        self.assertEqual(self.tablet.console_errors(allowed=AWAY), [])

    def test_the_latest_fault_stands_at_its_channel_in_plain_words(self):
        tablet = self.tablet
        self.alter(f"frame.channels[0].fault = {{...{json.dumps(FAULT)}, at_us: frame.at_us - 4e6}}")
        wait_until(lambda: "the instrument refused, 3 times, last" in tablet.text("channels"), 10, lambda: tablet.text("channels"))
        self.assertNotIn("exception 2", tablet.text("channels"))
        tablet.tap("#channels .fault summary")
        wait_until(lambda: "exception 2 (illegal data address)" in tablet.text("channels"), 5, "its detail is one tap away")
        for size in ("tablet", "laptop"):
            tablet.shots("channel-fault", sizes=(size,))
        self.assertEqual(tablet.run(CHECKS), [])
        tablet.open("bench")
        self.alter(f"frame.channels[0].fault = {{...{json.dumps(FAULT)}, at_us: frame.at_us - 4e6}}")
        wait_until(lambda: "exception 2" in tablet.text("view-bench"), 10, "the bench view has it whole")
        self.assertEqual(tablet.run(CHECKS), [])


if __name__ == "__main__":
    unittest.main()
