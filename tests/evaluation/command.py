"""`stillmark evaluate` as a script would call it."""
import json
import os
import pathlib
import subprocess
import tempfile

SOURCE = pathlib.Path(os.environ["STILLMARK_SOURCE"])
PROGRAM = pathlib.Path(os.environ["STILLMARK_BUILD"]) / "stillmark"
DATA = SOURCE / "tests" / "evaluation" / "data"
DONE, NO, WRONG_USE = 0, 1, 2
HEADING = "series,direction,reference,reading"


def run(*words):
    return subprocess.run([str(PROGRAM), *map(str, words)], capture_output=True, timeout=60, check=False)


def call(table, *options):
    return run("evaluate", table, *options)


class Evaluated:
    """What the command made of a table and settings: exit code, the JSON (or None) and what was said beside it."""

    def __init__(self, table, settings=None, *, raw=None, options=()):
        with tempfile.TemporaryDirectory(prefix="stillmark-evaluate-") as folder:
            folder = pathlib.Path(folder)
            file = folder / "table.csv"
            file.write_bytes(table if isinstance(table, bytes) else table.encode())
            options = ["--json", *options]
            if settings is not None or raw is not None:
                text = raw if raw is not None else json.dumps(settings)
                (folder / "settings.json").write_bytes(text if isinstance(text, bytes) else text.encode())
                options += ["--settings", folder / "settings.json"]
            done = call(file, *options)
        self.code = done.returncode
        self.said = done.stderr.decode("utf-8", "replace")
        self.json = json.loads(done.stdout) if done.stdout else None

    def why(self, what):
        """The reasons given for what begins so."""
        return [one["why"] for one in self.json["unsaid"] if one["what"].startswith(what)]


def rows(series, direction, references, readings):
    return [f"{series},{direction},{reference!r},{reading!r}" for reference, reading in zip(references, readings)]


def table_of(*parts, heading=HEADING):
    return "\n".join([heading, *[line for part in parts for line in part]]) + "\n"
