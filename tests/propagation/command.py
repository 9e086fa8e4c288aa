"""`stillmark propagate` as a script would call it."""
import json
import os
import pathlib
import subprocess
import tempfile

SOURCE = pathlib.Path(os.environ["STILLMARK_SOURCE"])
PROGRAM = pathlib.Path(os.environ["STILLMARK_BUILD"]) / "stillmark"
EXAMPLES = SOURCE / "tests" / "propagation" / "examples"
DONE, NO, WRONG_USE = 0, 1, 2


def call(*arguments):
    return subprocess.run([str(PROGRAM), *map(str, arguments)], capture_output=True, timeout=120, check=False)


class Propagated:
    """What the command made of a file: exit code, the JSON (or None) and what was said beside it."""

    def __init__(self, task, *options):
        raw = task if isinstance(task, bytes) else (task if isinstance(task, str) else json.dumps(task)).encode()
        with tempfile.TemporaryDirectory(prefix="stillmark-propagate-") as folder:
            file = pathlib.Path(folder) / "task.json"
            file.write_bytes(raw)
            done = call("propagate", file, "--json", *options)
        self.code = done.returncode
        self.said = done.stderr.decode("utf-8", "replace")
        self.json = json.loads(done.stdout) if done.stdout else None


def example(name, *options):
    done = call("propagate", EXAMPLES / f"{name}.json", "--json", *options)
    assert done.returncode == DONE, done.stderr
    return json.loads(done.stdout)
