"""Each dialog of the page, opened as a person opens it and answered; and the space bar after each of them."""
import json
import time
import unittest

from browser.access_test import CHECKS
from browser.tablet import AWAY, REFUSED, Tablet, wait_until
from browser.users import PASSWORD, users_file
from gateway.web import ServedBench
from whole.bench_at_work import LOW, now_us, small_bench

# The next request of one kind is answered by the test, as the service words such a refusal.
DENY = """
const [what, answer] = arguments, real = window.fetch;
window.requestsSeen = [];
window.fetch = (path, options) => {
  if (!String(path).endsWith("/api/do/" + what)) return real(path, options);
  const body = JSON.parse(options.body);
  window.requestsSeen.push(body);
  if (body.despite) return Promise.resolve(new Response('{"ok": true}', {status: 200}));
  return Promise.resolve(new Response(JSON.stringify(answer), {status: 409, headers: {"Content-Type": "application/problem+json"}}));
};"""
DENIED = {"title": "Refused", "status": 409, "code": "contradicted", "detail": "most instruments are far from 40 bar; look at them",
          "contradicted": [{"channel": "dial gauge D", "shows": "412 bar", "shows_pa": 412e5,
                           "expected": "40 bar", "expected_pa": 40e5, "far": "5 bar", "far_pa": 5e5}]}
ESCAPE, ENTER, TAB = "\ue00c", "\ue007", "\ue004"


class DialogBench(ServedBench):
    """A bench with a dial alone, worked over HTTP: nothing has to come to rest."""

    def press(self, what, expected=200, **keys):
        return self.do(what, expected, pressed_us=now_us(), **keys)

    def frame(self):
        return self.json("/api/frame")["frame"]

    def step(self):
        return self.frame()["step"] or {"wants": None}

    def start_run(self):
        self.press("run_start", sequence=json.loads(self.bench.read_text(encoding="utf-8"))["sequences"][0]["name"], condition="as found")

    def work_until(self, wants):
        """Does what the steps want until one wants this."""
        for _ in range(20):
            step = wait_until(lambda: (lambda one: one if one["wants"] != "nothing" else None)(self.step()), 20, "a step wants something")
            if step["wants"] == wants:
                return step
            keys = {"step_done": {"step": step["number"]}, "load": {"step": step["number"]}, "confirm": {"range": step["range"]}}
            self.press(step["wants"], **keys[step["wants"]])
            wait_until(lambda: (self.step().get("number"), self.step()["wants"]) != (step["number"], step["wants"]), 10, "the step is done")
        raise AssertionError(f"never at {wants}; at {self.step()}")

    def enter_dial(self):
        """A reading of the dial is refused where it was begun before the float had settled: it is read again."""
        def entered():
            status, _, body = self.ask("/api/do/enter", "POST", {"channel": "dial gauge D", "untapped": "40 bar", "tapped": "40 bar",
                                                                 "started_us": now_us(), "pressed_us": now_us()})
            return status == 200 or self.refused_early(body)
        wait_until(entered, 20, "the reading is taken")

    @staticmethod
    def refused_early(body):
        said = json.loads(body)
        if said["code"] != "refused":
            raise AssertionError(said)
        return False

    def marks(self):
        return self.json("/api/runs/R1")["results"]["marks"]


class Dialogs(unittest.TestCase):
    def setUp(self):
        self.bench = self.enterContext(DialogBench(small_bench((LOW,), series=("up", "down"), instruments="D"))).serve()
        self.tablet = self.enterContext(Tablet(self.bench.url.geturl().rstrip("/"))).open()
        self.addCleanup(lambda: self.assertEqual(self.tablet.console_errors(allowed=REFUSED), []))

    def reach(self, wants):
        self.bench.start_run()
        return self.bench.work_until(wants)

    def until_dialog(self, *words):
        wait_until(lambda: all(word in self.tablet.text("dialog") for word in words), 10,
                   lambda: f"a dialog says {words}; it says {self.tablet.text('dialog')!r}")

    def pictures(self, name, sizes=("tablet", "laptop")):
        """The dialog in both kinds of light, each held against the rules of access."""
        for size in sizes:
            self.tablet.resize(size)
            for dark in (False, True):
                self.tablet.go_dark(dark)
                self.tablet.settled()
                self.tablet.shot(f"dialog-{name}-{size}-{'dark' if dark else 'light'}")
                self.assertEqual(self.tablet.run(CHECKS), [], (name, size, dark))
        self.tablet.go_dark(False)
        self.tablet.resize("tablet")

    def until_closed(self):
        wait_until(lambda: not self.tablet.run("return Boolean(document.querySelector('dialog'))"), 5, "the dialog is closed")

    def button(self, words, within="#dialog"):
        """A tap on the button with just these words."""
        find = ("const all = [...document.querySelectorAll(arguments[1] + ' button')]; document.querySelectorAll('.under-test')"
                ".forEach((one) => one.classList.remove('under-test'));"
                "const one = all.find((b) => b.textContent === arguments[0]); one?.classList.add('under-test'); return Boolean(one);")
        wait_until(lambda: self.tablet.run(find, words, within), 10, lambda: f"a button {words}")
        self.tablet.tap(".under-test")

    def typed_in(self):
        return self.tablet.run("return document.activeElement.tagName + ' ' + document.activeElement.closest('label')?.textContent")

    def until_said(self, words, count):
        return wait_until(lambda: [one for one in self.tablet.said()[count:] if words in one], 10,
                          lambda: f"the page says {words!r}; it said {self.tablet.said()[count:]}")

    def open_mark(self, number):
        self.tablet.tap("nav a[data-view=run]")
        self.button(str(number), within="#view-run")
        self.until_dialog(f"Mark {number}", "Of the reference pressure")

    def with_a_mark(self):
        """The first mark, while its float is confirmed."""
        self.reach("enter")
        self.bench.enter_dial()
        return wait_until(self.bench.marks, 10, "there is a mark")[0]["mark"]

    def test_a_mark_is_voided_with_a_reason(self):
        number = self.with_a_mark()
        self.open_mark(number)
        self.pictures("mark")
        self.button("Void it")
        self.until_dialog("Void it: mark", "Reason")
        self.pictures("void")
        self.tablet.key("   " + ENTER)
        self.until_dialog("Void it: mark")
        count = len(self.tablet.said())
        self.tablet.key("read from the side" + ENTER)
        self.until_said(f"mark {number} is void", count)
        self.until_closed()
        mark = self.bench.marks()[0]
        self.assertEqual((mark["status"], "read from the side" in mark["why"]), ("void", True), mark)

    def test_nothing_is_voided_where_the_person_closes_the_dialog(self):
        number = self.with_a_mark()
        for close in ("Close", ESCAPE):
            self.open_mark(number)
            self.button("Void it")
            self.until_dialog("Void it: mark")
            self.tablet.key("not meant")
            self.tablet.key(ESCAPE) if close == ESCAPE else self.button(close)
            self.until_closed()
        self.assertNotEqual(self.bench.marks()[0]["status"], "void")

    def test_an_unbracketed_mark_is_accepted_with_reason_and_name(self):
        number = self.with_a_mark()
        # What was open when the service went away has no closing check.
        port = self.bench.port
        self.bench.end(self.bench.service)
        self.bench.serve(address=f"127.0.0.1:{port}")
        self.tablet.open("now")
        self.assertEqual(self.tablet.console_errors(allowed=(*AWAY, *REFUSED)), [])
        self.assertEqual(self.bench.marks()[0]["status"], "unbracketed")
        self.open_mark(number)
        self.button("Let it count")
        self.until_dialog("Let it count: mark", "Reason", "Your name")
        self.pictures("accept")
        count = len(self.tablet.said())
        self.tablet.key("the piston was seen afloat by two" + TAB + "R. Reviewer (invented)" + ENTER)
        self.until_said(f"mark {number} counts", count)
        self.assertEqual(self.bench.marks()[0]["accepted_by"], "R. Reviewer (invented)")

    def test_the_point_of_a_void_mark_is_done_again(self):
        number = self.with_a_mark()
        self.bench.press("void", mark=number, reason="read from the side")
        self.open_mark(number)
        count = len(self.tablet.said())
        self.button("Do its point again")
        self.until_closed()
        self.until_said("is done again", count)

    def test_a_run_is_stopped_with_a_reason(self):
        self.reach("load")
        self.tablet.open("run")
        self.button("Stop this run", within="#view-run")
        self.until_dialog("Stop run R1", "Reason")
        self.pictures("stop")
        self.tablet.key("a leak at the hose" + ENTER)
        wait_until(lambda: self.bench.frame()["run"]["state"] == "stopped", 10, "the run is stopped")
        self.assertIn("a leak at the hose", self.bench.json("/api/runs/R1")["results"]["run"]["reason"])

    def test_after_a_run_a_press_by_habit_starts_no_other(self):
        self.reach("load")
        self.bench.press("run_stop", reason="a leak at the hose")
        self.tablet.until_label("Another run")
        self.tablet.key(" ")
        self.until_dialog("Start another run?", "Run R1 is stopped")
        self.pictures("another-run")
        for key in (" ", "\ue00f", ENTER):
            self.tablet.key(key)
        self.until_dialog("Start another run?")
        self.assertEqual(len(self.bench.json("/api/runs")["runs"]), 1)
        self.button("Close")
        self.until_closed()
        self.tablet.key(" ")
        count = len(self.tablet.said())
        self.button("Start the run")
        self.until_said("the run began", count)
        self.assertEqual(len(self.bench.json("/api/runs")["runs"]), 2)

    def test_another_load_is_stated_and_the_space_bar_works_afterwards(self):
        self.reach("confirm")
        for way in ("state", "close"):
            self.tablet.until_label("It floats", "Discs are on and it floats")
            self.tablet.tap("#other")
            self.until_dialog("What is on the head")
            self.pictures("other-load")
            if way == "state":
                count = len(self.tablet.said())
                discs = self.tablet.run("return [...document.querySelectorAll('#dialog input')].filter((b) => b.checked).map((b) => b.value)")
                self.button("This is on the head")
                self.until_said("Recorded: on the head", count)
                self.assertEqual(self.bench.frame()["load"]["discs"], discs)
            else:
                self.button("Close")
            self.until_closed()
        self.tablet.until_label("It floats")
        self.assertIn("Recorded: it floats", self.tablet.press(" "))

    def test_the_space_bar_works_after_a_click_on_a_tab_and_on_a_label(self):
        self.tablet.until_label("Start the run")
        for view in ("bench", "now"):
            self.tablet.tap(f"nav a[data-view={view}]")
            self.assertEqual(self.tablet.run("return document.activeElement.tagName"), "BODY", view)
        self.tablet.tap("#step-start label.choice")
        self.tablet.tap("#step-start label.choice")
        self.tablet.until_label("Start the run")
        self.assertIn("Recorded: the run began", self.tablet.press(" "))
        self.tablet.tap("nav a[data-view=bench]")
        self.tablet.until_label("Back to the step")
        self.tablet.key(" ")
        self.tablet.until_label("Done", "Discs are on")

    def test_a_keyboard_goes_on_where_it_was(self):
        number = self.with_a_mark()
        self.tablet.tap("nav a[data-view=run]")
        name = f"mark {number}, more"
        wait_until(lambda: self.tablet.run("document.querySelector(`[aria-label='${arguments[0]}']`)?.focus();"
                                           "return document.activeElement.ariaLabel === arguments[0]", name), 10, "the mark's button has the focus")
        self.tablet.key(TAB)
        self.tablet.run("document.querySelector(`[aria-label='${arguments[0]}']`).focus()", name)
        self.tablet.key(ENTER)
        self.until_dialog(f"Mark {number}")
        self.tablet.key(ESCAPE)
        self.until_closed()
        self.assertEqual(self.tablet.run("return document.activeElement.ariaLabel"), name)

    def deny(self, what):
        self.tablet.run(DENY, what, DENIED)

    def test_a_contradicted_press_goes_on_only_with_a_reason(self):
        self.reach("confirm")
        self.deny("confirm")
        self.tablet.until_label("It floats")
        count = len(self.tablet.said())
        self.tablet.key(" ")
        self.until_dialog("ost instruments are far from 40 bar", "dial gauge D", "412 bar", "+372 bar", "Look again")
        self.assertEqual(self.tablet.run("const d = document.querySelector('dialog').getBoundingClientRect();"
                                         "return [d.left, d.width - innerWidth]"), [0, 0], "over the full width")
        self.pictures("contradicted", sizes=("tablet", "laptop", "phone"))
        for key in (" ", "\ue00f", ENTER):
            self.tablet.key(key)
        self.button("Go on with this reason")
        self.until_dialog("Look again")
        self.assertEqual(len(self.tablet.run("return window.requestsSeen")), 1, "nothing goes on by itself or without a reason")
        self.tablet.tap("#dialog input")
        self.tablet.key("the valve to the gauge is shut" + ENTER)
        self.until_said("Recorded: it floats", count)
        first, second = self.tablet.run("return window.requestsSeen")
        self.assertEqual((second["reason"], bool(second["despite"]), second["range"]), ("the valve to the gauge is shut", True, first["range"]))
        self.assertNotIn("reason", first)
        self.assertGreater(second["pressed_us"], first["pressed_us"])

    def test_who_looks_again_has_recorded_nothing(self):
        self.reach("confirm")
        self.deny("confirm")
        for leave in ("Look again", ESCAPE):
            self.tablet.until_label("It floats")
            self.tablet.tap("#big")
            self.until_dialog("Look again")
            count = len(self.tablet.said())
            self.tablet.key(ESCAPE) if leave == ESCAPE else self.button(leave)
            self.until_closed()
            self.until_said("Not done: Most instruments", count)
        self.assertEqual([one.get("despite") for one in self.tablet.run("return window.requestsSeen")], [None] * 2)


class LogInDialog(unittest.TestCase):
    def test_the_log_in_stays_until_somebody_is_let_in_and_passwords_are_asked_for(self):
        bench = ServedBench()
        file = users_file(bench.folder, Ada="administrator", Rea="reviewer")
        bench = self.enterContext(bench).serve("--users", file)
        tablet = self.enterContext(Tablet(bench.url.geturl().rstrip("/"))).open(live=False)
        wait_until(lambda: "Log in to this bench" in tablet.text("dialog"), 10, "the page asks who is there")
        for _ in range(4):
            tablet.key(ESCAPE)
            time.sleep(0.05)
        self.assertIn("Log in to this bench", tablet.text("dialog"))
        self.assertEqual(tablet.run("return [document.querySelectorAll('dialog').length, document.querySelector('dialog').matches(':modal'),"
                                    "document.activeElement.autocomplete]"), [1, True, "username"])
        tablet.shots("dialog-log-in", sizes=("tablet", "laptop"))
        tablet.key("Ada" + TAB + PASSWORD + ENTER)
        wait_until(lambda: not tablet.text("dialog"), 10, "Ada is in")
        tablet.until_live()
        tablet.tap("nav a[data-view=settings]")
        wait_until(lambda: tablet.run("return Boolean(document.querySelector(\"button[aria-label='New password for Rea']\"))"), 10, "people are listed")
        tablet.run("document.querySelector(\"button[aria-label='New password for Rea']\").scrollIntoView()")
        tablet.tap("button[aria-label='New password for Rea']")
        wait_until(lambda: "New password for Rea" in tablet.text("dialog"), 5, "the page asks for the password")
        tablet.shots("dialog-password", sizes=("tablet", "laptop"))
        tablet.key("short" + ENTER)
        self.assertIn("New password for Rea", tablet.text("dialog"))
        count = len(tablet.said())
        tablet.key(" but longer now" + ENTER)
        wait_until(lambda: any("has a new password" in one for one in tablet.said()[count:]), 10, lambda: f"it is set; {tablet.said()}")


if __name__ == "__main__":
    unittest.main()
