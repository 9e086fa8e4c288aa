"""What a person may say to the service, and what is refused in words, through the local socket alone.

The simulator serves the wires with nobody at the bench: its gauges rest at zero and are still, which is all that these
rules need. The readings contradict every float that is stated here; pressed again with a reason it stands.
"""
import time
import unittest

from bench_at_work import HIGH, LOW, BenchAtWork, channel_of, now_us, quick_scenario, small_bench


def codes(frame):
    return {one["code"] for one in frame["advice"]}


class Presses(unittest.TestCase):
    def setUp(self):
        bench = small_bench((LOW, HIGH), instruments="BCD")
        bench["rig"][0]["rating"] = "600 bar"
        bench["balance"]["guards"] = {"settle": "1.5 s", "loss": "0.5 s"}
        for one in bench["instruments"][:2]:
            one["window"] = "1 s"
        if self._testMethodName == "test_a_float_expires_unless_it_is_renewed":
            bench["balance"]["ranges"][0]["max_float"] = "3 s"
        self.at_work = self.enterContext(BenchAtWork(bench, quick_scenario(bench)))
        self.at_work.start_simulator(operator=False)
        self.at_work.start_service()
        self.client = self.enterContext(self.at_work.client())

    def refused(self, words, what, code="refused", **keys):
        """The command is refused with these words, and nothing happened: the journal's events stay as they are."""
        before = self.client.frame()
        reply = self.client.press(what, **keys)
        self.assertFalse(reply["ok"], f"{what} {keys} was granted")
        self.assertEqual(reply["code"], code)
        self.assertRegex(reply["error"], words)
        after = self.client.frame()
        for part in ("run", "load", "float", "marks"):
            self.assertEqual(after[part], before[part])

    def step(self, kind, within_s=15):
        """The step of this kind, once it asks for something or is one at which readings are waited for."""
        return self.client.frame_where(
            lambda frame: frame["step"] and frame["step"]["kind"] == kind and (kind != "sight" or frame["step"]["wants"] == "sighted"),
            within_s, f"a step of kind {kind}")["step"]

    def to_the_first_float(self):
        self.client.done("run_start", sequence="demo")
        while (step := self.client.frame()["step"])["kind"] == "do":
            self.client.done("step_done", step=step["number"])
        self.assertEqual(step["kind"], "load")
        self.client.done("load", step=step["number"])
        return self.step("float")

    def enter(self, **keys):
        text = keys.pop("text", "0 bar")
        return {"channel": "dial gauge D", "untapped": text, "tapped": text, **keys}

    def test_the_load_is_stated_before_the_float(self):
        self.refused("nobody stated the load", "confirm", range="low")
        self.client.done("run_start", sequence="demo")
        step = self.client.frame()["step"]
        self.refused("nobody stated the load", "confirm", range="low")
        self.client.done("load", range="low", discs=["A1"])
        self.refused(f'the run is at "{step["title"]}"', "confirm", range="low")
        while (step := self.client.frame()["step"])["kind"] == "do":
            self.client.done("step_done", step=step["number"])
        self.refused("the load of this point is not stated yet", "confirm", range="low")
        self.refused("this step is not done by saying so", "step_done", step=step["number"])
        self.refused("step 0 is not the present one", "load", step=0)
        self.client.done("load", range="low", discs=["A1"])
        frame = self.client.frame()
        self.assertEqual(frame["step"]["kind"], "load", "another load than the planned one does not fulfil the step")
        self.assertTrue("load_differs" in codes(frame), frame["advice"])
        self.client.done("load", step=step["number"])
        self.step("float")

    def test_loads_that_cannot_be(self):
        heavy = [f"A{i}" for i in range(1, 9)]
        self.refused(r"above the lowest rating on the bench \(high-pressure hose, 600 bar\)", "load", range="high", discs=heavy)
        self.refused('no disc has the id "Z9"', "load", range="low", discs=["Z9"])
        self.refused("named twice", "load", range="low", discs=["A1", "A1"])
        self.refused('no range "middle"', "load", range="middle", discs=[])
        self.client.done("load", range="low", discs=heavy)

    def test_the_float_of_another_range_takes_no_mark(self):
        self.to_the_first_float()
        self.client.insists("confirm", range="high")
        frame = self.client.frame()
        self.assertEqual((frame["step"]["kind"], frame["float"]["state"], frame["float"]["range"]), ("float", "confirmed", "high"))
        self.assertIn("the high range was confirmed, the step plans the low range: no mark is taken",
                      [one["text"] for one in frame["advice"] if one["code"] == "other_range"])
        time.sleep(4)
        self.assertEqual(self.client.frame()["marks"], [])
        self.client.insists("confirm", range="low")
        self.assertEqual(self.step("read")["range"], "low")
        self.refused("the float is confirmed already", "confirm", range="low")

    def test_what_the_instruments_contradict_needs_a_reason_that_stays(self):
        step = self.to_the_first_float()
        wired = ["transmitter B", "digital gauge C"]
        self.client.frame_where(lambda frame: all(channel_of(frame, name)["status"] == "good" for name in wired), 20, "both read")
        for _ in range(20):  # a machine that is too busy to read has nothing to say against a press
            refusal = self.client.press("confirm", range="low")
            if not refusal["ok"]:
                break
            self.client.done("undo")
        self.assertEqual(refusal.get("code"), "contradicted", refusal)
        self.assertLessEqual({one["channel"] for one in refusal["contradicted"]}, set(wired))
        for one in refusal["contradicted"]:
            self.assertLess(abs(one["shows_pa"]), 1e5)
            self.assertGreater(one["expected_pa"] - one["shows_pa"], one["far_pa"])
            self.assertIn(f"{one['channel']} shows {one['shows']}", refusal["error"])
        frame = self.client.frame()
        self.assertEqual((frame["float"]["state"], frame["step"]["number"]), ("none", step["number"]))
        self.refused("a reason is missing", "confirm", code="bad_request", range="low", despite=True)
        self.client.done("confirm", range="low", despite=True, reason="both gauges are shut off")
        kept = self.client.ask("results")["results"]["overruled"]
        self.assertEqual([(one["press"], one["because"], one["by"]) for one in kept], [("confirm", "both gauges are shut off", "test")])
        # Taken back, the reason goes with the press.
        self.client.done("undo")
        self.assertEqual(self.client.ask("results")["results"]["overruled"], [])

    def test_old_and_future_presses_are_refused(self):
        self.to_the_first_float()
        self.refused("the press is 3.0 s old; look again", "confirm", range="low", pressed_us=now_us() - 3_000_000)
        self.refused("lies in the future", "confirm", code="bad_request", range="low", pressed_us=now_us() + 1_000_000)
        reply = self.client.ask("confirm", range="low")
        self.assertEqual((reply["ok"], reply["code"]), (False, "bad_request"))
        self.assertIn("pressed_us", reply["error"])
        self.refused("the press is older than the stated load", "confirm", range="low", pressed_us=now_us() - 1_500_000)
        time.sleep(1.6)
        self.client.insists("confirm", range="low", pressed_us=now_us() - 1_500_000)
        self.client.done("lost")
        self.refused("no float is confirmed", "lost")
        self.refused("no float is confirmed", "sighted")

    def test_undo_takes_back_the_last_press_for_a_moment(self):
        self.refused("nothing to take back", "undo")
        self.to_the_first_float()
        self.client.insists("confirm", range="low")
        self.step("read")
        self.client.done("undo")
        frame = self.client.frame()
        self.assertEqual((frame["step"]["kind"], frame["float"]["state"]), ("float", "none"))
        self.refused("nothing to take back", "undo")
        self.client.insists("confirm", range="low")
        self.client.done("lost")
        self.assertEqual(self.client.frame()["float"]["state"], "lost")
        self.client.done("undo")
        self.assertEqual(self.client.frame()["float"]["state"], "confirmed")
        self.client.done("lost")
        self.assertIsNotNone(self.client.frame()["undo"])
        time.sleep(5.1)
        self.assertIsNone(self.client.frame()["undo"])
        self.refused(r"the loss is \d\.\d s old", "undo")

    def test_a_float_expires_unless_it_is_renewed(self):
        self.to_the_first_float()
        confirmed_us = self.client.insists("confirm", range="low")["pressed_us"]
        self.assertEqual(self.client.frame()["float"]["expires_us"], confirmed_us + 3_000_000)
        time.sleep(2)
        renewed_us = self.client.insists("sighted")["pressed_us"]
        self.assertEqual(self.client.frame()["float"]["expires_us"], renewed_us + 3_000_000)
        frame = self.client.frame_where(lambda one: one["float"]["state"] == "expired", 5, "the float expires")
        self.assertGreaterEqual(frame["at_us"], renewed_us + 3_000_000)
        self.assertLess(frame["at_us"], renewed_us + 4_500_000)
        self.assertEqual(frame["step"]["kind"], "float")
        self.refused("no float is confirmed", "sighted")
        # Marks that a later sighting saw stay; those after the last sighting are not proven.
        for mark in self.client.ask("results")["results"]["marks"]:
            proven = mark["window"]["to_us"] + mark["window"]["timing_us"] <= renewed_us
            self.assertEqual(mark["status"], "sighted" if proven else "unbracketed")

    def test_dial_entries(self):
        self.to_the_first_float()
        self.refused("no mark: not at a reading step", "enter", **self.enter())
        self.client.insists("confirm", range="low")
        self.refused("too soon after the confirmation", "enter", **self.enter())
        time.sleep(2)
        self.refused(r"psi.*bar", "enter", **self.enter(text="40 psi"))
        self.refused("unit", "enter", **self.enter(text="40"))
        self.refused("in steps of 2 bar", "enter", **self.enter(text="21 bar"))  # its divisions of 10 bar are read to fifths
        self.refused("is read by its wire", "enter", **self.enter(channel="transmitter B"))
        self.refused('no instrument is named "gauge E"', "enter", **self.enter(channel="gauge E"))
        self.refused("begun after it was pressed", "enter", code="bad_request", **self.enter(started_us=now_us() + 40_000_000))
        self.refused("too soon after the confirmation", "enter", **self.enter(started_us=now_us() - 2_000_000))
        self.client.done("enter", **self.enter(text="22 bar", started_us=now_us() - 100_000))
        frame = self.client.frame()
        self.assertEqual(channel_of(frame, "dial gauge D")["mark"], "taken")
        self.refused("has its mark", "enter", **self.enter(text="22 bar"))

    def test_void_and_redo(self):
        self.to_the_first_float()
        self.client.insists("confirm", range="low")
        time.sleep(2)
        self.client.done("enter", **self.enter(text="22 bar", started_us=now_us() - 100_000))
        self.step("sight")
        frame = self.client.frame()
        self.assertTrue({"load_doubtful", "all_off"} & codes(frame), frame["advice"])
        marks = {mark["channel"]: mark["mark"] for mark in frame["marks"]}
        self.assertEqual(len(marks), 3)
        dial = marks["dial gauge D"]
        self.refused("mark .* stands; void it first", "redo", mark=dial)
        self.refused("there is no mark 99", "void", mark=99, reason="test")
        self.refused("a reason is missing", "void", code="bad_request", mark=dial, reason="")
        self.client.done("void", mark=dial, reason="read from the wrong side")
        self.refused("is void already: read from the wrong side", "void", mark=dial, reason="again")
        frame = self.client.frame()
        self.assertEqual((frame["step"]["kind"], frame["step"]["wants"]), ("read", "enter"))
        self.assertIn("dial gauge D", frame["step"]["waits_for"])
        self.client.done("enter", **self.enter(text="20 bar", started_us=now_us() - 100_000))
        self.step("sight")
        self.client.insists("sighted", close=True)
        self.assertEqual(self.step("do")["title"], "Turn over to the high range")
        self.client.done("void", mark=marks["transmitter B"], reason="the hose was touched")
        self.client.done("redo", mark=marks["transmitter B"])
        step = self.client.frame()["step"]
        self.assertIn("Point 1 of 2", step["title"])
        self.assertEqual(step["kind"], "load")
        results = self.client.ask("results")["results"]
        status = {mark["mark"]: mark["status"] for mark in results["marks"]}
        self.assertEqual(status, {dial: "void", marks["transmitter B"]: "void", marks["digital gauge C"]: "sighted",
                                  max(status): "sighted"})

    def test_a_run_is_stopped_with_a_reason(self):
        self.refused("no run is going on", "run_stop", reason="test")
        self.refused('no sequence "other"; it has: demo', "run_start", sequence="other")
        self.refused("is no condition", "run_start", code="bad_request", sequence="demo", condition="as new")
        self.refused('no instrument is named "gauge E"', "run_start", sequence="demo", instruments=["gauge E"])
        self.assertEqual(self.client.done("run_start", sequence="demo")["run"], "R1")
        self.refused("run R1 is going on", "run_start", sequence="demo")
        self.refused("a reason is missing", "run_stop", code="bad_request", reason="")
        self.client.done("run_stop", reason="the pump leaks")
        (run,) = self.client.ask("run_list")["runs"]
        self.assertEqual((run["state"], run["reason"]), ("stopped", "the pump leaks"))
        self.assertEqual(self.client.done("run_start", sequence="demo", instruments=["transmitter B"])["run"], "R2")

    def test_surroundings_are_texts_with_units(self):
        self.refused("air_temperature: ", "surroundings", code="bad_request", air_temperature="21.5")
        self.refused("nothing is stated", "surroundings", code="bad_request")
        self.refused("give air temperature, air pressure, humidity and piston temperature together", "surroundings",
                     air_temperature="21.5 degC")
        whole = {"air_temperature": "21.5 degC", "air_pressure": "968 hPa", "humidity": "45 %", "piston_temperature": "21 degC"}
        self.refused("check the two temperatures", "surroundings", **{**whole, "piston_temperature": "50 degC"})
        self.client.done("surroundings", **whole)
        stated = self.client.frame()["surroundings"]
        self.assertTrue(stated["stated"])
        self.assertAlmostEqual(stated["air_pressure_pa"], 96800, delta=1e-6)
        self.client.done("surroundings", air_temperature="22 degC")
        self.assertEqual(self.client.frame()["surroundings"]["air_temperature_c"], 22)

    def test_what_makes_no_sense_is_said(self):
        for line, words in ((b"{not json\n", "not a JSON object"), (b"[1]\n", "not a JSON object"),
                            (b'{"id": 7}\n', '"do" is missing'), (b'{"id": 8, "do": "dance"}\n', "nothing that can be done"),
                            (b'{"id": 9, "do": "void", "mark": "1", "reason": "x"}\n', '"mark" is not a whole number')):
            self.client.connection.sendall(line)
            reply = self.client.line(time.monotonic() + 5)
            self.assertEqual((reply["ok"], reply["code"]), (False, "bad_request"))
            self.assertIn(words, reply["error"])
        self.assertEqual(self.client.frame()["journal"], "recording")


if __name__ == "__main__":
    unittest.main()
