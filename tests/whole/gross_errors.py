"""A run in which each gross error is made once, and caught: nothing of it is recorded, and the instruments say why."""
import time

from whole.bench_at_work import LOW, channel_of, small_bench
from whole.pressure_by_hand import GaugeByHand, bench_by_hand

FAR_ABOVE_EVERY_RATING_BAR = 1600
SETTLED_WITHIN_S = 3


def invented_bench():
    """One point of 20 bar behind a zero, and a preload; two wired gauges and a dial."""
    bench = small_bench((LOW,), instruments="CD", preloads=1)
    sequence = bench["sequences"][0]
    sequence["points"].insert(0, {"pressure": "0 bar"})
    sequence["preloads"]["hold"] = "4 s"
    return bench


def place(frame):
    """The step and what it wants; behind the last one the run has an end, a moment later."""
    if frame["run"]["state"] != "running":
        return None, frame["run"]["state"]
    return (frame["step"]["number"], frame["step"]["wants"]) if frame["step"] else (None, "nothing")


class GrossErrors:
    """Works the run; `actor` presses: .press(reason=None) gives whether it was recorded, where the instruments contradicted
    it he looked again; .enter(untapped, tapped) likewise; .until_over_pressure(title) and .until_calm(title) look on."""

    def __init__(self, test, actor, client, gauges):
        self.test, self.actor, self.client, self.gauges = test, actor, client, gauges
        self.caught = []

    def show(self, bar):
        """The gauges show this pressure, and the service has seen it."""
        for gauge in self.gauges:
            gauge.bar = bar
        names = ("digital gauge C", "digital gauge E")
        self.client.frame_where(lambda frame: all(
            channel_of(frame, name)["status"] == "good" and abs(channel_of(frame, name)["value"] - bar) < 0.01 for name in names), 20,
            f"both gauges show {bar} bar")

    def caught_at(self, wrong_bar, what):
        """The press with this pressure in the line is contradicted; the step and the float stay as they were."""
        self.show(wrong_bar)
        before = self.client.frame()
        self.test.assertFalse(self.actor.press(), f"{what} was recorded at {wrong_bar} bar")
        after = self.client.frame()
        self.test.assertEqual((after["step"]["number"], after["float"]["number"]), (before["step"]["number"], before["float"]["number"]))
        self.caught.append(what)

    def do(self):
        for _ in range(60):
            frame = self.client.frame_where(lambda one: place(one)[1] != "nothing", 60, "the run wants something")
            if frame["run"]["state"] != "running":
                return self.caught
            step = frame["step"]
            getattr(self, "at_" + step["wants"])(step)
            self.client.frame_where(lambda one, before=place(frame): place(one) != before, 30, f"{step['title']} is done")
        self.test.fail("the run does not end")

    def at_step_done(self, step):
        if "wind_out" in {one["code"] for one in step["say"]}:
            self.caught_at(20, "relieved under pressure")
        self.show(0)
        self.test.assertTrue(self.actor.press())

    def at_load(self, step):
        if step["direction"] == "preload":
            for gauge in self.gauges:
                gauge.bar = FAR_ABOVE_EVERY_RATING_BAR
            self.actor.until_over_pressure(step["title"])
            self.show(0)
            self.actor.until_calm(step["title"])
            self.caught.append("over-pressure")
        self.test.assertTrue(self.actor.press())

    def at_confirm(self, step):
        bar = step["target_pa"] / 1e5
        self.caught_at(0, "floats at no pressure")
        self.show(bar)
        self.test.assertTrue(self.actor.press())
        if step["direction"] == "preload":
            self.show(0)  # while it is held
            self.client.frame_where(lambda frame: frame["step"]["wants"] == "check" and frame["step"]["check"]["failed"], 20,
                                    "the hold fails")

    def at_check(self, _):
        self.caught_at(0, "held at no pressure")
        self.show(20)
        self.test.assertTrue(self.actor.press())

    def at_vented(self, _):
        self.caught_at(20, "open to air under pressure")
        self.show(0)
        self.test.assertTrue(self.actor.press())

    def at_enter(self, step):
        bar = round(step["target_pa"] / 1e5)
        time.sleep(SETTLED_WITHIN_S)  # the guard after the confirmation, and the pointer
        if bar > 0:
            self.test.assertFalse(self.actor.enter(10 * bar, 10 * bar), "a dial far from the point was entered")
            self.caught.append("dial far off")
        self.test.assertTrue(self.actor.enter(bar, bar))

    def at_sighted(self, step):
        bar = step["target_pa"] / 1e5
        self.caught_at(bar / 2, "still floats at half the pressure")
        self.show(bar)
        self.test.assertTrue(self.actor.press())


EVERY_ERROR = {"over-pressure", "floats at no pressure", "held at no pressure", "relieved under pressure", "open to air under pressure",
               "dial far off", "still floats at half the pressure"}


def check_results(test, results, caught):
    test.assertEqual(set(caught), EVERY_ERROR)
    test.assertEqual(results["overruled"], [], "each was put right, none was gone on with")
    test.assertEqual({mark["status"] for mark in results["marks"]}, {"sighted", "vented"}, results["marks"])
    holds = [one for one in results["checks"] if one["check"] == "preload"]
    test.assertEqual([one["passed"] for one in holds], [False, True], "the hold at no pressure stands on record beside the good one")


def gauges_of(bench):
    return [GaugeByHand(port) for port in bench_by_hand(bench)]

