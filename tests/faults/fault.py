"""Builds one deliberate fault into a copy of one file, and says what the tests of the house then say.

Everything else is taken from the build as it stands: the objects of the test program and the libraries of the rooms. The
files with the fault in them are compiled by the build's own commands.
"""
import json
import os
import pathlib
import re
import shlex
import subprocess
import tempfile
import unittest
from concurrent.futures import ThreadPoolExecutor

ROOT = pathlib.Path(os.environ["STILLMARK_SOURCE"])
BUILD = pathlib.Path(os.environ["STILLMARK_BUILD"])
# Whoever stands left uses those to the right.
ROOMS = ["asio", "simulator", "cli", "gateway", "people", "decider", "journal", "records", "seal", "bench", "acquisition", "drivers", "protocols",
         "metrology"]
SYSTEM = ["-lgtest_main", "-lgtest", "-lGeographicLib", "-lmodbus", "-lsqlite3", "-lssl", "-lcrypto", "-lspdlog", "-lfmt",
          "-lpthread", "-lpugixml", "-lpangocairo-1.0", "-lpango-1.0", "-lgobject-2.0", "-lglib-2.0", "-lcairo", "-lqpdf", "-lqrencode", "-lncursesw",
          "-ltinfo", "-ldate-tz"]


class Fault:
    """`old` stands once in `file` and becomes `new`; then one of the tests in `filter` of test_`program` must fail.

    `compiled` are the files that must be compiled to take the fault up: `file` itself where it is no header.
    """

    def __init__(self, name, file, old, new, program, tests, compiled=()):
        self.name, self.file, self.old, self.new = name, file, old, new
        self.program, self.tests, self.compiled = program, tests, list(compiled) or [file]


def commands():
    """How each file is compiled by itself. One that is joined with others is compiled as they are together."""
    with open(BUILD / "compile_commands.json", encoding="utf-8") as listed:
        entries = json.load(listed)
    every = {}
    for one in entries:
        file = pathlib.Path(one["file"])
        sources = re.findall(r'#include "(.*)"', file.read_text(encoding="utf-8")) if file.parent.name == "Unity" else [str(file)]
        for source in map(pathlib.Path, sources):
            if source.is_relative_to(ROOT):
                every[str(source.relative_to(ROOT))] = {**one, "command": one["command"].replace(str(file), str(source))}
    return every


def run(command, cwd):
    return subprocess.run(command, cwd=cwd, capture_output=True, text=True, timeout=240, check=False,
                          env={**os.environ, "GTEST_COLOR": "no"})


def said_by(program, tests, cwd):
    """(exit status, names of tests that failed, how many passed)"""
    said = run([program, f"--gtest_filter={tests}"], cwd)
    lines = said.stdout.splitlines()
    failed = sorted({line.split()[3].rstrip(",") for line in lines if line.startswith("[  FAILED  ] ") and "." in line
                     and len(line.split()) > 3})
    return said.returncode, failed, sum(line.startswith("[       OK ] ") for line in lines)


def compiled_with(fault, every, folder):
    """Objects of the files that take the fault up."""
    overlay = folder / "overlay"
    mutated = overlay / fault.file
    mutated.parent.mkdir(parents=True)
    text = (ROOT / fault.file).read_text(encoding="utf-8")
    if text.count(fault.old) != 1:
        raise AssertionError(f"{fault.name}: the text to break stands {text.count(fault.old)} times in {fault.file}")
    mutated.write_text(text.replace(fault.old, fault.new), encoding="utf-8")
    objects = []
    for source in fault.compiled:
        entry = every[source]
        words = shlex.split(entry["command"])
        found = overlay / source if source == fault.file else ROOT / source
        object_file = folder / (source.replace("/", "_") + ".o")
        words = [str(found) if word == str(ROOT / source) else word for word in words]
        words[words.index("-o") + 1] = str(object_file)
        words.insert(1, f"-I{overlay}")
        # A parameter that the fault leaves unused is the fault's own affair.
        words += ["-Wno-error", "-w"]
        said = run(words, entry["directory"])
        if said.returncode != 0:
            raise AssertionError(f"{fault.name}: {source} does not compile:\n{said.stderr[-3000:]}")
        objects.append(str(object_file))
    return objects


def linked_with(fault, objects, every, folder):
    """The test program, with the faulty objects before the libraries that hold the sound ones."""
    # Where a file of tests takes the fault up, it stands alone.
    alone = any(source.startswith("tests/") for source in fault.compiled)
    # Beside those of its own folder, a test program may take a file of another's.
    tests = BUILD / "tests" / "CMakeFiles" / f"test_{fault.program}.dir"
    kept = [] if alone else [str(path) for path in sorted(tests.glob("*/*.o"))]
    words = shlex.split(every[fault.compiled[0]]["command"])
    libraries = [str(path) for room in ROOMS if (path := BUILD / f"libstillmark_{room}.a").exists()]
    program = folder / "test_with_fault"
    # The faulty file comes first, and counts where the sound one comes again with those that it is joined with.
    command = [words[0], *[word for word in words if word.startswith("-fsanitize")], "-Wl,--allow-multiple-definition",
               "-o", str(program), *objects, *kept,
               "-Wl,--start-group", *libraries, "-Wl,--end-group", *SYSTEM]
    said = run(command, BUILD)
    if said.returncode != 0:
        raise AssertionError(f"{fault.name}: does not link:\n{said.stderr[-3000:]}")
    return program


def judge(fault, every):
    """What is wrong with the tests, or nothing: sound they pass, with the fault one of them fails."""
    status, failed, passed = said_by(BUILD / "tests" / f"test_{fault.program}", fault.tests, BUILD)
    if status != 0 or failed or passed == 0:
        return f"{fault.name}: without the fault {passed} tests pass and {failed} fail (status {status})"
    with tempfile.TemporaryDirectory(prefix="stillmark-fault-") as folder:
        folder = pathlib.Path(folder)
        program = linked_with(fault, compiled_with(fault, every, folder), every, folder)
        status, failed, passed = said_by(program, fault.tests, BUILD)
    if status == 0 or not failed:
        return f"{fault.name}: nobody noticed ({passed} tests pass, status {status})"
    print(f"{fault.name}: noticed by {', '.join(failed)}", flush=True)
    return None


def turn_of_this_commit(parts):
    """Commits take turns, so that each part is built again within as many of them."""
    said = subprocess.run(["git", "-C", ROOT, "rev-list", "--count", "HEAD"], capture_output=True, text=True, check=False)
    return int(said.stdout) % parts if said.returncode == 0 else 0


class Faults(unittest.TestCase):
    """Of a script: FAULTS is its list. Where STILLMARK_FAULTS is a number, one of so many faults is built, another one at
    the next commit; all of them otherwise."""
    FAULTS = []

    def test_every_fault_has_its_place(self):
        """Of all of them, also of those that are not built this time: a text that is no more would never be broken."""
        gone = [f"{fault.name}: {text.count(fault.old)} times in {fault.file}" for fault in self.FAULTS
                if (text := (ROOT / fault.file).read_text(encoding="utf-8")).count(fault.old) != 1]
        self.assertEqual(gone, [], "the text to break stands otherwise than once")

    def test_every_fault_is_noticed(self):
        every = commands()
        chosen = self.FAULTS
        parts = int(os.environ.get("STILLMARK_FAULTS", "1"))
        if parts > 1:
            chosen = self.FAULTS[turn_of_this_commit(parts)::parts]
            print(f"{len(chosen)} of {len(self.FAULTS)} faults; all of them: sh tests/run.sh faults", flush=True)
        with ThreadPoolExecutor(max_workers=2) as pool:
            found = list(pool.map(lambda fault: judge(fault, every), chosen))
        self.assertEqual([one for one in found if one], [])
