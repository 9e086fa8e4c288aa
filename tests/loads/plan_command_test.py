"""`stillmark plan` followed with pencil and paper: every move replayed on a stack, every pressure asked of `stillmark pressure`."""
import json
import os
import subprocess
import unittest
from pathlib import Path

SOURCE = Path(os.environ["STILLMARK_SOURCE"])
STILLMARK = Path(os.environ["STILLMARK_BUILD"]) / "stillmark"
BENCH = SOURCE / "simulator/demo/bench.json"
TEN = "5 bar,20 bar,50 bar,90 bar,110 bar,150 bar,300 bar,500 bar,700 bar,900 bar"


def stillmark(*arguments):
    return subprocess.run([str(STILLMARK), *map(str, arguments)], capture_output=True, text=True, timeout=60, check=False,
                          env={**os.environ, "STILLMARK_PROFILES": str(SOURCE / "drivers/profiles")})


def plan(*options):
    result = stillmark("plan", BENCH, *options, "--json")
    if result.returncode != 0:
        raise AssertionError(result.stderr)
    return json.loads(result.stdout)


def masses():
    lines = [line for line in BENCH.read_text(encoding="utf-8").splitlines() if not line.lstrip().startswith("//")]
    return {disc["id"]: float(disc["mass"]["value"].split()[0]) for disc in json.loads("\n".join(lines))["masses"]["discs"]}


class PlanCommand(unittest.TestCase):
    def follow(self, told):
        """Replays the moves; the stack is a list, bottom first, and only its top can be lifted."""
        kilograms, stack, lifts, lifted = masses(), [], 0, 0.0
        for number, point in enumerate(told["points"]):
            before, off, on = list(stack), [], []
            for i, move in enumerate(point["moves"], 1):
                self.assertEqual(move["number"], i)
                self.assertEqual(move["mass_kg"], kilograms[move["disc"]])
                if move["do"] == "take off":
                    self.assertFalse(on, "everything comes off before anything goes on")
                    self.assertEqual(stack.pop(), move["disc"], f"point {number}: it lies under others")
                    off.append(move["disc"])
                else:
                    self.assertNotIn(move["disc"], stack)
                    if stack:
                        self.assertGreaterEqual(kilograms[stack[-1]], move["mass_kg"], "big below small")
                    stack.append(move["disc"])
                    on.append(move["disc"])
                self.assertEqual(move["two_hands"], move["disc"].startswith("A"))
            self.assertEqual(stack, point["discs"])
            # Nothing was lifted that could have stayed: the discs that stay are all that both stacks share from below.
            shared = 0
            while shared < min(len(before), len(stack)) and before[shared] == stack[shared]:
                shared += 1
            self.assertEqual(len(off), len(before) - shared, f"point {number}: a disc was lifted without need")
            self.assertEqual(len(on), len(stack) - shared)
            weight = sum(kilograms[disc] for disc in off + on)
            self.assertAlmostEqual(point["lifted_kg"], weight, places=9)
            lifts, lifted = lifts + len(off) + len(on), lifted + weight
        self.assertEqual(told["lifts"], lifts)
        self.assertAlmostEqual(told["lifted_kg"], lifted, places=6)

    def pressures(self, told, *surroundings):
        for point in told["points"]:
            made = stillmark("pressure", BENCH, "--range", point["range"], "--discs", ",".join(point["discs"]), *surroundings,
                             "--json")
            self.assertEqual(made.returncode, 0, made.stderr)
            self.assertAlmostEqual(point["pressure_pa"] / json.loads(made.stdout)["pressure_at_balance_pa"], 1, delta=1e-12)
            self.assertAlmostEqual(point["difference_pa"], point["pressure_pa"] - point["target_pa"], delta=1e-6)
            if told["choice"] == "nominal":
                self.assertIsNone(point["nearest_pa"])
                continue
            nearest = abs(point["nearest_pa"] - point["target_pa"])
            self.assertLessEqual(abs(point["difference_pa"]), nearest + told["tolerance"] * point["target_pa"] + 1e-3)

    def test_ten_points_followed_by_hand(self):
        told = plan("--points", TEN)
        self.assertEqual(len(told["points"]), 10)
        self.assertTrue(told["proven"])
        self.assertEqual([point["range"] for point in told["points"]], ["low"] * 5 + ["high"] * 5)
        self.follow(told)
        self.pressures(told)

    def test_up_and_down_needs_no_more_than_twice_the_way_up(self):
        points = TEN.split(",")
        up, both = plan("--points", TEN), plan("--points", ",".join(points + points[::-1]))
        self.follow(both)
        self.assertEqual([point["direction"] for point in both["points"]], ["rising"] * 11 + ["falling"] * 9)
        # The head is empty before and loaded for the first point after: at most the way up and the same way back.
        self.assertLessEqual(both["lifts"], 2 * up["lifts"] - len(up["points"][0]["discs"]))

    def test_the_sequence_of_the_bench_file(self):
        told = plan("--sequence", "demo")
        self.follow(told)
        self.pressures(told)
        self.assertEqual(told["points"][0]["direction"], "preload")
        self.assertEqual(told, plan(), "it is the only sequence")

    def test_todays_air_and_temperature_count(self):
        surroundings = ("--air", "26 degC,900 hPa,70 %", "--temperature", "27 degC")
        here, there = plan("--points", "20 bar,333 bar"), plan("--points", "20 bar,333 bar", *surroundings)
        self.pressures(there, *surroundings)
        self.assertNotEqual(here["points"][0]["pressure_pa"], there["points"][0]["pressure_pa"])

    def test_nominal_stacks_do_not_follow_the_weather(self):
        one = plan("--points", TEN, "--nominal")
        other = plan("--points", TEN, "--nominal", "--air", "26 degC,700 hPa,70 %", "--temperature", "27 degC")
        self.assertEqual([point["discs"] for point in one["points"]], [point["discs"] for point in other["points"]])
        self.pressures(one)
        self.follow(one)

    def test_in_words(self):
        said = stillmark("plan", BENCH, "--points", TEN)
        self.assertEqual(said.returncode, 0, said.stderr)
        told = plan("--points", TEN)
        self.assertEqual(said.stdout.count("put on ") + said.stdout.count("take off "), told["lifts"])
        for words in (f"{told['lifts']} lifts of discs", "kg in all", "Optimal, proven", "two hands",
                      "Turn the valves over to the high range", "Let the piston down to rest first"):
            self.assertIn(words, said.stdout)

    def refused(self, words, *options):
        said = stillmark("plan", BENCH, *options)
        self.assertEqual((said.returncode, said.stdout), (2, ""))
        self.assertRegex(said.stderr, words)

    def test_what_cannot_be_planned_is_refused_with_place_finding_and_remedy(self):
        self.refused(r"--points\[1\]: 1001 bar is above the lowest rating on the bench \(high-pressure hose, 1000 bar\); lower",
                     "--points", "20 bar,1001 bar")
        self.refused(r"--points\[0\]: 1 bar is outside the ranges of the balance \(low 2 bar to 110 bar, high", "--points", "1 bar")
        self.refused(r"--points\[0\]: 950 bar is outside the ranges.*; use a point inside", "--points", "950 bar")
        self.refused(r"--points\[1\]: .*5 kg", "--points", "20 bar,5 kg")
        self.refused("--points: gives no point", "--points", " , ")
        self.refused('--sequence: the bench has none named "other"; it has: demo', "--sequence", "other")
        self.refused("--air: give temperature, pressure and humidity", "--points", "20 bar", "--air", "20 degC")
        self.refused("--temperature: a piston is at", "--points", "20 bar", "--temperature", "200 degC")
        self.refused("excludes", "--points", "20 bar", "--sequence", "demo")


if __name__ == "__main__":
    unittest.main()
