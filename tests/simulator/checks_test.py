"""The scripted operator at the checks before a run: a service that is only their rules, and benches with something wrong.

What he states is compared with what SciPy makes of the scenario's figures, and with the truth log.
"""
import bisect
import json
import math
import os
import pathlib
import re
import tempfile
import threading
import time
import unittest

from scipy.integrate import quad, solve_ivp

from made_up_service import MadeUpService
from running_simulator import Simulator

FACTOR = 20
SHUT = ["Close valve V1 (wide piston).", "Close valve V2 (narrow piston alone)."]
HIGH = ["Close valve V1 (wide piston).", "Open valve V2 (narrow piston alone)."]
CHECKS = {"warm_up": "15 min", "level": "0.5 mrad", "purge": {"to": "50 bar", "turns": 3},
          "leak": {"at": "400 bar", "settle": "0.5 s", "watch": "1 s", "drop": "0.5 bar", "channel": "transmitter A",
                   "valves": SHUT},
          "zero": {"limit": "0.5 bar"}}
OIL_M3, MODULUS_PA, AIR_PA = 120e-6, 1.4e9, 96800.0  # the demo's scenario and bench


def said(code, texts):
    return [{"code": code, "text": text} for text in texts]


def check(number, name, by, unit=None, say=(), at_pa=None):
    return {"number": number, "kind": "check", "wants": "check", "title": "Check: " + name, "say": said("shut_off", say),
            "range": None, "target_pa": None, "direction": None, "discs": [], "put_on": [], "take_off": [],
            "check": {"name": name, "by": by, "unit": unit, "channel": None, "at_pa": at_pa, "limit": "",
                      "measuring": False, "failed": False, "words": None}}


def do(number, title, say=()):
    """`say`: instructions, as `said` makes them."""
    return {**check(number, "", ""), "kind": "do", "wants": "step_done", "title": title, "say": list(say), "check": None}


def now_us():
    return time.clock_gettime_ns(time.CLOCK_BOOTTIME) // 1000


class Service(MadeUpService):
    """Goes through `steps`; `judge(step, request)` says whether an answer to a check is within its limits.

    A check by readings measures for a second and is then judged.
    """

    def __init__(self, path, steps, judge):
        self.steps, self.judge, self.at = steps, judge, 0
        self.until, self.measured = None, None
        self.lock = threading.Lock()
        super().__init__(path)

    def frame(self):
        with self.lock:
            if self.until is not None and time.monotonic() > self.until:
                self.until = None
                self.steps[self.at]["check"]["measuring"] = False
                self.steps[self.at]["wants"] = "check"
                self.pass_on(self.measured)
            over = self.at >= len(self.steps)
            step = None if over or not self.started else json.loads(json.dumps(self.steps[self.at]))
            return {"at_us": now_us(), "bench": "b", "journal": "recording",
                    "run": {"id": "R1", "state": "finished" if over else "running", "steps": len(self.steps)}
                    if self.started else None,
                    "step": step, "load": None, "float": {"state": "none", "range": None}, "channels": [], "marks": [],
                    "advice": []}

    def pass_on(self, request):
        step = self.steps[self.at]
        if not self.judge(step, request):
            step["check"].update(failed=True, words="beyond the limit")
            return
        step["check"]["failed"] = False
        if step["check"]["name"] == "zero" and step["check"]["by"] == "readings":
            step["check"].update(by="value", channel="dial gauge D", unit="bar")  # the wired ones are done
        else:
            self.at += 1

    def answer(self, request):
        what = request["do"]
        if what == "status":
            return {"ok": True, "frame": self.frame()}
        if what == "results":
            return {"ok": True, "results": {"marks": []}}
        with self.lock:
            self.told.append(request)
            if what == "run_start":
                self.started = True
                return {"ok": True, "run": "R1"}
            if what == "surroundings":
                return {"ok": True}
            step = self.steps[self.at]
            if request.get("step") != step["number"] or abs(now_us() - request["pressed_us"]) > 2000000:
                return {"ok": False, "error": "that is another step, or an old press"}
            if what == "go_on" and not (step["check"]["failed"] and request["reason"]):
                return {"ok": False, "error": "nothing failed here"}
            if what in ("go_on", "step_done"):
                self.at += 1
            elif what == "check" and step["check"]["by"] == "readings":
                step["check"].update(measuring=True)
                step["wants"] = "nothing"
                self.measured, self.until = request, time.monotonic() + 1
            elif what == "check":
                self.pass_on(request)
        return {"ok": True}


def number_of(text, unit):
    found = re.fullmatch(r"(-?[0-9.]+) " + unit, text)
    assert found, text
    return float(found.group(1))


class Checks(unittest.TestCase):
    def run_with(self, steps, judge=lambda step, request: True, changes=None, checks=None, service=Service):
        folder = tempfile.mkdtemp(prefix="stillmark-checks-")
        path = os.path.join(folder, "socket")
        service = service(path, steps, judge)
        text = json.dumps({**CHECKS, **(checks or {})})[1:-1]
        simulator = Simulator({"time_factor": FACTOR, **(changes or {})}, options=("--socket", path),
                              bench_text=lambda bench: re.sub(r'"checks": \{.*?\n  \},',
                                                              lambda _: f'"checks": {{{text}}},', bench,
                                                              count=1, flags=re.S))
        try:
            simulator.process.wait(90)
        finally:
            self.summary = simulator.stop()
            service.close()
        self.assertEqual(simulator.process.returncode, 0, simulator.output)
        self.rows = simulator.truth()
        self.instants = [int(row["boottime_us"]) for row in self.rows]
        self.notes = [json.loads(line)
                      for line in pathlib.Path(simulator.folder / "actions.jsonl").read_text().splitlines()]
        return service

    def rows_from(self, from_us, to_us):
        return self.rows[bisect.bisect_left(self.instants, from_us):bisect.bisect_right(self.instants, to_us)]

    def noted(self, what):
        return [note for note in self.notes if note["what"] == what]

    def bar_at(self, instant_us):
        return float(self.rows_from(instant_us, instant_us + 100000)[0]["pressure_pa"]) / 1e5

    def test_a_sound_bench_passes_in_the_order_of_the_steps(self):
        service = self.run_with([
            check(0, "warm-up", "value", "min"), check(1, "level", "value", "mrad"),
            check(2, "purge", "value", "turns", SHUT, 5e6), check(3, "leak", "readings", say=SHUT, at_pa=4e7),
            do(4, "Relieve the pressure after the leak check", said("open_vent", ["Let the air in."]) + said("open_again", ["Turn back what was shut for the check."])),
            check(5, "zero", "readings"), do(6, "Set the valves to the high range", said("set_valves", HIGH))],
            changes={"powered": "30 min"})
        self.assertEqual([one["do"] for one in service.told],
                         ["surroundings", "run_start"] + ["check"] * 4 + ["step_done"] + ["check"] * 2 + ["step_done"])
        warm, level, purge, leak, zero, dial = service.of("check")
        began_us = self.summary["began_us"]
        powered = 30 + (warm["pressed_us"] - began_us) * 1e-6 * FACTOR / 60
        self.assertEqual(warm["value"], f"{int(powered)} min")
        self.assertLessEqual(number_of(level["value"], "mrad"), 0.8, "the limits of the bench file")
        # The turns from 0.5 bar, where a press is felt, to 50 bar, by integration of what the oil takes.
        turns = quad(lambda _: OIL_M3 / MODULUS_PA * 1e6, 0.5e5, 50e5)[0]
        self.assertAlmostEqual(number_of(purge["value"], "turns"), turns, delta=0.06)
        self.assertNotIn("value", leak)
        # He leaves the press: the pressure of a tight line stays, whatever the pistons weigh.
        watched = [float(row["pressure_pa"]) for row in self.rows_from(leak["pressed_us"], leak["pressed_us"] + 900000)]
        self.assertGreater(len(watched), 20)
        self.assertGreaterEqual(watched[0], 4e7)
        self.assertLess(watched[0], 4.05e7)
        self.assertLess(max(watched) - min(watched), 1)
        self.assertTrue(all(row["in_band"] == "0" for row in self.rows_from(leak["pressed_us"], zero["pressed_us"])))
        self.assertEqual(self.bar_at(zero["pressed_us"]), 0)
        self.assertNotIn("value", zero)
        self.assertEqual(dial["channel"], "dial gauge D")
        settled = self.rows_from(dial["pressed_us"] - 100000, dial["pressed_us"])[-1]["settled_pa dial gauge D"]
        self.assertLessEqual(abs(number_of(dial["value"], "bar") - float(settled) / 1e5), 1 + 1e-6,
                             "read to a fifth of 10 bar")
        self.assertEqual([one["range"] for one in self.noted("valves")], [None, None, "low", "high"])

    def test_a_leak_is_found_put_right_and_looked_for_again(self):
        judged = []

        def the_first_fails(_, request):
            judged.append(request)
            return len(judged) > 1

        service = self.run_with([check(0, "leak", "readings", say=SHUT, at_pa=4e7)], the_first_fails,
                                {"hydraulics": {"leak": {"drop": "20 bar", "within": "2 s", "at": "400 bar"}}})
        first, second = service.of("check")
        self.assertEqual(service.of("go_on"), [])
        # dp/dt = -p / tau, and 20 bar of 400 in 2 s give tau; SciPy's course against the truth log.
        rows = self.rows_from(first["pressed_us"], first["pressed_us"] + 900000)
        start, from_pa = int(rows[0]["boottime_us"]), float(rows[0]["pressure_pa"])
        tau = -2 / math.log(1 - 20 / 400)
        course = solve_ivp(lambda _, p: -p / tau, (0, 1), [from_pa], rtol=1e-9, atol=1, dense_output=True).sol
        for row in rows:
            expected = course((int(row["boottime_us"]) - start) * 1e-6)[0]
            self.assertAlmostEqual(float(row["pressure_pa"]) / expected, 1, delta=2e-4)
        self.assertLess(float(rows[-1]["pressure_pa"]), from_pa - 7e5)
        order = [note["what"] for note in self.notes if note["what"] in ("check failed", "vented", "tightened")]
        self.assertEqual(order, ["check failed", "vented", "tightened"], "no fitting is tightened under pressure")
        tight = [float(row["pressure_pa"]) for row in self.rows_from(second["pressed_us"], second["pressed_us"] + 900000)]
        self.assertGreaterEqual(tight[0], 4e7)
        self.assertLess(max(tight) - min(tight), 1)

    def test_air_takes_turns_and_is_purged(self):
        # 6 cm3 at the pressure of the room: what is left of them at p is their volume times p0/(p0 + p).
        air = 6e-6
        limit = 3.0
        service = self.run_with(
            [check(0, "purge", "value", "turns", SHUT, 5e6)],
            lambda step, request: number_of(request["value"], "turns") <= limit,
            {"hydraulics": {"trapped_air": "6 cm3"}}, {"purge": {"to": "50 bar", "turns": limit}})
        with_air, without = service.of("check")
        self.assertEqual(service.of("go_on"), [])
        counted = self.noted("counted turns")
        self.assertEqual(len(counted), 2)
        for note, answer, air_m3 in ((counted[0], with_air, air), (counted[1], without, 0)):
            # Where he begins and ends to count depends on how soon his hand stops.
            self.assertGreaterEqual(note["from_pa"], 0.5e5)
            self.assertGreaterEqual(note["to_pa"], 50e5)
            taken = quad(lambda p, air_m3=air_m3: OIL_M3 / MODULUS_PA + air_m3 * AIR_PA / (AIR_PA + p) ** 2,
                         note["from_pa"], note["to_pa"])[0]
            self.assertAlmostEqual(number_of(answer["value"], "turns"), taken * 1e6, delta=0.06)
        self.assertGreater(number_of(with_air["value"], "turns"), limit)
        self.assertEqual(len(self.noted("purged")), 1)

    def test_a_cold_bench_is_waited_for_and_drifts_meanwhile(self):
        cold = {"zero": "0 bar", "span_error": "0 %", "nonlinearity": "0 bar", "hysteresis": "0 bar",
                "warm_up": {"error": "2 bar", "time": "5 min"}}
        service = self.run_with([check(0, "warm-up", "value", "min")],
                                lambda step, request: number_of(request["value"], "min") >= 15,
                                {"powered": "10 min", "instruments": {"transmitter A": cold}})
        first, second = service.of("check")
        self.assertEqual((first["value"], second["value"]), ("10 min", "15 min"))
        self.assertEqual(service.of("go_on"), [])
        # 2 bar exp(-t / 5 min), t counted from power-on at the pace of the time factor.
        for row in self.rows[::50]:
            minutes = 10 + (int(row["boottime_us"]) - self.summary["began_us"]) * 1e-6 * FACTOR / 60
            error = float(row["settled_pa transmitter A"]) - float(row["pressure_pa transmitter A"])
            self.assertAlmostEqual(error, 2e5 * math.exp(-minutes / 5), delta=100)

    def test_a_balance_out_of_level_is_levelled(self):
        service = self.run_with([check(0, "level", "value", "mrad")],
                                lambda step, request: number_of(request["value"], "mrad") < 0.05)
        first, second = (number_of(one["value"], "mrad") for one in service.of("check"))
        self.assertAlmostEqual(second, first / 5, delta=0.011)

    def test_what_failed_twice_is_left_with_a_reason(self):
        service = self.run_with([check(0, "zero", "readings"), do(1, "Relieve the pressure", said("open_vent", ["Let the air in."]))],
                                lambda step, request: False)
        self.assertEqual([one["do"] for one in service.told[2:]], ["check", "check", "go_on", "step_done"])
        self.assertIn("2 times", service.of("go_on")[0]["reason"])

    def test_what_is_asked_again_without_a_word_has_failed_too(self):
        # One instrument's zero is off and another's, told later, is not: the step stays, and says nothing of a failure.
        class Quiet(Service):
            def pass_on(self, request):
                super().pass_on(request)
                if self.at == 0:
                    self.steps[0]["check"]["failed"] = False

            def answer(self, request):
                if request["do"] == "go_on":
                    self.steps[0]["check"]["failed"] = True
                return super().answer(request)

        service = self.run_with([check(0, "zero", "readings")], lambda step, request: False, service=Quiet)
        self.assertEqual([one["do"] for one in service.told[2:]], ["check", "check", "go_on"])

    def test_clamped_anew_the_instruments_are_others(self):
        load = {**check(0, "", ""), "kind": "load", "wants": "load", "title": "Point 2 of 12, rising: load",
                "direction": "rising", "check": None}
        steps = [{**load, "discs": ["A1", "C1"], "put_on": ["A1", "C1"]},
                 do(1, "Between two series", said("clamp_anew", ["Undo each instrument and clamp it again."])),
                 {**load, "number": 2, "discs": ["A1", "A2", "C1"], "take_off": ["C1"], "put_on": ["A2", "C1"]},
                 do(3, "Without pressure", said("open_vent", ["Let the air in."]))]

        service_answer = Service.answer

        def answer(service, request):
            reply = service_answer(service, request)
            if request["do"] == "load":
                service.at += 1
            return reply

        Service.answer = answer
        try:
            self.run_with(steps, changes={"instruments": {
                name: {"zero": "0.3 bar", "span_error": "0 %", "hysteresis": "0 bar", "reclamping": {"limits": "0.05 bar"}}
                for name in ("transmitter A", "transmitter B")}})
        finally:
            Service.answer = service_answer
        clamped_us = self.noted("clamped anew")[0]["at_us"]
        shifts = set()
        for name in ("transmitter A", "transmitter B"):
            def error(row):
                return float(row["settled_pa " + name]) - float(row["pressure_pa " + name])
            before = error(self.rows_from(0, clamped_us - 50000)[-1])
            after = error(self.rows_from(clamped_us + 20000, clamped_us + 10**9)[0])
            self.assertTrue(1 < abs(after - before) <= 5000 + 1, (before, after))
            shifts.add(after - before)
        self.assertEqual(len(shifts), 2, "each instrument shifts by itself")
        # Every lift is noted, in its order, as a stack has it.
        first, second = self.noted("lifts")
        self.assertEqual((first["off"], first["on"], first["count"]), ([], ["A1", "C1"], 2))
        self.assertEqual((second["off"], second["on"], second["count"]), (["C1"], ["A2", "C1"], 3))
        self.assertEqual((second["so far"], self.summary["lifts"]), (5, 5))


if __name__ == "__main__":
    unittest.main()
