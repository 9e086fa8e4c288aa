"""Twenty whole runs, each against another hidden truth: how far marks lie from it, in their own standard uncertainties.

Four runs at a time, because a run mostly waits. The claim that it looks at: every error within 3.5 u and at least 90 %
within 2 u. The errors of one run share one balance, so that a run in which its area lies far out shows in many marks.
"""

import concurrent.futures
import os
import pathlib
import re
import subprocess
import sys
import tempfile

SOURCE = pathlib.Path(os.environ["STILLMARK_SOURCE"])
BUILD = os.environ["STILLMARK_BUILD"]
SEEDS = range(1, 21)
VERDICT = re.compile(r"(\d+) marks stand, (\d+) within 2 u, the worst ([0-9.]+) u")


def run(seed: int, folder: str) -> tuple[int, int, re.Match | None, str]:
    environment = dict(os.environ, STILLMARK_BUILD=BUILD, STILLMARK_RUNS=folder)
    demo = subprocess.run(
        ["sh", str(SOURCE / "simulator" / "demo.sh"), "--seed", str(seed)],
        env=environment, capture_output=True, text=True, timeout=600, check=False)
    return seed, demo.returncode, VERDICT.search(demo.stdout), demo.stdout[-400:] + demo.stderr[-400:]


def main() -> int:
    bad = 0
    marks = within = 0
    worst = 0.0
    print(f"{'seed':>4} {'exit':>4} {'marks':>6} {'within 2 u':>11} {'worst, u':>9}")
    with tempfile.TemporaryDirectory() as folder, concurrent.futures.ThreadPoolExecutor(4) as pool:
        for seed, code, verdict, tail in pool.map(lambda seed: run(seed, folder), SEEDS):
            if verdict is None:
                print(f"{seed:>4} {code:>4}  no verdict: {tail}")
                bad += 1
                continue
            count, close, farthest = int(verdict[1]), int(verdict[2]), float(verdict[3])
            print(f"{seed:>4} {code:>4} {count:>6} {close / max(count, 1):>10.1%} {farthest:>9.2f}", flush=True)
            marks, within, worst = marks + count, within + close, max(worst, farthest)
            bad += code != 0
    print(f"all: {marks} marks, {within / max(marks, 1):.1%} within 2 u, the worst {worst:.2f} u; {bad} of {len(SEEDS)} runs did not hold")
    return 0


if __name__ == "__main__":
    sys.exit(main())
