"""The page's rules by themselves, in the browser that runs them: what presses mean and when they count, numbers, the clock."""
import unittest
from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from random import Random

from browser.tablet import Tablet
from gateway.web import ServedBench

FRAME = {"at_us": 10_000_000, "run": {"id": "R1", "state": "running", "steps": 9}, "float": {"state": "none"}, "load": None,
         "channels": [{"name": "dial", "manual": True, "mark": "waiting"}], "advice": []}
STEP = {"number": 4, "kind": "do", "range": "low", "discs": ["A1", "B1"], "wants": "step_done", "check": None}


def frame(wants, **changes):
    return {**FRAME, "step": {**STEP, "wants": wants}, **changes}


class Rules(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.bench = cls.enterClassContext(ServedBench()).serve()
        cls.tablet = cls.enterClassContext(Tablet(cls.bench.url.geturl().rstrip("/"))).open()

    def wanted(self, given, now_us=10_000_000, **settings):
        return self.tablet.module("(({done, make, act, ...rest}) => rest)(m.wanted(a[0], a[1], a[2]))", "presses.js", given, now_us, settings)

    def requests(self, press):
        return [(one["what"], one["body"]) for one in press.get("requests", [])]

    def test_the_big_control_means_what_the_step_wants(self):
        stated = {"range": "low", "discs": ["B1", "A1"]}
        self.assertEqual(self.requests(self.wanted(frame("step_done"))), [("step_done", {"step": 4})])
        self.assertEqual(self.requests(self.wanted(frame("load"))), [("load", {"step": 4})])
        self.assertEqual(self.requests(self.wanted(frame("confirm", load=stated))), [("confirm", {"range": "low"})])
        self.assertEqual(self.requests(self.wanted(frame("sighted"))), [("sighted", {"close": True})])
        self.assertEqual(self.requests(self.wanted(frame("vented"))), [("vented", {})])
        self.assertEqual(self.wanted(frame("enter"))["opens"], "entry")
        self.assertEqual(self.wanted({**FRAME, "run": None, "step": None})["opens"], "start")

    def test_discs_and_float_in_one_press_state_the_load_first(self):
        both = [("load", {"step": 4}), ("confirm", {"range": "low"})]
        follows = {"say": ["Wind the press."], "caution": []}
        loading = frame("load")
        self.assertEqual(self.requests(self.wanted({**loading, "step": {**loading["step"], "then": follows}}, onePress=True)), both)
        # Valves are turned between load and float: nothing floats yet.
        self.assertEqual(self.requests(self.wanted({**loading, "step": {**loading["step"], "then": None}}, onePress=True)), both[:1])
        # Another load is on the head: to confirm the float alone would tie it to a load that is not there.
        other = {"range": "low", "discs": ["A1"]}
        self.assertEqual(self.requests(self.wanted(frame("confirm", load=other))), both)
        self.assertEqual(self.requests(self.wanted(frame("confirm", load={"range": "high", "discs": ["A1", "B1"]}))), both)

    def test_a_float_near_its_end_is_renewed_where_nothing_else_is_wanted(self):
        afloat = {"state": "confirmed", "expires_us": 40_000_000}
        self.assertTrue(self.wanted(frame("nothing", float=afloat))["rests"])
        self.assertEqual(self.requests(self.wanted(frame("nothing", float=afloat), now_us=25_000_000)), [("sighted", {"close": False})])
        self.assertEqual(self.requests(self.wanted(frame("sighted", float=afloat), now_us=25_000_000)), [("sighted", {"close": True})])

    def why_not(self, press, **changes):
        situation = {"connected": True, "frame": frame("step_done"), "now_us": 10_100_000, "stepShown_ms": 1000, "now_ms": 2000,
                     "onItsWay": False, "mayPress": True, **changes}
        return self.tablet.module("m.whyNot(a[0], a[1])", "presses.js", press, situation)

    def test_a_press_counts_only_on_what_a_person_can_have_seen(self):
        answers = {"answers": True}
        self.assertIsNone(self.why_not(answers))
        self.assertIn("away", self.why_not(answers, connected=False) or "")
        self.assertIn("Nothing is known", self.why_not(answers, frame=None) or "")
        self.assertIsNone(self.why_not(answers, now_us=11_000_000))
        self.assertIn("old", self.why_not(answers, now_us=11_000_001) or "")
        self.assertIn("step changed", self.why_not(answers, now_ms=1299) or "")
        self.assertIsNone(self.why_not(answers, now_ms=1300))
        self.assertIsNone(self.why_not({}, now_ms=1001), "lost and undo answer no step: they count at once")
        self.assertIn("reviewer", self.why_not(answers, mayPress=False) or "")
        self.assertIn("on its way", self.why_not(answers, onItsWay=True) or "")
        self.assertIn("no press", self.why_not({"rests": True}) or "")

    def alarms(self, given, **changes):
        situation = {"frame": {**given, "journal": "recording"}, "connected": True, "everConnected": True, "needsLogin": False,
                     "awaySince_ms": 0, "backSince_ms": 0, "wasAway_ms": 0, "now_us": 10_000_000, "now_ms": 20_000, **changes}
        return self.tablet.module("m.alarmsOf({...a[0], units: {of: (unit) => ({unit, pascals: 1e5})}})", "alarms.js", situation)

    def test_alarms_go_by_codes_and_never_by_sentences(self):
        over = {"code": "over_pressure", "alarm": True, "text": "let it down", "channel": "gauge C"}
        beyond = {"code": "beyond_point", "alarm": True, "text": "too far", "channel": "dial"}
        advice = {"code": "other", "alarm": False, "text": "gauge C reads above the lowest rating; the float expires in 3 s"}
        own = [{"code": code, "alarm": True, "text": code} for code in ("journal_failed", "float_expires")]
        found = self.alarms(frame("nothing", advice=[advice, over, beyond, *own]))
        self.assertEqual([(one.get("over", False), one["text"]) for one in found], [(True, "let it down"), (False, "too far")])
        self.assertEqual(self.alarms(frame("nothing", advice=[advice])), [])
        # A pressure is not over because nobody is heard any more.
        away = self.alarms(frame("nothing", advice=[over]), connected=False)
        self.assertTrue(away[0].get("over"))
        self.assertIn("last heard", away[0]["text"])
        self.assertIn("away", away[1]["text"])

    def test_an_approach_is_told_once(self):
        approach = {"to_go_pa": -1e5, "beyond": True, "near": False}
        winding = frame("confirm", channels=[{"name": "dial", "unit": "bar", "manual": False, "approach": approach}])
        winding["step"]["kind"] = "float"
        self.assertEqual([one["text"] for one in self.alarms(winding)], ["dial: went past by 1 bar: go back and come again"])
        said = {"code": "beyond_point", "alarm": True, "text": "go below it", "channel": "dial"}
        self.assertEqual([one["text"] for one in self.alarms({**winding, "advice": [said]})], ["go below it"])

    def test_an_instrument_that_is_not_asked_at_its_pace_can_be_asked_at_once(self):
        def silenced(**channel):
            return self.tablet.module("m.isSilenced(a[0])", "channels_panel.js", {"manual": False, "stillness": "still", "status": "good", **channel})
        self.assertFalse(silenced())
        self.assertFalse(silenced(status="over range"))
        self.assertTrue(silenced(stillness="silent"))
        self.assertTrue(silenced(status="unsupported"))
        self.assertFalse(silenced(manual=True, stillness=None, status="silent"))

    def test_a_dial_is_typed_in_its_unit_and_its_parts(self):
        dial = {"name": "dial", "unit": "bar", "division": 10, "parts": 5}

        def read(typed, **changes):
            return self.tablet.module("m.readTyped(a[0], a[1])", "dial_value.js", typed, {**dial, **changes})
        self.assertEqual(read("40"), {"text": "40 bar"})
        self.assertEqual(read(" -2,0 bar "), {"text": "-2.0 bar"})
        self.assertIn("between two steps", read("41").get("refusal", ""))
        self.assertIn("give 40 or 42 bar", read("41").get("refusal", ""))
        self.assertIn("not in psi", read("40 psi").get("refusal", ""))
        self.assertIn("two ways", read("1,000").get("refusal", ""))
        self.assertIn("no reading", read("abc").get("refusal", ""))
        self.assertIn("Nothing was typed", read("  ").get("refusal", ""))
        self.assertEqual(read("41", division=None, parts=None), {"text": "41 bar"})

        def step(typed, count, start, **changes):
            return self.tablet.module("m.stepped(a[0], a[1], a[2], a[3])", "dial_value.js", typed, {**dial, **changes}, count, start)
        self.assertEqual(step("", 1, 40.9), "40", "first the part nearest to where it should be")
        self.assertEqual(step("40", 1, 0), "42")
        self.assertEqual(step("40", -1, 0), "38")
        self.assertEqual(step("0.2", 1, 0, division=0.5, parts=5), "0.3")
        self.assertEqual(step("2", -1, 0), "0")

    def test_numbers_are_rounded_as_on_certificates(self):
        """ISO 80000-1, B, rule A: of two multiples equally near the even one, of the digits that a person would write."""
        random = Random(5)
        ties = [(n + 0.5) / 10 ** d for n in range(40) for d in (1, 2, 3)]
        values = [*ties, 0.0, 2.675, 1.005, -0.0, 1e-12, 123456789.5, 1e21,
                  *(random.choice((1, -1)) * float(f"{random.uniform(1, 10):.{random.randint(1, 16)}f}e{random.randint(-8, 9)}")
                    for _ in range(2000))]
        for decimals in (-2, 0, 1, 2, 3, 5):
            with localcontext() as context:
                context.prec = 60
                expected = []
                for value in values:
                    nearest = Decimal(repr(value)).quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_EVEN)
                    expected.append(f"{abs(nearest) if nearest == 0 else nearest:f}".replace("-", "\u2212"))
            self.assertEqual(self.tablet.module("a[0].map((value) => m.rounded(value, a[1]))", "numbers.js", values, decimals),
                             expected)

    def test_numbers_carry_two_digits_of_their_uncertainty(self):
        """JCGM 100 (2008), 7.2.6: two significant digits of the uncertainty, the estimate to the same place."""
        mark = {"unit": "bar", "reference_pa": 899.75312e5, "mean_pa": 899.691e5, "deviation_pa": -0.0621e5, "expanded_pa": 0.0426e5}
        got = self.tablet.module("""(() => {
          const u = new m.Units([{unit: "bar", pascals_per_unit: 1e5}]); const n = m.markNumbers(a[0], u);
          return [m.rounded(n.reference, n.decimals), m.signed(n.deviation, n.decimals), m.rounded(n.expanded, n.decimals)]; })()""", "numbers.js", mark)
        self.assertEqual(got, ["899.753", "\u22120.062", "0.043"])
        self.assertEqual([self.tablet.module("m.decimalsBeside(a[0], 0)", "numbers.js", u) for u in (0.0996, 0.0994, 1.2, 12.0, 120.0)], [2, 3, 1, 0, -1])
        self.assertEqual(self.tablet.module("[m.rounded(1234, -2), m.signed(-0.0001, 2), m.rounded(null, 2)]", "numbers.js"), ["1200", "0.00", "\u2013"])

    def test_the_clock_goes_by_the_frame_that_was_fastest(self):
        got = self.tablet.module("""(() => {
          const c = new m.ServiceClock();
          c.take(1_000_000, 100);     // 100 ms on its way beside the next
          c.take(1_150_000, 150);
          c.take(1_180_000, 200);
          return [c.at(200), new m.ServiceClock().at(5)]; })()""", "clock.js")
        self.assertEqual(got, [1_200_000, None])
        drifted = self.tablet.module("""(() => { const c = new m.ServiceClock(); c.take(2_000_000, 1000); c.take(31_900_000, 31_001); return c.at(31_001); })()""", "clock.js")
        self.assertEqual(drifted, 31_900_000, "after 30 s what was seen before is forgotten")

    def test_no_spike_is_lost_by_thinning(self):
        got = self.tablet.module("""(() => {
          const h = new m.History(); h.begin(["one", "two"]);
          for (let i = 0; i < 3000; ++i) h.rows.push([i * 200000, i === 1234 ? 99 : 1, i === 7 ? null : i === 2345 ? -99 : 2]);
          const t = h.thinned(0, 600); const inOrder = t.every((row, i) => i === 0 || row[0] > t[i - 1][0]);
          return [t.length, Math.max(...t.map((r) => r[1])), Math.min(...t.map((r) => r[2])), inOrder]; })()""", "history.js")
        self.assertLessEqual(got[0], 602)
        self.assertEqual(got[1:], [99, -99, True])

    def test_after_a_reload_the_minutes_before_are_there(self):
        got = self.tablet.module("""(() => {
          const h = new m.History(); h.begin(["one"]);
          h.rows.push([10_000_000, 5]);
          h.recall([[[4_000_000, 1], [4_500_000, 2], [9_900_000, 3]]], 0, 11_000_000);
          const at = (t) => h.rows.find((r) => r[0] === t)?.[1];
          return [at(4_000_000), at(4_600_000), at(9_000_000) ?? null, at(10_000_000), h.rows.every((r, i) => i === 0 || r[0] > h.rows[i - 1][0])]; })()""", "history.js")
        self.assertEqual(got, [1, 2, None, 5, True])

    def test_runs_are_found_by_every_word(self):
        run = {"id": "R7", "sequence": "demo", "title": "Demo", "condition": "as found", "state": "stopped", "reason": "leak at the hose", "by": "Ada",
               "started_utc_us": 1_772_000_000_000_000, "instruments": [{"name": "gauge C", "serial": "INV-C", "model": "x"}]}

        def found(**wished):
            return self.tablet.module("m.matches(a[0], a[1])", "runs_view.js", run, {"text": "", "instrument": "", "state": "", "from": "", "to": "", **wished})
        self.assertTrue(found())
        self.assertTrue(found(text="inv-c LEAK"))
        self.assertFalse(found(text="inv-c flood"))
        self.assertFalse(found(instrument="gauge D"))
        self.assertFalse(found(state="finished"))
        self.assertFalse(found(to="2026-02-01"))
        self.assertTrue(found(**{"from": "2026-02-01"}))


if __name__ == "__main__":
    unittest.main()
