"""A spreadsheet opens the tables with the same numbers, as numbers, and no text as a formula."""
import subprocess
import unittest
import xml.etree.ElementTree as ElementTree

from records.written_samples import Samples

OFFICE = "urn:oasis:names:tc:opendocument:xmlns:office:1.0"
TABLE = "urn:oasis:names:tc:opendocument:xmlns:table:1.0"
TEXT = "urn:oasis:names:tc:opendocument:xmlns:text:1.0"
# Comma, quote, UTF-8, from line 1, every column as it is found; English, so that a point is a point.
AS_CSV = "CSV:44,34,76,1,,1033"


def opened(samples, name):
    """The cells of a table as LibreOffice holds them: rows of (kind, value as it counts, text, formula)."""
    said = subprocess.run(
        ["soffice", "--headless", f"-env:UserInstallation=file://{samples.folder}/office", f"--infilter={AS_CSV}",
         "--convert-to", "fods", "--outdir", str(samples.folder / "opened"), str(samples.path(name, "csv"))],
        capture_output=True, text=True, timeout=200, check=False)
    document = samples.folder / "opened" / f"{name}.fods"
    assert document.is_file(), said.stdout + said.stderr
    rows = []
    for row in ElementTree.parse(document).getroot().iter(f"{{{TABLE}}}table-row"):
        cells = []
        for cell in row.iter(f"{{{TABLE}}}table-cell"):
            repeated = int(cell.get(f"{{{TABLE}}}number-columns-repeated", "1"))
            paragraphs = ["".join(p.itertext()) for p in cell.findall(f"{{{TEXT}}}p")]
            one = (cell.get(f"{{{OFFICE}}}value-type"), cell.get(f"{{{OFFICE}}}value"), "\n".join(paragraphs),
                   cell.get(f"{{{TABLE}}}formula"))
            cells += [one] * min(repeated, 100)
        if any(kind for kind, *_ in cells):
            rows.append(cells)
    return rows


class Spreadsheet(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.samples = cls.enterClassContext(Samples())

    def test_numbers_are_the_same_numbers(self):
        for name in ("normal", "eventful"):
            header, rows = self.samples.table(name)
            first, *found = opened(self.samples, name)
            self.assertEqual([text for _, _, text, _ in first][:len(header)], header)
            self.assertEqual(len(found), len(rows))
            compared = 0
            for row, cells in zip(rows, found):
                for heading, (kind, value, text, formula) in zip(header, cells):
                    self.assertIsNone(formula)
                    if row[heading] == "":
                        self.assertIsNone(kind)
                    elif " / " in heading or heading in ("k", "series", "mark"):
                        self.assertEqual(kind, "float", heading)
                        self.assertEqual(float(value), float(row[heading]))
                        compared += 1
                    elif heading != "utc":
                        self.assertEqual((kind, text), ("string", row[heading]))
            self.assertGreater(compared, 100)

    def test_no_text_becomes_a_formula(self):
        rows = opened(self.samples, "hostile")
        self.assertEqual({formula for cells in rows for *_, formula in cells}, {None})
        texts = [text for cells in rows for _, _, text, _ in cells]
        self.assertTrue(any("HYPERLINK" in text for text in texts))


if __name__ == "__main__":
    unittest.main()
