"""Each gross error of a run, made on the page and caught there."""
import unittest

from browser.tablet import REFUSED, Tablet, wait_until
from gateway.web import ServedBench
from whole.bench_at_work import quick_scenario
from whole.gross_errors import GrossErrors, check_results, gauges_of, invented_bench


END, BACKSPACE = "\ue010", "\ue003"  # as WebDriver writes them


class Presser:
    def __init__(self, test, tablet):
        self.test, self.tablet = test, tablet

    def outcome(self, said, seen):
        if not seen:
            self.test.assertIn("Recorded", said)
            return True
        self.test.assertIn("Not done", said)
        for words in ("The instruments contradict this press", "Expected", "Far is more than", "Look again"):
            self.test.assertIn(words, seen[0])
        self.test.assertEqual(seen[1][0], seen[1][1], "over the full width")
        return False

    def look(self, seen):
        seen.append(self.tablet.contradiction)
        seen.append(self.tablet.run("const r = document.querySelector('dialog').getBoundingClientRect();"
                                    "return [Math.round(r.width), innerWidth];"))
        if not self.tablet.pictured:
            self.tablet.shots("contradicted")
            self.tablet.resize("tablet")
            self.tablet.go_dark(False)
        self.tablet.pictured = True

    def press(self):
        self.tablet.until_label("Done", "Discs are on", "It floats", "Begin the check", "Check again", "The line is open", "Still floats",
                                within_s=20)
        seen = []
        said = self.tablet.press(on_contradiction=lambda: self.look(seen))
        return self.outcome(said, seen)

    def enter(self, untapped, tapped):
        wait_until(lambda: self.tablet.run("return document.querySelectorAll('.entry-fields input').length") == 2, 20, "the dial is asked for")
        for place, text in ((1, untapped), (2, tapped)):
            self.tablet.tap(f".entry-fields label:nth-of-type({place}) input")
            self.tablet.key(END + 6 * BACKSPACE + str(text))
        self.tablet.until_label("Send the reading")
        seen = []
        said = self.tablet.press("\ue007", on_contradiction=lambda: self.look(seen))
        return self.outcome(said, seen)

    def until_over_pressure(self, title):
        wait_until(lambda: "reads above the lowest rating" in self.tablet.text("over-pressure"), 20, "over-pressure is told")
        self.tablet.until_label("Let the pressure down", within_s=20)
        self.tablet.shot("gross-over-pressure")
        self.test.assertNotIn("Recorded", self.tablet.press(once=True))

    def until_calm(self, title):
        wait_until(lambda: not self.tablet.text("over-pressure"), 20, "it is over")


class OnThePage(unittest.TestCase):
    def test_each_gross_error_is_caught(self):
        bench = invented_bench()
        gauges = [self.enterContext(one) for one in gauges_of(bench)]
        at_work = self.enterContext(ServedBench(bench, quick_scenario(bench)))
        at_work.serve()
        client = self.enterContext(at_work.client())
        tablet = self.enterContext(Tablet(at_work.url.geturl().rstrip("/"))).open()
        tablet.pictured = False
        client.done("run_start", sequence="demo")
        caught = GrossErrors(self, Presser(self, tablet), client, gauges).do()
        check_results(self, client.ask("results")["results"], caught)
        self.assertEqual(tablet.console_errors(allowed=REFUSED), [])


if __name__ == "__main__":
    unittest.main()
