"""Input from outside is read by what gives a value or an explanation, not by what throws or guesses."""
import re
import unittest

from house.sources import cpp_files, end_of_bracket, line_of, only_code, text_of

PARSE = re.compile(r"\b[Jj]son::parse\s*(\()")
CAUGHT = re.compile(r"catch\s*\(\s*const\s+(?:\w+::)*(?:parse_error|exception)\s*&")
# atof says 0 for nonsense; strtod follows the locale. std::from_chars does neither.
GUESSES = re.compile(r"\b(?:std::)?(?:ato[fil]|atoll|strto(?:d|f|l|ul|ll|ull)|sscanf)\s*\(")


def breaches(path, text):
    code = only_code(text)
    found = [f"{path}:{line_of(code, m.start())}: use std::from_chars" for m in GUESSES.finditer(code)]
    for call in PARSE.finditer(code):
        arguments = code[call.start(1):end_of_bracket(code, call.start(1))]
        # The third argument false: a mistake is a value. Otherwise the same file turns it into one.
        if not re.search(r",\s*false\b", arguments) and not CAUGHT.search(code):
            found.append(f"{path}:{line_of(code, call.start())}: JSON that is wrong would throw here")
    return found


class Input(unittest.TestCase):
    def test_nothing_throws_or_guesses_on_input(self):
        paths = [p for folder in ("protocols", "drivers", "daemon") for p in cpp_files(folder)]
        self.assertGreater(len(paths), 10)
        found = [b for p in paths for b in breaches(p, text_of(p))]
        self.assertEqual(found, [], "\n" + "\n".join(found))

    def test_a_breach_is_seen(self):
        for bad in ("const json j = json::parse(line);", "n = std::strtod(text, &end);", "x = atof(text);"):
            self.assertEqual(len(breaches("x.cpp", bad)), 1, bad)
        for good in ("const json j = json::parse(line, nullptr, false);", "// atof(text)", "restrtof(i);",
                     "try { json::parse(t, w, true, true); } catch (const nlohmann::json::parse_error& e) { say(e); }"):
            self.assertEqual(breaches("x.cpp", good), [], good)


if __name__ == "__main__":
    unittest.main()
