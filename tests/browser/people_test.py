"""The page with people: log in, what each role is shown, log out, and a session that ends elsewhere."""
import unittest

from browser.tablet import AWAY, REFUSED, Tablet, wait_until
from browser.users import PASSWORD, users_file
from gateway.web import ServedBench
from whole.bench_at_work import quick_scenario, small_bench

NOT_YET = ("status of 401", "status of 403")


class People(unittest.TestCase):
    def setUp(self):
        bench = small_bench(instruments="AD")
        self.bench = self.enterContext(ServedBench(bench, quick_scenario(bench)))
        users = users_file(self.bench.folder, Ada="administrator", Ole="operator", Rea="reviewer")
        self.bench.serve("--users", users, simulator=True)
        self.url = self.bench.url.geturl().rstrip("/")
        self.tablet = self.enterContext(Tablet(self.url)).open(live=False)

    def log_in(self, tablet, name, password=PASSWORD):
        wait_until(lambda: "Log in to this bench" in tablet.text("dialog"), 10, "the page asks who works here")
        tablet.run("document.querySelectorAll('#dialog input').forEach((one) => { one.value = ''; })")
        tablet.tap("#dialog input[type=text]")
        tablet.key(name)
        tablet.tap("#dialog input[type=password]")
        tablet.key(password + "\ue007")

    def test_who_may_press_and_who_looks_on(self):
        tablet = self.tablet
        self.log_in(tablet, "Ole", "not this one")
        wait_until(lambda: tablet.run("return document.querySelector('#dialog .refusal').textContent"), 10, "the page tells why not")
        tablet.shot("log-in")
        self.log_in(tablet, "Ole")
        tablet.until_live()
        self.assertIn("Ole, operator", tablet.text("session-words"))
        tablet.until_label("Start the run")
        self.assertIn("Recorded", tablet.press())
        run = self.bench_runs(tablet)[0]
        self.assertEqual(run["by"], "Ole", "who pressed stands on record")
        with Tablet(self.url) as second:
            second.open(live=False)
            self.log_in(second, "Rea")
            second.until_live()
            wait_until(lambda: second.title == tablet.title, 5, "the reviewer sees the same step")
            self.assertIn("You look on as a reviewer", second.press())
            self.assertFalse(second.run("return document.getElementById('lost').checkVisibility()"))
            self.assertEqual(second.label, "You look on")
            self.assertEqual(self.bench_runs(second)[0]["step"], self.bench_runs(tablet)[0]["step"])
            second.shot("reviewer")
            second.tap("#session-words button")
            wait_until(lambda: "Log in to this bench" in second.text("dialog"), 10, "after logging out nothing is shown without a name")
            wait_until(lambda: not second.is_live(), 10, "and no frame comes any more")
        self.assertEqual(tablet.console_errors(allowed=NOT_YET + AWAY + REFUSED), [])

    def bench_runs(self, tablet):
        return tablet.driver.execute_async_script("const done = arguments[0]; fetch('/api/runs').then((r) => r.json()).then((j) => done(j.runs));")

    def test_an_administrator_adds_and_removes_people_and_their_sessions_end(self):
        tablet = self.tablet
        self.log_in(tablet, "Ada")
        tablet.until_live()
        tablet.tap("nav a[data-view=settings]")
        wait_until(lambda: "Rea" in tablet.text("view-settings"), 10, "the people are listed")
        with Tablet(self.url) as second:
            second.open(live=False)
            self.log_in(second, "Rea")
            second.until_live()
            tablet.run("document.querySelector('button[aria-label=\"Remove Rea\"]').click()")
            wait_until(lambda: "Remove Rea" in tablet.text("dialog"), 5, "the page asks whether it is meant")
            tablet.tap("#dialog button[type=submit]")
            wait_until(lambda: "Rea" not in tablet.text("view-settings"), 10, "Rea is gone from the list")
            wait_until(lambda: "Log in to this bench" in second.text("dialog"), 20, "the session of who was removed ends")
        tablet.run("document.querySelector('.people input[type=text]').scrollIntoView()")
        tablet.tap(".people input[type=text]")
        tablet.key("Zoe")
        tablet.tap(".people input[type=password]")
        tablet.key(PASSWORD + "\ue007")
        wait_until(lambda: tablet.run("return [...document.querySelectorAll('.people tbody th')].some((one) => one.textContent === 'Zoe')"), 10, "Zoe is in the list")


if __name__ == "__main__":
    unittest.main()
