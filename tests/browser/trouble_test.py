"""What goes wrong at a bench, seen from the page: the service away, presses that must not count, floats that end."""
import signal
import threading
import time
import unittest

from browser.tablet import AWAY, REFUSED, Tablet, wait_until
from gateway.web import LiveView, ServedBench
from whole.bench_at_work import now_us, quick_scenario, small_bench


# Within this time, in the page itself: the driver's way takes as long as the machine lets it.
AT_ONCE = """
const [look, act, done] = [new Function("return " + arguments[0]), new Function(arguments[1]), arguments[2]];
const count = window.said.length;
let acted = false;
const watch = () => {
  if (acted || !look()) return;
  acted = true;
  observer.disconnect();
  act();
  setTimeout(() => done(window.said.slice(count)), 0);
};
const observer = new MutationObserver(watch);
observer.observe(document.body, {subtree: true, childList: true, characterData: true, attributes: true});
watch();"""


class PageOfABench(unittest.TestCase):
    # The float expires after the least of what ends it.
    spin_time = None

    def setUp(self):
        bench = small_bench(instruments="ACD")
        for one in bench["balance"]["ranges"] if self.spin_time else []:
            one["spin_time"] = self.spin_time
        self.bench = self.enterContext(ServedBench(bench, quick_scenario(bench)))
        self.bench.serve(simulator=True)
        self.tablet = self.enterContext(Tablet(self.bench.url.geturl().rstrip("/"), altered=True)).open()
        self.tablet.reason = "the gauges are shut off"  # they rest at zero, which contradicts every float

    def until_said(self, words, count, within_s=8):
        return wait_until(lambda: [one for one in self.tablet.said()[count:] if words in one], within_s,
                          lambda: f"the page says {words!r}; it said {self.tablet.said()[count:]}")

    def go_to(self, label):
        """Presses what the page asks for until the big control says this."""
        for _ in range(12):
            now = self.tablet.until_label("Start the run", "Done", "Discs are on", "It floats", label)
            if now == label:
                return
            before = (now, self.tablet.text("step-count"))
            self.tablet.press()
            wait_until(lambda: (self.tablet.label, self.tablet.text("step-count")) != before, 5, f"{before} is done")
        self.fail(f"never at {label}; at {self.tablet.title}")


class Trouble(PageOfABench):
    def test_a_service_that_is_killed_comes_back_and_the_run_goes_on(self):
        tablet = self.tablet
        self.go_to("Enter the reading")
        port = self.bench.port
        self.bench.end(self.bench.service, signal.SIGKILL)
        wait_until(lambda: "The service is away" in tablet.alarms, 10, lambda: f"the page tells; {tablet.alarms!r}")
        self.assertFalse(tablet.is_live())
        struck = tablet.run("return [...document.querySelectorAll('#channels .value')].filter((e) => e.textContent)"
                            ".every((e) => getComputedStyle(e).textDecorationLine === 'line-through')")
        self.assertTrue(struck, "no stale value looks like a live one")
        count = len(tablet.said())
        for press in ("tap", " "):
            tablet.press(press, once=True)
        self.assertTrue(all("nothing is kept for later" in one for one in tablet.said()[count:]), tablet.said()[count:])
        tablet.shot("service-away")
        back = time.monotonic()
        self.bench.serve(address=f"127.0.0.1:{port}")
        tablet.until_live()
        wait_until(lambda: "The service was away for" in tablet.alarms, 5, "the page tells how long it was away")
        self.assertIn("unknown", tablet.text("float-words"))
        tablet.until_label("It floats")
        self.assertIn("Recorded", tablet.press(" "))
        tablet.until_label("Enter the reading")
        print(f"from the restart to going on: {time.monotonic() - back:.1f} s")
        self.assertEqual(tablet.console_errors(allowed=AWAY), [])

    def test_a_press_on_what_is_old_is_refused_in_words(self):
        tablet = self.tablet
        self.go_to("Done")
        # The service stands still: no frame comes, though the connection is there.
        self.bench.service.send_signal(signal.SIGSTOP)
        try:
            said = tablet.driver.execute_async_script(
                AT_ONCE, "document.getElementById('alarms').textContent.includes('No word from the service')",
                "document.getElementById('big').click()")
        finally:
            self.bench.service.send_signal(signal.SIGCONT)
        self.assertTrue(any("What stands here is old" in one for one in said), said)
        tablet.until_live()
        tablet.until_label("Done")
        # A press with the step, which is done elsewhere: nobody reads that fast.
        number = self.bench.json("/api/frame")["frame"]["step"]["number"]
        threading.Timer(0.5, lambda: self.bench.do("step_done", step=number, pressed_us=now_us())).start()
        said = tablet.driver.execute_async_script(
            AT_ONCE, f"document.getElementById('step-count').textContent.includes('Step {number + 2} of')",
            "document.getElementById('big').click()")
        self.assertTrue(any("The step changed as you pressed" in one for one in said), said)
        # A held key counts once: the page sees it go down again and again.
        tablet.until_label("Done", "Discs are on")
        before = tablet.text("step-count")
        refused = tablet.run("""
          const key = (type, repeat) => document.body.dispatchEvent(new KeyboardEvent(type, {key: " ", code: "Space", repeat, bubbles: true}));
          const count = window.said.length;
          key("keydown", false); for (let i = 0; i < 30; ++i) key("keydown", true); key("keyup", false);
          return count;""")
        self.until_said("Recorded", refused)
        time.sleep(1)
        self.assertEqual(len([one for one in tablet.said()[refused:] if "Recorded" in one]), 1, before)

    def test_two_presses_and_one_a_dial_do_a_point(self):
        self.go_to("Discs are on")
        # As it is for somebody who has changed no setting.
        tablet = self.enterContext(Tablet(self.tablet.url, presses=2)).open()
        tablet.reason = self.tablet.reason
        presses = 0

        def press(label, how):
            nonlocal presses
            tablet.until_label(label, within_s=20)
            presses += 1
            said = tablet.press(how)
            self.assertIn("Recorded", said)

        tablet.until_label("Discs are on and it floats")
        for words in ("Put on, from the bottom", "Wind the press", "clockwise this time", "Confirm when the piston floats"):
            self.assertIn(words, tablet.text("step"))
        tablet.shots("two-presses")
        before = tablet.text("step-count")
        press("Discs are on and it floats", " ")
        tablet.until_label("Enter the reading")
        time.sleep(1)
        tablet.key("20")
        tablet.until_label("Now tap it")
        tablet.tap("#big")
        press("Send the reading", "\ue007")
        # Nobody winds here, so that the wired instruments show other pressures; whether they came to rest is all that counts.
        press("Still floats", "\ue00f")
        wait_until(lambda: tablet.text("step-count") != before and tablet.title != "", 5, "the point is done")
        self.assertEqual(presses, 3)
        marks = tablet.run("return fetch('/api/runs').then((r) => r.json()).then((r) => r.runs.at(-1).marks)")
        self.assertEqual(marks, 3)

    def test_another_range_than_the_planned_one_is_told(self):
        tablet = self.tablet
        self.go_to("It floats")
        tablet.tap("#other")
        wait_until(lambda: "What is on the head" in tablet.text("dialog"), 5, "the page asks what is on the head")
        tablet.run("const s = document.querySelector('#dialog select'); s.value = 'high';")
        count = len(tablet.said())
        tablet.run("[...document.querySelectorAll('#dialog button')].find((b) => b.textContent.includes('It floats')).click()")
        said = tablet.answer(count)
        self.assertIn("Recorded", said)
        wait_until(lambda: "the step plans the low range" in tablet.text("step-advice"), 5,
                   lambda: f"the wrong range is told; {tablet.text('step-advice')!r}")
        tablet.shot("wrong-range")

    def test_a_dial_is_read_in_its_own_steps(self):
        tablet = self.tablet
        self.go_to("Enter the reading")
        tablet.key("21")
        tablet.until_label("Now tap it")
        self.assertIn("lies between two steps of the dial", tablet.press("tap"))
        tablet.tap(".keypad .part:last-child")
        self.assertEqual(tablet.run("return document.querySelector('.entry input').value"), "24", "one part above the nearest")
        tablet.tap("#big")
        tablet.until_label("Send the reading")
        # It was begun before the float had settled: what was typed stays, and the dial is read again.
        if "too soon" in tablet.press(" "):
            tablet.until_label("Now tap it")
            self.assertEqual(tablet.run("return document.querySelector('.entry input').value"), "24")
            time.sleep(1)
            tablet.tap("#big")
            tablet.until_label("Send the reading")
            tablet.press(" ")
        self.assertIn("Recorded: dial gauge D: 24 bar, tapped 24 bar", tablet.said()[-1])

    def test_a_slow_client_and_a_second_tablet_take_nothing_from_the_first(self):
        self.tablet.run("window.alterFrame = (frame) => { window.frameSeen = frame.at_us; return frame; };")
        slow = [self.enterContext(LiveView(self.bench.port)) for _ in range(3)]
        second = self.enterContext(Tablet(self.tablet.url, size="phone")).open()
        # However slowly this machine draws: frames go on coming, and the connection is not lost.
        frames = set()
        heard = len(self.tablet.run("return window.alarmsHeard"))
        wait_until(lambda: frames.add(self.tablet.run("return window.frameSeen")) or len(frames) > 80, 30, lambda: f"{len(frames)} frames came")
        self.assertNotIn("The service is away", " ".join(self.tablet.run("return window.alarmsHeard")[heard:]))
        self.go_to("Done")
        wait_until(lambda: second.title == self.tablet.title and second.label == "Done", 5, "both tablets show the same step")
        self.assertEqual(len(slow), 3)


class FloatsThatEnd(PageOfABench):
    spin_time = "40 s"

    def test_a_float_is_renewed_taken_back_lost_and_expires(self):
        tablet = self.tablet
        self.go_to("It floats")
        count = len(tablet.said())
        # It can be taken back for some seconds only.
        tablet.tap("#big")
        wait_until(lambda: tablet.contradiction, 10, "the gauges at zero contradict it")
        tablet.tap("#dialog form input")
        tablet.key(tablet.reason)
        tablet.run("setTimeout(() => document.querySelector('#dialog form').requestSubmit())")
        tablet.driver.execute_async_script(AT_ONCE, "document.getElementById('undo').textContent.includes('the confirmation')",
                                           "document.getElementById('undo').click()")
        self.until_said("taken back", count)
        tablet.until_label("It floats")
        tablet.press()
        tablet.until_label("Enter the reading")
        # With 40 s of spin the warning comes soon; the renewal is a control of its own beside the dial's entry.
        wait_until(lambda: "The float expires in" in tablet.alarms, 30, "the page warns before the float expires")
        tablet.shot("float-expires")
        count = len(tablet.said())
        tablet.tap("#renew")
        self.assertIn("it still floats", tablet.answer(count))
        wait_until(lambda: "The float expires in" not in tablet.alarms, 5, "the float has its time again")
        wait_until(lambda: "expired" in tablet.text("float-words"), 60, "nobody looked again, and the float expires")
        tablet.until_label("It floats")
        tablet.press()
        tablet.until_label("Enter the reading")
        count = len(tablet.said())
        tablet.tap("#lost")
        self.until_said("the float was lost", count)
        wait_until(lambda: "lost" in tablet.text("float-words"), 5, "the float is lost")
        count = len(tablet.said())
        tablet.tap("#lost")
        self.until_said("Not done", count)
        self.assertEqual(tablet.console_errors(allowed=REFUSED), [])


if __name__ == "__main__":
    unittest.main()
