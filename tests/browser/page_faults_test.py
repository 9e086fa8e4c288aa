"""Checks that bite: each rule of the page is broken in a copy of its module, and the test of that rule must see it."""
import functools
import http.server
import shutil
import tempfile
import threading
import unittest
from pathlib import Path

from browser import rules_test
from browser.tablet import Tablet
from whole.bench_at_work import SOURCE

CONSOLE = SOURCE / "daemon/console"
# The module, what stands there, what would be wrong, and which test of rules_test.py is to fail.
FAULTS = [
    ("presses.js", "now_us - frame.at_us > FRESH_US", "now_us - frame.at_us > 5 * FRESH_US", "a_press_counts_only_on_what_a_person_can_have_seen"),
    ("presses.js", "now_ms - stepShown_ms < READING_TIME_MS", "false", "a_press_counts_only_on_what_a_person_can_have_seen"),
    ("presses.js", "if (!mayPress) return", "if (false) return", "a_press_counts_only_on_what_a_person_can_have_seen"),
    ("presses.js", "if (onItsWay) return", "if (false) return", "a_press_counts_only_on_what_a_person_can_have_seen"),
    ("presses.js", "onePress && step.then", "onePress", "discs_and_float_in_one_press_state_the_load_first"),
    ("presses.js", "load.range !== step.range", "false", "discs_and_float_in_one_press_state_the_load_first"),
    ("presses.js", "body: {close: true}", "body: {close: false}", "the_big_control_means_what_the_step_wants"),
    ("presses.js", "left_us < EXPIRY_WARNING_US) return renewal()", "left_us < 0) return renewal()", "a_float_near_its_end_is_renewed_where_nothing_else_is_wanted"),
    ("alarms.js", "({code}) => code === OVER_PRESSURE", "({text}) => text.includes('rating')", "alarms_go_by_codes_and_never_by_sentences"),
    ("alarms.js", "({code, alarm}) => alarm &&", "({code, alarm}) =>", "alarms_go_by_codes_and_never_by_sentences"),
    ("alarms.js", "if (!frame) return [];", "if (!frame || !connected) return [];", "alarms_go_by_codes_and_never_by_sentences"),
    ("alarms.js", "one.channel === channel.name", "false", "an_approach_is_told_once"),
    ("channels_panel.js", '"silent", "unsupported", "link down"', '"silent", "link down"', "an_instrument_that_is_not_asked_at_its_pace_can_be_asked_at_once"),
    ("dial_value.js", "unit !== channel.unit", "false", "a_dial_is_typed_in_its_unit_and_its_parts"),
    ("dial_value.js", "decimals.length === 3", "false", "a_dial_is_typed_in_its_unit_and_its_parts"),
    ("dial_value.js", "channel.division / channel.parts", "channel.division", "a_dial_is_typed_in_its_unit_and_its_parts"),
    ("numbers.js", "> 1 - decimals) --decimals", "> 2 - decimals) --decimals", "numbers_carry_two_digits_of_their_uncertainty"),
    ("numbers.js", "rest === step && steps % 2n", "rest === step", "numbers_are_rounded_as_on_certificates"),
    ("numbers.js", "let decimals = 1 - leadingDigit", "let decimals = 2 - leadingDigit", "numbers_carry_two_digits_of_their_uncertainty"),
    ("clock.js", ".offset <= offset) this.seen.pop()", ".offset >= offset) this.seen.pop()", "the_clock_goes_by_the_frame_that_was_fastest"),
    ("clock.js", "REMEMBERED_MS = 30_000", "REMEMBERED_MS = 300_000", "the_clock_goes_by_the_frame_that_was_fastest"),
    ("history.js", "if (high === null || value > high)", "if (high === null)", "no_spike_is_lost_by_thinning"),
    ("history.js", "at - found[0] < 2 * LIVES_US", "true", "after_a_reload_the_minutes_before_are_there"),
    ("runs_view.js", ".every((word)", ".some((word)", "runs_are_found_by_every_word"),
]


class Quiet(http.server.SimpleHTTPRequestHandler):
    extensions_map = {**http.server.SimpleHTTPRequestHandler.extensions_map, ".js": "text/javascript"}

    def log_message(self, *_):
        pass

    def end_headers(self):
        self.send_header("Cache-Control", "no-store")
        super().end_headers()


class PageFaults(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = Path(tempfile.mkdtemp(prefix="stillmark-page-"))
        cls.addClassCleanup(shutil.rmtree, cls.folder, ignore_errors=True)
        (cls.folder / "blank.html").write_text("<!DOCTYPE html><title>blank</title>", encoding="utf-8")
        server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(Quiet, directory=cls.folder))
        cls.addClassCleanup(server.server_close)
        cls.addClassCleanup(server.shutdown)
        threading.Thread(target=server.serve_forever, daemon=True).start()
        cls.tablet = cls.enterClassContext(Tablet(f"http://127.0.0.1:{server.server_port}"))

    def outcome(self, test, altered=None):
        """Whether the rule's test passes on a copy of the page, in which one place of one module may be altered."""
        shutil.rmtree(self.folder / "page", ignore_errors=True)
        shutil.copytree(CONSOLE, self.folder / "page")
        if altered:
            module, right, wrong = altered
            text = (CONSOLE / module).read_text(encoding="utf-8")
            self.assertEqual(text.count(right), 1, f"{module}: {right}")
            (self.folder / "page" / module).write_text(text.replace(right, wrong), encoding="utf-8")
        # A fresh document: modules are loaded once in each.
        self.tablet.driver.get(f"{self.tablet.url}/blank.html")
        case = rules_test.Rules(f"test_{test}")
        case.tablet = self.tablet
        try:
            getattr(case, f"test_{test}")()
        except AssertionError as failure:
            # A module that cannot be loaded would tell nothing of the rule.
            self.assertNotIn("SyntaxError", str(failure))
            self.assertNotIn("Failed to fetch", str(failure))
            return False
        return True

    def test_every_fault_is_seen(self):
        for test in sorted({fault[3] for fault in FAULTS}):
            self.assertTrue(self.outcome(test), f"{test} on the page as it is")
        for module, right, wrong, test in FAULTS:
            with self.subTest(module=module, place=right):
                self.assertFalse(self.outcome(test, (module, right, wrong)), "the fault was not seen")


if __name__ == "__main__":
    unittest.main()
