"""The files of the house, and C++ text without what is not code."""
import os
import re
from pathlib import Path

ROOT = Path(os.environ.get("STILLMARK_SOURCE", Path(__file__).resolve().parents[2]))

# What a working folder holds beside what is kept: builds, demo runs, an editor's or a tool's own folder.
NOT_KEPT = {"build", "run", "__pycache__"}
TEXTS = {".cpp", ".hpp", ".py", ".sh", ".txt", ".json", ".md", ".cmake"}

OUTSIDE_CODE = re.compile(
    r'//[^\n]*|/\*.*?\*/|R"(?P<mark>[^()\s\\]{0,16})\(.*?\)(?P=mark)"|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])+\'',
    re.DOTALL)


def files(folder="", endings=TEXTS):
    """Files under a folder of the house, as paths from its root."""
    found = []
    for place, folders, names in os.walk(ROOT / folder):
        folders[:] = sorted(f for f in folders if f not in NOT_KEPT and not f.startswith("."))
        found += [(Path(place) / n).relative_to(ROOT) for n in sorted(names) if Path(n).suffix in endings]
    return found


def cpp_files(folder=""):
    return files(folder, {".cpp", ".hpp"})


def text_of(path):
    return (ROOT / path).read_text(encoding="utf-8")


def only_code(text):
    """The text with comments and literals blanked out, line for line."""
    def blank(match):
        whole = match.group(0)
        # 1'000'000 is a number, not a character between two quotes.
        if whole.startswith("'") and match.start() > 0 and text[match.start() - 1].isalnum():
            return whole
        return re.sub(r"[^\n]", " ", whole)
    return OUTSIDE_CODE.sub(blank, text)


def line_of(text, position):
    return text.count("\n", 0, position) + 1


def end_of_bracket(text, start):
    """The place after the bracket that closes the one at `start`."""
    depth = 0
    for i in range(start, len(text)):
        if text[i] in "([{":
            depth += 1
        elif text[i] in ")]}":
            depth -= 1
            if depth == 0:
                return i + 1
    return len(text)
