"""Every mistake in a bench file is refused with one line that names the place, the finding and what would do."""
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import unittest

HERE = pathlib.Path(__file__).parent
SERVICE = pathlib.Path(os.environ["STILLMARK_BUILD"]) / "stillmarkd"
PROFILES = pathlib.Path(os.environ["STILLMARK_SOURCE"]) / "drivers" / "profiles"
BASE = (HERE / "base.json").read_text(encoding="utf-8")


def rules(text):
    """(name, old, new, message) of each rule; old and new are None where the file itself is replaced by `new`."""
    found = []
    for block in text.split("\n\n"):
        lines = [line for line in block.splitlines() if line and not line.startswith("//")]
        if not lines:
            continue
        parts = {"#": [], "-": [], "+": [], "=": []}
        for line in lines:
            parts[line[0]].append(line[2:])
        assert len(parts["#"]) == 1 and len(parts["="]) == 1, block
        found.append((parts["#"][0], "\n".join(parts["-"]), "\n".join(parts["+"]), parts["="][0]))
    return found


def edited(name, old, new):
    if BASE.count(old) != 1:
        raise AssertionError(f"{name}: the text to replace stands {BASE.count(old)} times in base.json")
    return BASE.replace(old, new)


class BadBench(unittest.TestCase):
    def setUp(self):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="stillmark-bad-bench-"))
        self.addCleanup(shutil.rmtree, self.folder)
        for profile in HERE.glob("profile-*.json"):
            shutil.copy(profile, self.folder)

    def check(self, text):
        bench = self.folder / "bench.json"
        bench.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
        said = subprocess.run([SERVICE, bench, "--check", "--profiles", PROFILES], capture_output=True, text=True,
                              timeout=60, check=False)
        self.assertEqual(sorted(path.name for path in self.folder.iterdir() if not path.name.startswith("profile-")),
                         ["bench.json"], "a check writes nothing")
        return said

    def refusal(self, text):
        said = self.check(text)
        self.assertEqual((said.returncode, said.stdout), (2, ""), said.stderr)
        return said.stderr.replace(str(PROFILES), "PROFILES")

    def test_the_base_is_good(self):
        said = self.check(BASE)
        self.assertEqual((said.returncode, said.stderr), (0, ""))
        self.assertIn(": good: 4 instruments, 5 discs, 1 sequences", said.stdout)

    def test_every_rule(self):
        every = [rule for file in sorted(HERE.glob("*rules.txt")) for rule in rules(file.read_text(encoding="utf-8"))]
        self.assertGreater(len(every), 80)
        self.assertEqual(len({name for name, *_ in every}), len(every), "two rules have one name")
        for name, old, new, message in every:
            with self.subTest(name):
                self.assertEqual(self.refusal(edited(name, old, new)), f"stillmarkd: bench.json: {message}\n")

    def test_no_such_file(self):
        said = subprocess.run([SERVICE, self.folder / "none.json", "--check"], capture_output=True, text=True,
                              timeout=60, check=False)
        self.assertEqual((said.returncode, said.stderr),
                         (2, f"stillmarkd: {self.folder}/none.json: cannot be read; check the path and the permissions\n"))

    def test_a_folder_is_no_file(self):
        said = subprocess.run([SERVICE, self.folder, "--check"], capture_output=True, text=True, timeout=60, check=False)
        self.assertEqual((said.returncode, said.stderr),
                         (2, f"stillmarkd: {self.folder}: cannot be read; check the path and the permissions\n"))

    def test_what_is_no_text_at_all(self):
        for name, content in [("empty", b""), ("binary", bytes(range(256))), ("a lone byte of UTF-8", b'{"name": "\xc3"}'),
                              ("deep", b"[" * 100000)]:
            with self.subTest(name):
                self.assertRegex(self.refusal(content), r"^stillmarkd: bench.json: line 1, column \d+: this is not JSON; ")

    def test_no_cut_through_the_file_is_taken_for_a_bench(self):
        for at in range(60, len(BASE) - 4, 397):
            with self.subTest(at):
                self.assertRegex(self.refusal(BASE[:at]), r"^stillmarkd: bench.json: line \d+, column \d+: this is not JSON; ")

    def test_the_service_does_not_start_with_a_wrong_file(self):
        bench = self.folder / "bench.json"
        bench.write_text(edited("bare number", '"spin_time": "240 s"', '"spin_time": 240'), encoding="utf-8")
        said = subprocess.run([SERVICE, bench, "--profiles", PROFILES, "--socket", self.folder / "socket"],
                              capture_output=True, text=True, timeout=60, check=False)
        self.assertEqual(said.returncode, 2)
        self.assertIn("balance.ranges[0].spin_time: 240 is a bare number", said.stderr)
        self.assertFalse((self.folder / "bench.json.journal").exists())
        self.assertFalse((self.folder / "socket").exists())


def show_what_is_said():
    """Prints rules.txt as the loader answers now; whoever takes lines over has read them."""
    test = BadBench()
    test.setUp()
    for name, old, new, _ in rules((HERE / "rules.txt").read_text(encoding="utf-8")):
        said = test.check(edited(name, old, new))
        print(f"{name}\n    [{said.returncode}] {said.stderr.removeprefix('stillmarkd: bench.json: ').strip()}"
              .replace(str(PROFILES), "PROFILES"))
    test.doCleanups()


if __name__ == "__main__":
    if sys.argv[1:] == ["--show"]:
        show_what_is_said()
    else:
        unittest.main()
