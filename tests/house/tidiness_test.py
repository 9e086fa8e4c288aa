"""The house as a stranger finds it: nothing unfinished, nothing unpredictable, and every script can be read."""
import ast
import re
import subprocess
import unittest

from house.sources import NOT_KEPT, ROOT, TEXTS, cpp_files, files, line_of, text_of

TOP_LEVEL = {"CMakeLists.txt", "CMakePresets.json", "README.md", "DEVELOPERS.md", "LICENSE", "protocols", "drivers",
             "daemon", "simulator", "tests", ".git", ".ci", ".clang-format", ".clang-tidy", ".gitignore"}
# Names that say nothing of what is inside.
EMPTY_NAMES = re.compile(r"(^|[_.\-])(util|utils|helper|helpers|manager|handler|common|misc)([_.\-]|$)")
# Written apart, so that this file does not hold them.
UNFINISHED = re.compile(r"\b(" + "|".join(a + b for a, b in [("TO", "DO"), ("FIX", "ME"), ("XX", "X"), ("HA", "CK")]) + r")\b")
SKIPPED = re.compile("|".join(a + b for a, b in [("GTEST_", "SKIP"), (r"\bDISA", "BLED_"), (r"unittest\.", "skip"), (r"self\.", "skipTest")]))
LONGEST = 700


class Tidiness(unittest.TestCase):
    def test_the_top_level_holds_its_fixed_entries_only(self):
        strangers = sorted(p.name for p in ROOT.iterdir() if p.name not in TOP_LEVEL | NOT_KEPT)
        self.assertEqual(strangers, [])

    def test_names_say_what_is_inside(self):
        found = [str(p) for p in files() if any(EMPTY_NAMES.search(part.lower()) for part in p.with_suffix("").parts)]
        self.assertEqual(found, [])
        self.assertTrue(EMPTY_NAMES.search("string_utils") and EMPTY_NAMES.search("common"))
        self.assertFalse(EMPTY_NAMES.search("commonly_used"))

    def test_nothing_unfinished_and_no_test_left_out(self):
        found = []
        for p in files():
            text = text_of(p)
            found += [f"{p}:{line_of(text, m.start())}: {m.group(0)}"
                      for pattern in (UNFINISHED, SKIPPED) for m in pattern.finditer(text)]
        self.assertEqual(found, [], "\n" + "\n".join(found))

    def test_files_are_short(self):
        lengths = {str(p): text_of(p).count("\n") for p in files(endings=TEXTS - {".json", ".md"})}
        self.assertGreater(len(lengths), 20)
        self.assertEqual({p: n for p, n in lengths.items() if n > LONGEST}, {})

    def test_every_header_is_included_once(self):
        found = [str(p) for p in cpp_files() if p.suffix == ".hpp" and "#pragma once" not in text_of(p)]
        self.assertEqual(found, [])

    def test_every_script_can_be_read(self):
        shells = [("sh", p) for p in files(endings={".sh"})] + [("bash", ".ci/run")]
        self.assertGreater(len(shells), 2)
        for shell, script in shells:
            said = subprocess.run([shell, "-n", ROOT / script], capture_output=True, text=True, check=False)
            self.assertEqual(said.returncode, 0, f"{script}: {said.stderr}")
        for script in files(endings={".py"}):
            ast.parse(text_of(script), str(script))


class Layout(unittest.TestCase):
    def test_sources_are_laid_out_by_clang_format(self):
        """The layout is that of clang-format 14; other versions lay the same settings out a little differently."""
        version = subprocess.run(["clang-format", "--version"], capture_output=True, text=True, check=True).stdout
        if " version 14." not in version:
            print(f"{version.strip()}: its layout is not compared")
            return
        said = subprocess.run(["clang-format", "--dry-run", "-Werror", *map(str, cpp_files()),
                               *map(str, files(endings={".js"}))], cwd=ROOT,
                              capture_output=True, text=True, check=False)
        wrong = sorted({line.split(":")[0] for line in said.stderr.splitlines() if "clang-format-violations" in line})
        self.assertEqual((wrong, said.returncode), ([], 0), "\nlay them out: clang-format -i " + " ".join(wrong))


if __name__ == "__main__":
    unittest.main()
