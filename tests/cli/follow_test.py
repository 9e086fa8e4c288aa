"""The live view in a terminal, driven key by key against a scripted service."""

import os
import re
import signal
import time
import unittest

import pexpect

from fake_service import FakeService, frame_of_test, now_us
from terminal_screen import Screen

PROGRAM = os.path.join(os.environ["STILLMARK_BUILD"], "stillmark")
# A step must have stood on the screen for a moment before a key can answer it.
READING_TIME_S = 0.4


class View:
    """The program in a terminal of its own, and what stands on its screen."""

    def __init__(self, path, kind="vt100", rows=24, columns=80):
        self.screen = Screen(rows, columns)
        self.child = pexpect.spawn(PROGRAM, ["--socket", path, "follow", "--by", "Ada (invented)"], dimensions=(rows, columns),
                                   env={**os.environ, "TERM": kind, "LC_ALL": "C.UTF-8"}, timeout=10, encoding="utf-8")
        self.child.delaybeforesend = None
        self.child.delayafterclose = self.child.ptyproc.delayafterclose = 0.02
        self.child.delayafterterminate = self.child.ptyproc.delayafterterminate = 0.02
        self.sent_us = 0

    def read(self, for_s=0.05):
        try:
            self.screen.write(self.child.read_nonblocking(65536, timeout=for_s))
        except (pexpect.TIMEOUT, pexpect.EOF):
            pass

    def text(self):
        return str(self.screen)

    def wait_for(self, *words, within_s=8.0, gone=False):
        end = time.monotonic() + within_s
        while time.monotonic() < end:
            self.read()
            if all((word in self.text()) != gone for word in words):
                return
        raise AssertionError(f"{words} {'still' if gone else 'not'} on the screen:\n{self.text()}")

    def press(self, keys):
        self.sent_us = now_us()
        self.child.send(keys)

    def close(self):
        self.child.close(force=True)


class Following(unittest.TestCase):
    def start(self, frame, answer=None, **terminal):
        self.service = FakeService(frame=frame_of_test(frame) if isinstance(frame, str) else frame, answer=answer)
        self.addCleanup(self.service.__exit__)
        view = View(self.service.path, **terminal)
        self.addCleanup(view.close)
        return view

    def started(self, frame, words, answer=None, **terminal):
        view = self.start(frame, answer, **terminal)
        view.wait_for(words)
        time.sleep(READING_TIME_S)
        return view

    def commands(self, count):
        found = self.service.wait_for_commands(count)
        self.assertEqual(len(found), count, found)
        for command in found:
            self.assertEqual(command.pop("by"), "Ada (invented)")
            command.pop("id")
        return found

    def stamped_now(self, command, view):
        """The instant in the request lies between the sending of the key and its arrival."""
        at_us = command.pop("pressed_us")
        self.assertGreaterEqual(at_us, view.sent_us)
        self.assertLess(at_us, view.sent_us + 1_000_000)
        return at_us

    def test_the_wanted_key_answers_each_step(self):
        view = self.started("load", "Step 13 of 57")
        view.press(" ")
        load = self.commands(1)[0]
        self.stamped_now(load, view)
        self.assertEqual(load, {"do": "load", "step": 12})
        view.wait_for("Recorded: Load as planned.")
        self.service.frame = frame_of_test("float")
        view.wait_for("Step 14 of 57")
        time.sleep(0.8)
        view.press(" ")
        confirm = self.service.wait_for_commands(2)[1]
        self.stamped_now(confirm, view)
        self.assertEqual((confirm["do"], confirm["range"]), ("confirm", "low"))
        self.service.frame = frame_of_test("sight")
        view.wait_for("Step 16 of 57")
        time.sleep(0.8)
        view.press(" ")
        sighted = self.service.wait_for_commands(3)[2]
        self.stamped_now(sighted, view)
        self.assertEqual((sighted["do"], sighted["close"]), ("sighted", True))

    def test_loaded_and_floating_in_one_press(self):
        view = self.started("load", "F loaded and floating")
        view.press("F")
        load, confirm = self.commands(2)
        self.assertEqual(self.stamped_now(load, view), self.stamped_now(confirm, view))
        self.assertEqual((load, confirm), ({"do": "load", "step": 12}, {"do": "confirm", "range": "low"}))
        view.wait_for("Recorded: Floating, low range.")

    def test_no_confirmation_follows_a_load_that_was_refused(self):
        view = self.started("load", "F loaded and floating",
                            answer=lambda request: {"ok": request["do"] == "subscribe", "error": "Step 12 is past.", "code": "refused"})
        view.press("F")
        view.wait_for("Step 12 is past.")
        time.sleep(0.3)
        self.assertEqual([command["do"] for command in self.commands(1)], ["load"])
        self.service.answer = lambda request: {"ok": True}
        view.press("x")
        view.wait_for("Step 12 is past.", gone=True)

    def test_sighted_lost_and_undo(self):
        view = self.started("read", "Step 15 of 57")
        for count, (key, expected) in enumerate((("s", {"do": "sighted", "close": False}), ("x", {"do": "lost"}), ("u", {"do": "undo"})), 1):
            view.press(key)
            command = self.service.wait_for_commands(count)[-1]
            self.stamped_now(command, view)
            self.assertLessEqual(expected.items(), command.items())

    def test_a_held_key_counts_once(self):
        view = self.started("float", "Step 14 of 57")
        view.press(" ")
        for _ in range(10):
            time.sleep(0.04)
            view.press(" ")
        view.wait_for("counts as held down")
        self.assertEqual(len(self.commands(1)), 1)

    def test_a_dial_reading(self):
        view = self.started("read", "SPACE/d dial reading")
        view.press("404")
        view.wait_for("before tapping: 404_ bar")
        view.press("\r")
        view.wait_for("after tapping: _ bar")
        view.press("40")
        view.press("\x7f")
        view.press("06")
        view.wait_for("after tapping: 406_ bar")
        time.sleep(0.8)
        view.press("\r")
        entered = self.commands(1)[0]
        self.stamped_now(entered, view)
        self.assertLess(entered.pop("started_us"), view.sent_us)
        self.assertEqual(entered, {"do": "enter", "channel": "dial gauge D", "untapped": "404 bar", "tapped": "406 bar"})
        view.wait_for("Recorded: dial gauge D: 404 bar, tapped 406 bar.")
        view.wait_for("before tapping", gone=True)

    def test_a_wrong_unit_is_refused_in_words_and_nothing_is_sent(self):
        view = self.started("read", "SPACE/d dial reading")
        view.press("580 psi\r")
        view.wait_for("dial gauge D reads in bar, not in psi")
        view.press("\x1b")
        view.wait_for("No reading was entered.")
        self.assertEqual(self.commands(0), [])

    def test_the_numeric_pad_types_numbers_and_unknown_keys_type_nothing(self):
        view = self.started("read", "SPACE/d dial reading")
        view.press("\x1bOt")
        view.wait_for("before tapping: 4_ bar")
        view.press("\x1bOp")
        view.wait_for("before tapping: 40_ bar")
        view.press("\x1b[99;5x")
        time.sleep(0.3)
        view.wait_for("before tapping: 40_ bar")
        view.press("\x1b")
        view.wait_for("No reading was entered.")
        view.press("\x1bx")
        time.sleep(0.3)
        self.assertEqual(self.commands(0), [])

    def test_a_press_while_the_service_is_away_is_refused_and_not_kept(self):
        view = self.started("float", "Step 14 of 57")
        self.service.stop()
        view.wait_for("The service is away", "no reading for", "not known now")
        view.press("f")
        view.wait_for("nothing was sent, and nothing is kept for later")
        self.service.start()
        view.wait_for("Back: the service was away for")
        view.wait_for("37.41 bar")
        time.sleep(0.3)
        self.assertEqual(self.commands(0), [])

    def test_it_waits_for_a_service_that_is_not_there_yet(self):
        service = FakeService(frame=frame_of_test("float"))
        self.addCleanup(service.__exit__)
        service.stop()
        view = View(service.path)
        self.addCleanup(view.close)
        view.wait_for("there is no such")
        service.start()
        view.wait_for("Step 14 of 57")

    def test_a_service_that_stops_telling_is_not_shown_as_live(self):
        view = self.started("read", "40.0123 bar")
        self.service.frame = None
        view.wait_for("No word from the service for", "no reading for")
        view.wait_for("40.0123", gone=True)
        self.service.frame = frame_of_test("read")
        view.wait_for("40.0123 bar")

    def test_frames_that_cannot_be_read_are_told_in_words(self):
        view = self.started("read", "40.0123 bar")
        for line, words in ((b'{"frame": {"at_us": "now"}}\n', "frame.at_us: a text stands where a number"),
                            (b'{"frame": []}\n', "A frame came that cannot be read"),
                            (b"{]\n", "is not a line of JSON")):
            self.service.frame = line
            view.wait_for(words)
        self.service.frame = frame_of_test("read")
        view.wait_for("40.0123 bar")

    def test_it_resizes_and_says_when_it_is_too_small(self):
        view = self.started("read", "40.0123 bar")
        view.child.setwinsize(20, 70)
        view.screen = Screen(20, 70)
        view.wait_for("This window is 70 x 20; the live view needs 80 x 24.")
        view.child.setwinsize(30, 100)
        view.screen = Screen(30, 100)
        view.wait_for("40.0123 bar", "q quit")

    def test_keys_pressed_while_the_view_was_halted_are_dropped(self):
        view = self.started("float", "Step 14 of 57")
        view.child.kill(signal.SIGSTOP)
        view.press("f")
        time.sleep(1.2)
        view.child.kill(signal.SIGCONT)
        view.wait_for("keys pressed meanwhile are dropped")
        time.sleep(0.3)
        self.assertEqual(self.commands(0), [])

    def test_q_quits_and_so_does_a_signal(self):
        for leave in (lambda view: view.press("q"), lambda view: view.child.kill(signal.SIGTERM), lambda view: view.press("\x03")):
            view = self.started("read", "40.0123 bar")
            leave(view)
            view.child.expect(pexpect.EOF)
            view.child.close()
            self.assertEqual(view.child.exitstatus, 0)

    def test_the_kinds_of_terminal(self):
        for kind in ("linux", "xterm", "screen", "vt100"):
            with self.subTest(kind):
                view = self.start("read", kind=kind)
                view.child.expect(re.escape("40.0123 bar"))
                view.press("q")
                view.child.expect(pexpect.EOF)
                view.close()
                self.assertEqual(view.child.exitstatus, 0)

    def test_without_a_terminal_it_says_what_to_use(self):
        output, code = pexpect.run(f"/bin/sh -c '{PROGRAM} follow < /dev/null'", withexitstatus=True)
        self.assertEqual(code, 2)
        self.assertIn(b"stillmark status --json", output)
        output, code = pexpect.run(f"{PROGRAM} follow", env=dict(os.environ, TERM="no-such-kind"), withexitstatus=True)
        self.assertEqual(code, 2)
        self.assertIn(b"TERM=no-such-kind", output)


if __name__ == "__main__":
    unittest.main()
