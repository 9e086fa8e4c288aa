"""A whole run through the page alone: the simulator's person works the bench, every press of his is a tap or a key there."""
import json
import unittest

from browser.hands import PageBench
from browser.tablet import REFUSED, Tablet, wait_until
from whole.bench_at_work import HIGH, LOW, OVERLAP_HIGH, OVERLAP_LOW, quick_scenario, read_json, small_bench, DEMO


class WholeRun(unittest.TestCase):
    def test_a_run_with_mistakes_is_done_on_the_page(self):
        bench = small_bench(points=(LOW, OVERLAP_LOW, OVERLAP_HIGH, HIGH), series=("up", "down"), instruments="ACD", preloads=1)
        checks = read_json(DEMO / "bench.json")["checks"]
        bench["checks"] = {key: checks[key] for key in ("level", "leak", "zero")}
        scenario = quick_scenario(bench)
        scenario["operator"]["mistakes"] = [
            {"what": "confirms too early", "point": 2, "direction": "rising", "notices_after": "2 s"},
            {"what": "overshoots", "point": 4, "direction": "rising", "size": "3 %"}]
        with PageBench(bench, scenario) as at_work:
            at_work.serve()
            url = at_work.url.geturl().rstrip("/")
            with Tablet(url) as tablet, Tablet(url) as onlooker:
                tablet.open()
                onlooker.open("run")
                at_work.start_person()
                alarms, looked, reloads = [], [], []

                def on_press(request):
                    alarms.extend(tablet.run("return window.alarmsHeard.splice(0)"))
                    if request["do"] == "sighted":
                        looked.append(onlooker.run("return document.querySelectorAll('.mark-row').length"))
                    # In the middle of the run the tablet is put down and taken up again.
                    if request["do"] == "enter" and len(looked) == 2 and not reloads:
                        reloads.append(tablet.title)
                        tablet.reload()
                        self.assertEqual(tablet.title, reloads[0])
                        wait_until(lambda: tablet.run(
                            "return document.querySelectorAll('#strip canvas').length") > 0, 5, "the plot is back")

                counts = at_work.work(tablet, 80, on_press)
                self.assertEqual(at_work.simulator.returncode, 0, at_work.simulator_log.read_text(encoding="utf-8")[-2000:])
                marks = json.loads(at_work.results.read_text(encoding="utf-8"))["marks"]
                self.check_presses(counts, marks)
                self.assertTrue(reloads and looked[-1] > looked[0], looked)
                self.assertTrue(any("slow down" in words for words in alarms), alarms)
                self.assertTrue(any("went beyond" in words or "went past" in words for words in alarms), alarms)
                self.assertTrue(any("approached from above" in mark["flags"] for mark in marks))
                self.check_marks(tablet, marks)
                self.assertEqual(at_work.judge(20).returncode, 0)
                for one in (tablet, onlooker):
                    self.assertEqual(one.console_errors(allowed=REFUSED), [])

    def check_presses(self, counts, marks):
        """Three presses a point and one more a dial: stated load, float, second look; its own figure is printed."""
        visits = len({(mark["point"], mark["range"], mark["direction"]) for mark in marks})
        pressed = counts["pressed"]
        self.assertEqual(visits, 8)
        # Beside the visits: a preload, and a float that was confirmed too early.
        self.assertLessEqual(pressed["Discs are on"], visits + 2)
        self.assertLessEqual(pressed["It floats"], visits + 3)
        self.assertLessEqual(pressed["Still floats"], visits + 1)
        self.assertEqual(pressed["Send the reading"], visits)
        print("presses:", pressed)

    def check_marks(self, tablet, marks):
        tablet.open("run")
        wait_until(lambda: tablet.run("return document.querySelectorAll('.mark-row').length") == len(marks), 10, "every mark is in the table")
        drawn = tablet.run("return document.querySelectorAll('svg.deviations .marker').length")
        self.assertEqual(drawn, len([mark for mark in marks if mark["reference_pa"] is not None]))
        words = tablet.text("view-run")
        for needed in ("rising", "falling", "Evaluation", "permissible error", "approached from above", "Hysteresis"):
            self.assertIn(needed, words)
        tablet.tap(".mark-row button")
        wait_until(lambda: "Of the reference pressure" in tablet.text("dialog"), 10, "the budget of a mark is shown")
        tablet.shot("mark-with-budget")
        tablet.key("\ue00c")  # escape
        tablet.shots("marks")
        tablet.open("runs")
        wait_until(lambda: "1 of 1 runs" in tablet.text("view-runs"), 10, "the run is found")
        tablet.key("\ue004")
        tablet.tap("input[type=search]")
        tablet.key("nothing like it")
        wait_until(lambda: "0 of 1 runs" in tablet.text("view-runs"), 5, "the search leaves it out")


if __name__ == "__main__":
    unittest.main()
