"""A simulator that runs for a test: on free ports, in a folder of its own, ended by its own process id."""

import csv
import json
import os
import pathlib
import signal
import subprocess
import tempfile
import time

SOURCE = pathlib.Path(os.environ["STILLMARK_SOURCE"])
PROGRAM = pathlib.Path(os.environ["STILLMARK_BUILD"]) / "stillmark-sim"


class Simulator:
    """`changes` is merged over the demo's scenario; `bench_text` may edit the bench file."""

    def __init__(self, changes=None, bench_text=None, options=("--no-operator",), bench=None):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="stillmark-sim-"))
        text = (SOURCE / "simulator/demo/bench.json").read_text()
        (self.folder / "from").mkdir()
        (self.folder / "from/bench.json").write_text(bench_text(text) if bench_text else text)
        self.bench = bench or subprocess.run(
            [PROGRAM, "copy-bench", self.folder / "from/bench.json", self.folder],
            check=True, capture_output=True, text=True).stdout.strip()
        scenario = {"like": os.path.relpath(SOURCE / "simulator/demo/scenario.json", self.folder)}
        scenario.update(changes or {})
        (self.folder / "scenario.json").write_text(json.dumps(scenario))
        self.device = str(self.folder / "wire/line-a")
        self.modbus_port, self.text_port = self._ports()
        self.process = subprocess.Popen(
            [PROGRAM, self.folder / "scenario.json", "--bench", self.bench, "--profiles", SOURCE / "drivers/profiles",
             "--log", self.folder / "truth.csv", "--summary", self.folder / "summary.json",
             "--actions", self.folder / "actions.jsonl", "--results", self.folder / "results.json", *options],
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        deadline = time.monotonic() + 10
        while not os.path.exists(self.device) and time.monotonic() < deadline and self.process.poll() is None:
            time.sleep(0.01)

    def _ports(self):
        import re
        return [int(port) for port in re.findall(r'"port": ([0-9]+)', pathlib.Path(self.bench).read_text())]

    def __enter__(self):
        return self

    def __exit__(self, *unused):
        self.stop()

    def stop(self):
        """The summary, after a stop by SIGTERM where it still runs."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
        try:
            self.output = self.process.communicate(timeout=10)[0]
        except subprocess.TimeoutExpired:
            self.process.kill()
            raise
        summary = self.folder / "summary.json"
        return json.loads(summary.read_text()) if summary.exists() else {}

    def truth(self):
        with open(self.folder / "truth.csv", newline="") as file:
            return list(csv.DictReader(file))
