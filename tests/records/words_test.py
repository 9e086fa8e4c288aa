"""The words of documents: the same keys in every language, none that nobody uses, and the same gaps in each."""
import json
import os
import pathlib
import re
import unittest

ROOM = pathlib.Path(os.environ["STILLMARK_SOURCE"]) / "daemon" / "records"
# "range: low" belongs to the group `range`, which the code asks for with a name from the content.
GROUP = re.compile(r"^([a-z ]+): ")


def words(language):
    def once(pairs):
        keys = [key for key, _ in pairs]
        assert len(keys) == len(set(keys)), "a key stands twice"
        return dict(pairs)
    return json.loads((ROOM / "words" / f"{language}.json").read_text(encoding="utf-8"), object_pairs_hook=once)


def code():
    return "\n".join(path.read_text(encoding="utf-8") for path in sorted(ROOM.rglob("*.cpp")))


class Words(unittest.TestCase):
    def test_every_language_has_the_same_keys_in_the_same_order(self):
        languages = sorted(path.stem for path in (ROOM / "words").glob("*.json"))
        self.assertEqual(languages, ["de", "en"])
        self.assertEqual(list(words("de")), list(words("en")))

    def test_the_same_gaps_stand_in_each(self):
        english, german = words("en"), words("de")
        for key, text in english.items():
            self.assertTrue(text.strip() and german[key].strip(), key)
            self.assertEqual(sorted(re.findall(r"\{[^}]*\}", text)), sorted(re.findall(r"\{[^}]*\}", german[key])), key)

    def test_none_is_unused(self):
        text = code()
        groups = set(re.findall(r'named\(\s*"([^"]+)"', text))
        self.assertGreater(len(groups), 5)
        unused = [key for key in words("en") if f'"{key}"' not in text and
                  not ((found := GROUP.match(key)) and found.group(1) in groups)]
        self.assertEqual(unused, [])

    def test_none_is_missing(self):
        keys = set(words("en"))
        asked = set(re.findall(r'\bwords\(\s*"([^"]+)"', code()))
        self.assertGreater(len(asked), 100)
        self.assertEqual(sorted(asked - keys), [])


# A sentence of the service is data with an English pattern; each pattern stands as one literal, in pieces perhaps, behind
# `sentence(`.
PATTERN = re.compile(r'\bsentence\(\s*((?:"(?:[^"\\]|\\.)*"\s*)+)')
PIECE = re.compile(r'"((?:[^"\\]|\\.)*)"')
GAP = re.compile(r"\{([a-z_0-9]*)\}")


def patterns():
    """Every pattern that the sources hold, with the file where it stands."""
    found = {}
    for path in sorted((ROOM.parent).rglob("*.cpp")):
        for literal in PATTERN.findall(path.read_text(encoding="utf-8")):
            text = "".join(PIECE.findall(literal)).encode("latin-1", "backslashreplace").decode("unicode_escape")
            found.setdefault(text, path.name)
    return found


class Sentences(unittest.TestCase):
    def setUp(self):
        self.german = json.loads((ROOM / "words" / "sentences" / "de.json").read_text(encoding="utf-8"))
        self.patterns = patterns()
        self.assertGreater(len(self.patterns), 40)

    def test_every_one_has_a_translation_and_none_is_unused(self):
        self.assertEqual(sorted(set(self.patterns) - set(self.german)), [], "without a translation")
        self.assertEqual(sorted(set(self.german) - set(self.patterns)), [], "translated, but nothing says it")

    def test_a_translation_has_the_same_gaps(self):
        for pattern, words in self.german.items():
            self.assertTrue(words.strip(), pattern)
            self.assertEqual(sorted(GAP.findall(pattern)), sorted(GAP.findall(words)), pattern)

    def test_every_pattern_is_a_literal(self):
        """What is put together while the program runs, no list can translate."""
        for path in sorted((ROOM.parent).rglob("*.cpp")):
            if path.name == "sentence.cpp":
                continue
            for argument in re.findall(r"\bsentence\(\s*([^\s\)])", path.read_text(encoding="utf-8")):
                self.assertEqual(argument, '"', path)


if __name__ == "__main__":
    unittest.main()
