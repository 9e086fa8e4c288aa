"""What `stillmark plan` prints, followed by hand: a stranger carries the discs, weighs every stack of the demo bench and
finds the fewest lifts for itself."""
import itertools
import json
import os
import pathlib
import subprocess
import sys
import unittest

sys.path.insert(0, str(pathlib.Path(os.environ["STILLMARK_SOURCE"]) / "tests" / "whole"))
from balance_in_python import Balance, quantity  # noqa: E402
from bench_at_work import BUILD, DEMO, read_json  # noqa: E402

BENCH = read_json(DEMO / "bench.json")
KILOGRAMS = {one["id"]: quantity(one["mass"]["value"]) for one in BENCH["masses"]["discs"]}
TOLERANCE = 1e-4  # of the target: how much farther than the nearest load one may be that saves lifting
RISING = ["2 bar", "20 bar", "50 bar", "80 bar", "110 bar", "250 bar", "400 bar", "550 bar", "700 bar", "900 bar"]
FALLING = ["900 bar", "700 bar", "400 bar", "250 bar", "110 bar", "60 bar", "40 bar", "20 bar", "5 bar", "2 bar"]


def planned(points):
    said = subprocess.run([str(BUILD / "stillmark"), "plan", str(DEMO / "bench.json"), "--points", ",".join(points),
                           "--json"], capture_output=True, text=True, timeout=60, check=False)
    if said.returncode != 0:
        raise AssertionError(said.stderr)
    return json.loads(said.stdout)


def made_pa(range_name, discs):
    return Balance(BENCH, range_name, discs, BENCH["instruments"][0]).at_balance_pa()


def every_stack():
    """Big below small, of equal discs the first so many: all other choices weigh the same here."""
    equal = [list(discs) for _, discs in itertools.groupby(KILOGRAMS, key=KILOGRAMS.get)]
    for counts in itertools.product(*(range(len(discs) + 1) for discs in equal)):
        yield tuple(disc for discs, count in zip(equal, counts) for disc in discs[:count])


def lifts_between(old, new):
    """(lifts, kilograms): what lies above the first difference comes off and goes on again."""
    same = 0
    while same < min(len(old), len(new)) and old[same] == new[same]:
        same += 1
    moved = old[same:] + new[same:]
    return len(moved), round(sum(KILOGRAMS[disc] for disc in moved), 6)


class PlanFollowed(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.stacks = list(every_stack())
        cls.pressures = {}

    def near(self, range_name, target_pa):
        if range_name not in self.pressures:
            # A disc's worth is the same to some 1e-4 wherever it lies; the few that may count are weighed exactly.
            empty, full = made_pa(range_name, []), made_pa(range_name, list(KILOGRAMS))
            per_kg = (full - empty) / sum(KILOGRAMS.values())
            self.pressures[range_name] = [(empty + per_kg * sum(map(KILOGRAMS.get, stack)), stack) for stack in self.stacks]
        rough = self.pressures[range_name]
        least = min(abs(p - target_pa) for p, _ in rough)
        few = [stack for p, stack in rough if abs(p - target_pa) <= least + 2e-3 * target_pa]
        exact = [(abs(made_pa(range_name, list(stack)) - target_pa), stack) for stack in few]
        nearest = min(exact)[0]
        return [stack for off, stack in exact if off <= nearest + TOLERANCE * target_pa]

    def follow(self, points):
        plan = planned(points)
        head, lifts, kilograms, best = [], 0, 0.0, {(): (0, 0.0)}
        for point in plan["points"]:
            before = tuple(head)
            for number, move in enumerate(point["moves"], 1):
                self.assertEqual(move["number"], number)
                if move["do"] == "take off":
                    self.assertEqual(head.pop(), move["disc"], "only the disc on top comes off")
                else:
                    self.assertEqual(move["do"], "put on")
                    self.assertNotIn(move["disc"], head)
                    head.append(move["disc"])
                lifts += 1
                kilograms += KILOGRAMS[move["disc"]]
            self.assertEqual(head, point["discs"])
            weights = [KILOGRAMS[disc] for disc in head]
            self.assertEqual(weights, sorted(weights, reverse=True), "big below small")
            self.assertEqual(len(point["moves"]), lifts_between(before, tuple(head))[0], "a disc was lifted without need")
            exact = made_pa(point["range"], head)
            self.assertAlmostEqual(point["pressure_pa"] / exact, 1, delta=1e-9)
            near = self.near(point["range"], point["target_pa"])
            self.assertIn(tuple(head), near)
            following = {}
            for stack in near:
                costs = []
                for old, cost in best.items():
                    more = lifts_between(old, stack)
                    costs.append((cost[0] + more[0], round(cost[1] + more[1], 6)))
                following[stack] = min(costs)
            best = following
        self.assertTrue(plan["proven"])
        self.assertEqual(plan["tolerance"], TOLERANCE)
        self.assertEqual(plan["lifts"], lifts)
        self.assertAlmostEqual(plan["lifted_kg"], kilograms, delta=1e-6)
        self.assertEqual((lifts, round(kilograms, 6)), min(best.values()), "a plan with less lifting exists")

    def test_ten_points_rising(self):
        self.follow(RISING)

    def test_ten_points_falling_from_a_bare_head(self):
        self.follow(FALLING)

    def test_up_and_down(self):
        self.follow(RISING + RISING[-2::-1])

    def test_an_empty_list_of_points_is_a_mistake(self):
        said = subprocess.run([str(BUILD / "stillmark"), "plan", str(DEMO / "bench.json"), "--points", ""],
                              capture_output=True, text=True, timeout=60, check=False)
        self.assertEqual((said.returncode, said.stdout), (2, ""))
        self.assertIn("--points: gives no point", said.stderr)


if __name__ == "__main__":
    unittest.main()
