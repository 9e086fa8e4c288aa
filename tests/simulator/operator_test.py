"""The scripted operator against a service that is only a list of steps: what he does to the rig before he says so."""

import json
import os
import pathlib
import tempfile
import time
import unittest

from made_up_service import MadeUpService
from running_simulator import Simulator


def said(code, *texts):
    return [{"code": code, "text": text} for text in texts]


def step(number, kind, wants, **more):
    common = {"number": number, "kind": kind, "wants": wants, "title": f"Point 2 of 12, rising: 20 bar, low range: {kind}",
              "say": [], "caution": [], "range": "low", "target": "20 bar", "target_pa": 2e6, "point": 2, "direction": "rising",
              "discs": ["B1", "A1", "C1", "D1"], "put_on": ["B1", "A1", "C1", "D1"], "take_off": [], "waits_for": ""}
    return {**common, **more}


STEPS = [
    step(0, "do", "step_done", title="Turn over to the low range", direction=None,
         say=said("set_valves", "Open valve V1 (wide piston).", "Close valve V2 (narrow piston alone).")),
    step(1, "load", "load"),
    step(2, "float", "confirm"),
    step(3, "read", "enter"),
    step(4, "sight", "sighted"),
    step(5, "do", "step_done", title="Relieve the pressure", say=said("open_vent", "Let the air in."), direction=None),
]


class ListOfSteps(MadeUpService):
    """Goes one step further with each command that the step wants."""

    def __init__(self, path, stays_at=None):
        self.at, self.stays_at = 0, stays_at
        self.float = "none"
        self.marks = []
        super().__init__(path)

    def frame(self):
        over = self.at >= len(STEPS)
        return {"at_us": time.clock_gettime_ns(time.CLOCK_BOOTTIME) // 1000, "bench": "b", "journal": "recording",
                "run": {"id": "R1", "state": "finished" if over else "running", "steps": len(STEPS)} if self.started else None,
                "step": None if over or not self.started else STEPS[self.at], "load": None,
                "float": {"state": self.float, "range": None},
                "channels": [{"name": "dial gauge D", "manual": True, "mark": "waiting", "unit": "bar", "shown": "", "why": None}],
                "marks": self.marks, "advice": []}

    def answer(self, request):
        what = request["do"]
        if what == "status":
            return {"ok": True, "frame": self.frame()}
        if what == "results":
            return {"ok": True, "results": {"marks": self.marks}}
        self.told.append(request)
        if what == "run_start":
            self.started = True
            return {"ok": True, "run": "R1"}
        if what == "lost":
            self.float = "lost"
            self.at = 2
        if self.started and self.at < len(STEPS) and what == STEPS[self.at]["wants"] and self.at != self.stays_at:
            self.at += 1
            if what == "confirm":
                self.float = "confirmed"
        return {"ok": True}


class OperatorTest(unittest.TestCase):
    def run_with(self, changes=None, stays_at=None):
        folder = tempfile.mkdtemp(prefix="stillmark-op-")
        path = os.path.join(folder, "socket")
        service = ListOfSteps(path, stays_at)
        simulator = Simulator({"time_factor": 20, **(changes or {})}, options=("--socket", path))
        simulator.process.wait(60)
        summary = simulator.stop()
        service.close()
        return simulator, summary, service

    def row_at(self, simulator, instant_us):
        rows = simulator.truth()
        return min(rows, key=lambda row: abs(int(row["boottime_us"]) - instant_us))

    def test_does_before_he_says(self):
        simulator, summary, service = self.run_with()
        self.assertEqual(simulator.process.returncode, 0, simulator.output)
        self.assertTrue(summary["finished"])
        commands = [request["do"] for request in service.told]
        self.assertEqual(commands, ["surroundings", "run_start", "step_done", "load", "confirm", "enter", "sighted", "step_done"])
        self.assertEqual(service.told[1]["sequence"], "demo")
        confirmed = service.of("confirm")[0]
        row = self.row_at(simulator, confirmed["pressed_us"])
        self.assertEqual((row["in_band"], row["range"], confirmed["range"]), ("1", "low", "low"))
        self.assertLess(abs(float(row["height_m"])), 1e-3)
        self.assertGreater(float(row["spin_rpm"]), 20)
        self.assertAlmostEqual(float(row["pressure_pa"]) / 2e6, 1, delta=1e-3)
        entered = service.of("enter")[0]
        self.assertGreaterEqual(entered["started_us"] - confirmed["pressed_us"], 600000, "nothing counts within the settle guard")
        true_bar = float(self.row_at(simulator, entered["pressed_us"])["settled_pa dial gauge D"]) / 1e5
        self.assertRegex(entered["tapped"], r"^-?[0-9.]+ bar$")
        self.assertLessEqual(abs(float(entered["tapped"].split()[0]) - true_bar), 1.0 + 1e-6, "read to a fifth of 10 bar")
        self.assertTrue(service.of("sighted")[0]["close"])
        after = [row for row in simulator.truth() if int(row["boottime_us"]) > service.of("step_done")[1]["pressed_us"]]
        self.assertTrue(all(float(row["pressure_pa"]) == 0 for row in after), "vented before he said so")
        # Presses are told at once.
        notes = [json.loads(line) for line in pathlib.Path(simulator.folder / "actions.jsonl").read_text().splitlines()]
        for note in notes:
            if note["what"] == "told" and "ok" in note:
                self.assertLess(note["at_us"] - note["pressed_us"], 1000000)

    def test_a_mistake_is_made_and_noticed(self):
        mistake = {"what": "confirms too early", "point": 2, "direction": "rising", "notices_after": "3 s"}
        simulator, _, service = self.run_with({"operator": {"mistakes": [mistake]}})
        self.assertEqual(simulator.process.returncode, 0, simulator.output)
        confirms, lost = service.of("confirm"), service.of("lost")
        self.assertEqual((len(confirms), len(lost)), (2, 1))
        self.assertEqual(self.row_at(simulator, confirms[0]["pressed_us"])["in_band"], "0")
        self.assertEqual(self.row_at(simulator, confirms[1]["pressed_us"])["in_band"], "1")
        self.assertTrue(confirms[0]["pressed_us"] < lost[0]["pressed_us"] < confirms[1]["pressed_us"])

    def test_gives_up_in_words(self):
        simulator, summary, _ = self.run_with({"operator": {"patience": "3 s"}}, stays_at=4)
        self.assertEqual(simulator.process.returncode, 1)
        self.assertFalse(summary["finished"])
        self.assertIn("nothing went forward at step 4 (Point 2 of 12", summary["words"])

    def test_without_a_service_it_is_said(self):
        simulator = Simulator({"operator": {"patience": "3 s"}}, options=("--socket", "/nowhere/socket"))
        time.sleep(0.5)
        simulator.stop()
        self.assertEqual(simulator.process.returncode, 1)


if __name__ == "__main__":
    unittest.main()
