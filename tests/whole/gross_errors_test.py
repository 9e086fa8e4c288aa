"""Each gross error of a run, made in the live view of the terminal and caught there."""
import os
import pathlib
import sys
import time
import unittest

from whole.bench_at_work import BenchAtWork, quick_scenario
from whole.gross_errors import GrossErrors, check_results, gauges_of, invented_bench

sys.path.append(str(pathlib.Path(os.environ["STILLMARK_SOURCE"]) / "tests/cli"))
from follow_test import View  # noqa: E402

#: A key that comes again sooner counts as held down; a step has to be read before it is answered.
BETWEEN_KEYS_S = 0.9


class Follower:
    def __init__(self, view):
        self.view = view

    def outcome(self):
        end = time.monotonic() + 20
        while time.monotonic() < end:
            self.view.read()
            text = self.view.text()
            if "NOT RECORDED" in text:
                return False
            if "Recorded:" in text:
                return True
        raise AssertionError(f"neither recorded nor contradicted:\n{self.view.text()}")

    def looked_again(self):
        """What the instruments say stands over the full width, and Escape records nothing."""
        self.view.wait_for("the instruments contradict", "expected", "far is more than", "Esc look again", "r go on with a reason",
                           within_s=20)
        self.view.press("\x1b")
        self.view.wait_for("Nothing was recorded: look again.", within_s=20)
        return False

    def press(self):
        for _ in range(10):
            time.sleep(BETWEEN_KEYS_S)
            self.view.press(" ")
            self.view.read(0.3)
            if "The step changed as you pressed" not in self.view.text():
                return self.outcome() or self.looked_again()
        raise AssertionError(f"no press counts:\n{self.view.text()}")

    def enter(self, untapped, tapped):
        time.sleep(BETWEEN_KEYS_S)
        self.view.press(str(untapped))
        self.view.wait_for(str(untapped), within_s=20)
        self.view.press("\r")
        time.sleep(BETWEEN_KEYS_S)
        self.view.press(str(tapped))
        time.sleep(0.2)
        self.view.press("\r")
        if self.outcome():
            return True
        self.looked_again()
        time.sleep(BETWEEN_KEYS_S)
        self.view.press("\x1b")  # the line that was typed is left too
        self.view.wait_for("No reading was entered.", within_s=20)
        return False

    def until_over_pressure(self, title):
        self.view.wait_for("OVER-PRESSURE", "reads above the lowest rating", within_s=20)
        self.view.wait_for(title, within_s=20, gone=True)
        time.sleep(BETWEEN_KEYS_S)
        self.view.press(" ")
        self.view.wait_for("let the pressure down first", within_s=20)

    def until_calm(self, title):
        self.view.wait_for("OVER-PRESSURE", within_s=20, gone=True)
        self.view.wait_for(title[:40], within_s=20)


class InTheTerminal(unittest.TestCase):
    def test_each_gross_error_is_caught(self):
        bench = invented_bench()
        gauges = [self.enterContext(one) for one in gauges_of(bench)]
        at_work = self.enterContext(BenchAtWork(bench, quick_scenario(bench)))
        at_work.start_service()
        client = self.enterContext(at_work.client())
        view = View(str(at_work.socket), rows=40, columns=100)
        self.addCleanup(view.close)
        client.done("run_start", sequence="demo")
        caught = GrossErrors(self, Follower(view), client, gauges).do()
        check_results(self, client.ask("results")["results"], caught)


if __name__ == "__main__":
    unittest.main()
