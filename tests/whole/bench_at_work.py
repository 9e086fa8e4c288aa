"""A bench at work for tests of the programs together: a folder of its own, the simulator, the service, and a client.

Everything is on this machine and bounded in time; every process that was started here is ended here, by its number.
"""
import contextlib
import copy
import json
import os
import random
import select
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from pathlib import Path

SOURCE = Path(os.environ["STILLMARK_SOURCE"])
BUILD = Path(os.environ["STILLMARK_BUILD"])
PROFILES = SOURCE / "drivers/profiles"
DEMO = SOURCE / "simulator/demo"

LOW, OVERLAP_LOW, OVERLAP_HIGH, HIGH = 1, 5, 6, 7  # places in the demo's list of points


def now_us():
    """The service's clock: CLOCK_BOOTTIME in microseconds."""
    return time.clock_gettime_ns(time.CLOCK_BOOTTIME) // 1000


def read_json(path):
    """JSON in which whole lines may be comments, as the demo's files have them."""
    lines = Path(path).read_text(encoding="utf-8").splitlines()
    return json.loads("\n".join(line for line in lines if not line.lstrip().startswith("//")))


def free_port():
    """A port below those that the kernel gives out, so that no other connection takes it meanwhile."""
    for _ in range(200):
        port = random.randrange(20000, 32000)
        with socket.socket() as trial, contextlib.suppress(OSError):
            trial.bind(("127.0.0.1", port))
            return port
    raise AssertionError("no free port among 200 tried")


def wait_until(condition, within_s, what):
    """The first true value of condition(); fails where none comes in time. `what` may be a function that tells more."""
    until = time.monotonic() + within_s
    while True:
        value = condition()
        if value:
            return value
        if time.monotonic() > until:
            raise AssertionError(f"in {within_s} s not: {what() if callable(what) else what}")
        time.sleep(0.02)


def small_bench(points=(LOW, OVERLAP_LOW, OVERLAP_HIGH, HIGH), series=("up",), instruments=None, preloads=0):
    """The demo bench with fewer points. `instruments` are first letters' names, A to D; all if absent."""
    bench = read_json(DEMO / "bench.json")
    bench.pop("checks", None)
    sequence = bench["sequences"][0]
    sequence["points"] = [sequence["points"][i] for i in points]
    sequence["series"] = list(series)
    sequence["preloads"] = {"count": preloads, "hold": "0.5 s"}
    sequence["wait"] = "0.1 s"
    sequence["wait_at_top"] = "0.3 s"
    if instruments:
        bench["instruments"] = [one for one in bench["instruments"] if one["name"][-1] in instruments]
        used = {one.get("bus") for one in bench["instruments"]}
        bench["buses"] = [bus for bus in bench["buses"] if bus["name"] in used]
    for bus in bench["buses"]:
        if "port" in bus:
            bus["port"] = free_port()
    return bench


def quick_scenario(bench, faults=(), **changes):
    """The demo's scenario with a person who wastes no time."""
    scenario = read_json(DEMO / "scenario.json")
    names = {one["name"] for one in bench["instruments"]}
    scenario["instruments"] = {name: one for name, one in scenario["instruments"].items() if name in names}
    scenario["operator"]["delays"] = {"instruction": "1 s", "first_disc": "0.5 s", "each_disc": "0.2 s", "look": "1 s",
                                      "dial": "2 s"}
    scenario["faults"] = list(faults)
    scenario.update(copy.deepcopy(changes))
    return scenario


class Client:
    """One connection to the service's local socket."""

    def __init__(self, connection):
        self.kept = b""
        self.last_id = 0
        self.connection = connection

    @staticmethod
    def connect(path):
        connection = socket.socket(socket.AF_UNIX)
        try:
            connection.connect(str(path))
        except OSError:
            connection.close()
            return None
        return connection

    def close(self):
        self.connection.close()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    def line(self, until):
        """The next line, as JSON, or nothing where none came by the instant `until` (monotonic)."""
        while b"\n" not in self.kept:
            left_s = until - time.monotonic()
            if left_s <= 0 or not select.select([self.connection], [], [], left_s)[0]:
                return None
            more = self.connection.recv(65536)
            if not more:
                raise ConnectionError("the service closed the connection")
            self.kept += more
        line, self.kept = self.kept.split(b"\n", 1)
        return json.loads(line)

    def ask(self, what, within_s=10, **keys):
        self.last_id += 1
        request = {"id": self.last_id, "do": what, **keys}
        self.connection.sendall(json.dumps(request).encode() + b"\n")
        until = time.monotonic() + within_s
        while (reply := self.line(until)) is not None:
            if reply.get("id") == self.last_id:
                return reply
        raise AssertionError(f"in {within_s} s no reply to {request}")

    def press(self, what, **keys):
        """A command with the instant of its key press: now, unless it is given."""
        return self.ask(what, **{"pressed_us": now_us(), "by": "test", **keys})

    def done(self, what, **keys):
        reply = self.press(what, **keys)
        if not reply["ok"]:
            raise AssertionError(f"{what} {keys}: {reply['code']}: {reply['error']}")
        return reply

    def insists(self, what, **keys):
        """A press that stands whatever the instruments show: where they contradict it, pressed again with a reason. Gives
        the instant of the press that stood under "pressed_us"."""
        pressed_us = keys.pop("pressed_us", now_us())
        reply = self.press(what, pressed_us=pressed_us, **keys)
        if not reply["ok"] and reply["code"] == "contradicted":
            pressed_us = now_us()
            reply = self.done(what, pressed_us=pressed_us, despite=True, reason="invented: the gauges are shut off", **keys)
        if not reply["ok"]:
            raise AssertionError(f"{what} {keys}: {reply['code']}: {reply['error']}")
        return {**reply, "pressed_us": pressed_us}

    def frame(self):
        return self.ask("status")["frame"]

    def frame_where(self, holds, within_s, what):
        """The first frame for which holds(frame); asks again and again."""
        latest = {}

        def look():
            latest["frame"] = self.frame()
            return latest["frame"] if holds(latest["frame"]) else None

        return wait_until(look, within_s, lambda: f"{what}; the last frame: {json.dumps(latest['frame'])[:3000]}")


def channel_of(frame, name):
    return next(one for one in frame["channels"] if one["name"] == name)


class BenchAtWork:
    """A folder with a bench file, and the programs that work on it."""

    def __init__(self, bench, scenario=None):
        self.folder = Path(tempfile.mkdtemp(prefix="stillmark-"))
        self.bench = self.folder / "bench.json"
        self.scenario = self.folder / "scenario.json"
        self.journal = self.folder / "run.journal"
        self.socket = self.folder / "socket"
        self.truth = self.folder / "truth.csv"
        self.results = self.folder / "results.json"
        self.actions = self.folder / "actions.jsonl"
        self.service_log = self.folder / "service.log"
        self.simulator_log = self.folder / "simulator.log"
        self.started = []
        self.service = None
        self.simulator = None
        self.bench.write_text(json.dumps(bench, indent=1), encoding="utf-8")
        if scenario is not None:
            self.scenario.write_text(json.dumps(scenario, indent=1), encoding="utf-8")

    def __enter__(self):
        return self

    def __exit__(self, failure, *_):
        for process in reversed(self.started):
            self.end(process)
        if failure is not None:
            self.show_logs()
        shutil.rmtree(self.folder, ignore_errors=True)

    def show_logs(self):
        for log in (self.simulator_log, self.service_log):
            if log.exists():
                print(f"--- {log.name}\n" + log.read_text(encoding="utf-8", errors="replace")[-4000:], flush=True)

    def end(self, process, how=signal.SIGTERM, within_s=10):
        """Ends a process that was started here and gives its exit code."""
        if process.poll() is None:
            process.send_signal(how)
            try:
                process.wait(within_s)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait(within_s)
                raise AssertionError(f"{process.args[0]} did not end within {within_s} s of {how.name}") from None
        return process.returncode

    def start(self, log, *command, **more):
        with open(log, "ab") as to:
            process = subprocess.Popen([str(part) for part in command], stdout=to, stderr=to, stdin=subprocess.DEVNULL,
                                       **more)
        self.started.append(process)
        return process

    def start_simulator(self, operator=True, seed=1):
        self.simulator = self.start(
            self.simulator_log, BUILD / "stillmark-sim", self.scenario, "--bench", self.bench, "--profiles", PROFILES,
            "--socket", self.socket, "--log", self.truth, "--results", self.results, "--actions", self.actions,
            "--seed", seed, *([] if operator else ["--no-operator"]))
        wait_until(lambda: self.truth.exists() or self.simulator.poll() is not None, 20, "the simulator serves its wires")
        if self.simulator.poll() is not None:
            raise AssertionError("the simulator ended: " + self.simulator_log.read_text(encoding="utf-8"))
        return self.simulator

    def start_service(self, *options, journal=None, **more):
        self.service = self.start(self.service_log, BUILD / "stillmarkd", self.bench, "--profiles", PROFILES,
                                  "--journal", journal or self.journal, "--socket", self.socket, *options, **more)
        return self.service

    def client(self, within_s=20):
        """A connection to the service, once it listens."""
        def listens():
            if self.service is not None and self.service.poll() is not None:
                raise AssertionError(f"the service ended with {self.service.returncode}")
            return Client.connect(self.socket)

        return Client(wait_until(listens, within_s, f"the service answers at {self.socket}"))

    def wait_for_run(self, within_s):
        """Until the simulator's person has come to the end of the run; gives the marks as the service told them."""
        wait_until(lambda: self.simulator.poll() is not None, within_s, "the run comes to its end")
        if self.simulator.returncode != 0:
            self.show_logs()
            raise AssertionError(f"the simulator ended with {self.simulator.returncode}")
        return json.loads(self.results.read_text(encoding="utf-8"))["marks"]

    def stillmark(self, *arguments, **more):
        """The client program on this bench's service."""
        return subprocess.run([str(BUILD / "stillmark"), "--socket", str(self.socket), *map(str, arguments)],
                              capture_output=True, text=True, timeout=60, check=False, **more)

    def replay(self, journal=None):
        return subprocess.run([str(BUILD / "stillmark"), "replay", str(journal or self.journal)], capture_output=True,
                              text=True, timeout=120, check=False)

    def judge(self, least_marks):
        return subprocess.run([str(BUILD / "stillmark-sim"), "judge", "--log", str(self.truth), "--results",
                               str(self.results), "--least-marks", str(least_marks)], capture_output=True, text=True,
                              timeout=60, check=False)
