"""Every digital certificate is valid against the published schemas, read by libxml2."""
import os
import subprocess
import sys
import unittest
from pathlib import Path

from records.written_samples import NAMES, Samples

SOURCE = Path(os.environ["STILLMARK_SOURCE"])
PLACES = [os.environ.get("STILLMARK_DCC_SCHEMAS", ""), SOURCE.parent / "shared/checks/dcc"]
SCHEMA = "dcc_3.1.2_si2.2.0.xsd"


def schema():
    return next((Path(place) / SCHEMA for place in PLACES if str(place) and (Path(place) / SCHEMA).is_file()), None)


def said_of(document):
    """What xmllint says against a file; empty where it is valid."""
    said = subprocess.run(["xmllint", "--nonet", "--noout", "--schema", schema(), document], capture_output=True, text=True,
                          timeout=60, check=False)
    return "" if said.returncode == 0 else said.stderr or f"status {said.returncode}"


class DccSchema(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.samples = cls.enterClassContext(Samples())

    def test_every_sample_is_valid(self):
        for name in NAMES:
            with self.subTest(name):
                self.assertEqual(said_of(self.samples.path(name, "xml")), "")

    def test_a_breach_is_seen(self):
        sound = self.samples.path("normal", "xml").read_text(encoding="utf-8")
        for old, new in [("<dcc:countryCodeISO3166_1>DE<", "<dcc:countryCodeISO3166_1><"),
                         ("<si:coverageFactor>2.00<", "<si:coverageFactor>0.90<"),
                         ('id="uncertainty"', 'id="item"'),
                         ("<si:value>21.4<", "<si:value>21,4<")]:
            self.assertIn(old, sound)
            broken = self.samples.folder / "broken.xml"
            broken.write_text(sound.replace(old, new, 1), encoding="utf-8")
            self.assertNotEqual(said_of(broken), "", new)


if __name__ == "__main__":
    if schema() is None:
        print(f"The schemas of the digital certificate are not here, so nothing was held against them: {SCHEMA} was looked for "
              f"in {' and '.join(str(place) for place in PLACES if str(place))}; STILLMARK_DCC_SCHEMAS names another folder.")
        sys.exit(77)
    unittest.main()
