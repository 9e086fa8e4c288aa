"""Anybody can use the page: by eye in light and dark, by keyboard alone, by a thumb, by ear; on a phone and on a wall."""
import os
import time
import unittest
from pathlib import Path

from browser.tablet import READING_TIME_S, REFUSED, SIZES, Tablet, wait_until
from gateway.web import ServedBench
from whole.bench_at_work import BUILD, SOURCE, quick_scenario, small_bench

CHECKS = (Path(__file__).parent / "access_checks.js").read_text(encoding="utf-8")
VIEWS = ("now", "run", "runs", "bench", "settings")
HEAVIEST_BYTES = 300_000


def axe():
    """axe-core where somebody has it: Debian has no package of it."""
    places = [os.environ.get("STILLMARK_AXE", ""), BUILD / "../axe/node_modules/axe-core/axe.min.js",
              SOURCE / "build/axe/node_modules/axe-core/axe.min.js", "/usr/share/javascript/axe-core/axe.min.js",
              "/usr/share/nodejs/axe-core/axe.min.js"]
    return next((Path(place).read_text(encoding="utf-8") for place in places if place and Path(place).is_file()), None)


class Access(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        bench = small_bench(instruments="ACD", preloads=0)
        cls.bench = cls.enterClassContext(ServedBench(bench, quick_scenario(bench))).serve(simulator=True)
        cls.url = cls.bench.url.geturl().rstrip("/")
        cls.tablet = cls.enterClassContext(Tablet(cls.url)).open()
        cls.axe = axe()

    def check(self, what):
        with self.subTest(what):
            self.assertEqual(self.tablet.run(CHECKS), [])
        if self.axe is None:
            return
        # The policy of the page lets no foreign script in; the driver's own world is not bound by it.
        self.tablet.run(self.axe)
        found = self.tablet.driver.execute_async_script(
            "const done = arguments[0]; axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']})"
            ".then((r) => done(r.violations.map((v) => v.id + ': ' + v.help + ' ' + v.nodes.map((n) => n.html.slice(0, 160)).join(' | '))));")
        with self.subTest(what, by="axe-core"):
            self.assertEqual(found, [])

    def through_the_steps(self, at_each):
        """A run from its start to the second point, with a look at each kind of step."""
        tablet = self.tablet
        seen = set()

        def go_on():
            """What was done at this step; nothing while it passes by itself."""
            label = tablet.label
            if label in ("Wait", "Wait, hands off"):
                return False
            if label not in seen:
                seen.add(label)
                at_each(label)
                return "looked"
            time.sleep(READING_TIME_S)
            if tablet.label != label:
                return False
            if label == "Enter the reading":
                tablet.key("4")
                tablet.until_label("Now tap it")
                at_each("Now tap it")
                tablet.tap("#big")
                tablet.until_label("Send the reading")
            # Its gauges rest at zero, which contradicts every float of this run.
            tablet.press(reason="the gauges are shut off", on_contradiction=lambda: at_each(f"{label} contradicted"))
            return "done" if label == "Still floats" else "pressed"

        # Each step is waited for by itself, so that the pictures of one take nothing from the next.
        most_steps = 100
        for _ in range(most_steps):
            if wait_until(go_on, 120, lambda: f"a next step; at {tablet.title!r}: {tablet.label!r}; {tablet.said()[-3:]}") == "done":
                return seen
        self.fail(f"the first point is not done after {most_steps} looks and presses")

    def test_1_every_step_in_every_size_light_and_dark(self):
        if self.axe is None:
            print("axe-core is not here: our own checks alone look at the page")
        tablet = self.tablet
        tablet.open("now")

        def look(label):
            for size in SIZES:
                tablet.resize(size)
                for dark in (False, True):
                    tablet.go_dark(dark)
                    tablet.settled()
                    tablet.shot(f"step-{label.lower().replace(' ', '-')}-{size}-{'dark' if dark else 'light'}")
                    self.check(f"{label}, {size}, {'dark' if dark else 'light'}")
            tablet.go_dark(False)
            tablet.resize("tablet")

        seen = self.through_the_steps(look)
        self.assertLessEqual({"Start the run", "Done", "Discs are on", "It floats", "Enter the reading", "Still floats"}, seen)

    def test_2_every_view_in_every_size_light_and_dark(self):
        for view in VIEWS:
            self.tablet.open(view)
            for size in SIZES:
                self.tablet.resize(size)
                for dark in (False, True):
                    self.tablet.go_dark(dark)
                    self.tablet.settled()
                    self.tablet.shot(f"view-{view}-{size}-{'dark' if dark else 'light'}")
                    self.check(f"{view}, {size}, {'dark' if dark else 'light'}")
        self.tablet.go_dark(False)
        self.tablet.resize("tablet")

    def test_3_the_keyboard_alone_reaches_everything_and_shows_where_it_is(self):
        for view in VIEWS:
            self.tablet.open(view)
            self.tablet.settled()
            wanted = set(self.tablet.run("""
              let n = 0;
              return [...document.querySelectorAll("a[href], button, input, select, summary")].filter((e) => e.checkVisibility() && !e.disabled)
                .map((e) => { if (e.type === "radio" && !e.checked) return null; e.dataset.seenByTest = ++n; return String(n); }).filter(Boolean);"""))
            reached, invisible = set(), []
            for _ in range(3 * len(wanted) + 20):
                self.tablet.key("\ue004")  # tab
                at = self.tablet.run("""
                  const e = document.activeElement, s = getComputedStyle(e);
                  return [e.dataset.seenByTest || "", s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2, e.outerHTML.slice(0, 100)];""")
                reached.add(at[0])
                if at[0] and not at[1]:
                    invisible.append(at[2])
                if wanted <= reached:
                    break
            self.assertEqual(wanted - reached, set(), view)
            self.assertEqual(invisible, [], view)

    def test_4_text_twice_as_large_still_fits(self):
        """WCAG 2.2, 1.4.4: as a page zoomed to 200 % on the tablet, which is one of half its size."""
        self.tablet.resize((640, 400))
        for view in VIEWS:
            self.tablet.open(view)
            self.tablet.settled()
            self.check(f"{view} at 200 %")
        self.tablet.resize("tablet")

    def test_5_the_page_is_light_and_complains_of_nothing(self):
        self.tablet.open("now")
        sizes = self.tablet.run("return performance.getEntriesByType('resource').filter((e) => e.name.includes('/page/'))"
                                ".map((e) => [e.name, e.decodedBodySize])")
        page = len(self.bench.ask("/")[2])
        self.assertGreater(len(sizes), 10)
        self.assertLess(page + sum(size for _, size in sizes), HEAVIEST_BYTES, sizes)
        self.assertEqual(self.tablet.console_errors(allowed=REFUSED), [])


if __name__ == "__main__":
    unittest.main()
