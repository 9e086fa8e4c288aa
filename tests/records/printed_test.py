"""The printed certificate as other programs read it: poppler, qpdf and zbar."""
import json
import os
import pathlib
import re
import subprocess
import tempfile
import unittest
from xml.etree import ElementTree

BUILD = pathlib.Path(os.environ["STILLMARK_BUILD"])
POINTS_OF_A_MM = 72 / 25.4
# ISO 216, A4, and the margins of the document.
WIDTH, HEIGHT = 210 * POINTS_OF_A_MM, 297 * POINTS_OF_A_MM
SIDE, TOP, BOTTOM = 20 * POINTS_OF_A_MM, 12 * POINTS_OF_A_MM, 12 * POINTS_OF_A_MM
LONG_NAMES = {"latin", "unbroken", "greek", "cyrillic", "arabic", "hebrew", "cjk", "emoji", "markup", "control"}


def said_by(*command, data=None):
    return subprocess.run([str(word) for word in command], input=data, capture_output=True, timeout=120, check=False)


def text_of(pdf, *options):
    # Beside a page's boxes poppler writes names of the metadata in a form of its own.
    return said_by("pdftotext", *options, pdf, "-").stdout.decode(errors="replace")


def without_blanks(text):
    return re.sub(r"\s+", "", text)


PLACE = tempfile.TemporaryDirectory(prefix="stillmark-printed-")
FOLDER = pathlib.Path(PLACE.name)


def setUpModule():
    said = subprocess.run([BUILD / "tests" / "test_records", "--gtest_filter=WrittenSamples.*"], capture_output=True,
                          text=True, timeout=120, check=False, env={**os.environ, "STILLMARK_SAMPLES": FOLDER})
    if said.returncode != 0:
        raise AssertionError(said.stdout + said.stderr)


def tearDownModule():
    PLACE.cleanup()


class Samples(unittest.TestCase):
    def setUp(self):
        self.folder = FOLDER
        self.names = sorted(path.stem for path in FOLDER.glob("*.pdf"))

    def pdf(self, name):
        return self.folder / f"{name}.pdf"

    def shown(self, name):
        return json.loads((self.folder / f"{name}.json").read_text(encoding="utf-8"))


class Figures(Samples):
    def as_printed(self, name, digits):
        digits = digits.replace("-", "\u2212")
        return digits.replace(".", ",") if self.shown(name)["language"] == "de" else digits

    def lines(self, name):
        return [" ".join(line.split()) for line in text_of(self.pdf(name), "-layout").splitlines()]

    def test_every_number_of_every_row_stands_there_as_often_as_it_should(self):
        for name in set(self.names) - LONG_NAMES - {"everything"}:
            shown, lines = self.shown(name), self.lines(name)
            # A target is the sequence's own words; the rest are figures.
            rows = [" ".join([row[0], row[1], *(self.as_printed(name, one) for one in row[2:])]) for row in shown["rows"]]
            points = [[row[0], *(self.as_printed(name, one) for one in row[1:])] for row in shown["points"]]
            for row in set(rows):
                found = sum(line == row or line.startswith(row + " ") for line in lines)
                self.assertEqual(found, rows.count(row), f"{name}: {row}")
            for point in points:
                # Infinitely many degrees of freedom stand behind k.
                k = next(i for i, one in enumerate(point) if i > 2 and one in ("2.00", "2,00"))
                wanted = " ".join([*point[:k + 1], "\N{INFINITY}", *point[k + 1:]])
                found = sum((line + " ").startswith(wanted + " ") for line in lines)
                self.assertEqual(found, points.count(point), f"{name}: {wanted}")
            if name != "empty":
                self.assertGreater(len(rows), 20, name)

    def test_each_clause_has_its_words(self):
        # ISO/IEC 17025:2017, 7.8.2.1 and 7.8.4.1, 7.8.6.2.
        wanted = ["Calibration certificate INV-2026-0001", "Invented Pressure Laboratory", "Street of Nothing 1",
                  "Place of work", "at the laboratory's address", "Invented Works", "Customer Lane 2", "INV-P-3, edition 2",
                  "Demo sequence", "digital gauge C", "INV-C-303", "clean, without damage", "upright, connection below",
                  "Received", "2026-09-14", "Calibrated", "Issued", "results concern only the instrument named",
                  "1 bar = 100000 Pa", "Reviewed and authorised by", "R. Reviewer (invented)", "coverage factor k",
                  "95.45 %", "21.4 \u00b0C to 21.6 \u00b0C", "metrologically traceable", "INV-P-21", "2028-01-15",
                  "had expired", "Results as found", "Results as left", "Statement of conformity", "simple acceptance",
                  "The statement covers", "not be reproduced except in full", "120 mm above", "its connection",
                  "Overlap", "End of the calibration certificate INV-2026-0001"]
        text = " ".join(text_of(self.pdf("adjusted"), "-layout").split())
        self.assertEqual([words for words in wanted if words not in text], [])

    def test_the_german_one_is_german(self):
        text = " ".join(text_of(self.pdf("german"), "-layout").split())
        for words in ["Kalibrierschein INV-2026-0001", "Seite 1 von 3", "einfache Annahme", "wie vorgefunden", "erfüllt",
                      "95,45 %", "Angenommen", "Rückführung", "Ende des Kalibrierscheins", "Text in einer anderen Sprache"]:
            self.assertIn(words, text)
        self.assertNotIn("Text in another language", text_of(self.pdf("sealed")))

    def test_times_are_local_with_their_offset(self):
        text = text_of(self.pdf("everything"), "-raw")
        # 1790000000 s after 1970 is 2026-09-21 14:13 UTC (Python's datetime); Europe/Berlin is two hours ahead in summer (IANA).
        self.assertIn("14:13 bis 15:13 UTC+02:00", " ".join(text.split()))
        self.assertNotRegex(text, r"\d\d:\d\d UTC(?!\+)")

    def test_all_that_is_to_be_told_is_told(self):
        wanted = ["Noch nicht zu unterschreiben", "der Auftraggeber von Messlauf R1 ist nicht angegeben", "von der falschen Seite",
                  "Hinweggesetzt durch R. Reviewer (invented) am 2026-09-21", "Ersetzt den Kalibrierschein INV-2026-0000",
                  "wrong serial number", "accredited for nothing", "hall 3", "the case was open", "35,5 mm unter",
                  "zwischen Teilstrichen", "edition 4 (A.", "11 points in place of 6", "Ruhezeit davor war verkürzt",
                  "w = 0,83 U", "bedingt nicht erfüllt innerhalb", "too few points", "20 s at 40 bar", "void: wrong disc",
                  "erlassen durch A. Admin", "Leitung war zur Luft offen", "anerkannt durch R. Reviewer", "Von oben angefahren",
                  "2,13", "2,06", "Messmöglichkeit des Labors", "Bereiche weichen ab", "Vor dem Klopfen", "Reihe 2"]
        text = " ".join(text_of(self.pdf("everything"), "-raw").split())
        self.assertEqual([words for words in wanted if words not in text], [])

    def test_each_page_says_which_certificate_and_which_page_it_is(self):
        for name in self.names:
            pages = text_of(self.pdf(name), "-layout").split("\f")[:-1]
            for number, page in enumerate(pages, 1):
                head = " ".join(page.strip().splitlines()[0].split())
                german = self.shown(name)["language"] == "de"
                of = f"Seite {number} von {len(pages)}" if german else f"Page {number} of {len(pages)}"
                self.assertIn(of, head, name)
                self.assertIn(self.shown(name)["number"], head, name)
                self.assertEqual("NOT SIGNED" in head or "NICHT UNTERSCHRIEBEN" in head, self.shown(name)["draft"], name)
            self.assertIn(self.shown(name)["number"], pages[-1].strip().splitlines()[-1], name)

    def test_as_many_pages_as_a_reader_has_patience_for(self):
        for name, most in {"usual": 3, "sealed": 3, "german": 3, "sealed21": 3, "adjusted": 4, "empty": 2}.items():
            pages = len(text_of(self.pdf(name)).split("\f")) - 1
            self.assertLessEqual(pages, most, name)


class Pages(Samples):
    def boxes(self, name):
        """Of each page the words with their boxes."""
        tree = ElementTree.fromstring(text_of(self.pdf(name), "-bbox"))
        html = "{http://www.w3.org/1999/xhtml}"
        for page in tree.iter(html + "page"):
            self.assertAlmostEqual(float(page.get("width")), WIDTH, delta=0.1)
            self.assertAlmostEqual(float(page.get("height")), HEIGHT, delta=0.1)
            yield [(float(w.get("xMin")), float(w.get("yMin")), float(w.get("xMax")), float(w.get("yMax")), w.text or "")
                   for w in page.iter(html + "word")]

    def test_nothing_leaves_the_margins(self):
        hair = 1.5  # boxes are those of the font, a little higher than the lines
        for name in self.names:
            for page in self.boxes(name):
                for x1, y1, x2, y2, word in page:
                    self.assertTrue(x1 > SIDE - hair and x2 < WIDTH - SIDE + hair and y1 > TOP - 2 * hair and
                                    y2 < HEIGHT - BOTTOM + 2 * hair, f"{name}: {word} at {x1} {y1} {x2} {y2}")

    def test_no_word_lies_on_another(self):
        # A box holds the room for marks above capitals, which the lines here take a tenth of (see Typeface): 2 points
        # of the largest letters. Words that lay on each other would share half a line.
        for name in self.names:
            for page in self.boxes(name):
                page.sort(key=lambda box: box[1])
                for i, (x1, y1, x2, y2, word) in enumerate(page):
                    for u1, v1, u2, v2, other in page[i + 1:]:
                        if v1 > y2:
                            break
                        wide, high = min(x2, u2) - max(x1, u1), min(y2, v2) - max(y1, v1)
                        least = min(y2 - y1, v2 - v1)
                        self.assertFalse(wide > 0.6 and high > 0.3 * least,
                                         f"{name}: {word} and {other} share {wide:.1f} x {high:.1f}")

    def test_long_names_are_all_there(self):
        """Each letter of them, in the order in which the reader sees them; scripts that shape their letters are read by
        how many there are."""
        for name in ["latin", "unbroken", "greek", "cyrillic", "markup"]:
            wanted = without_blanks(self.shown(name)["customer"])
            self.assertGreaterEqual(len(self.shown(name)["customer"]), 500)
            pages = without_blanks(text_of(self.pdf(name), "-raw"))
            self.assertIn(wanted, pages, name)

    def test_what_no_font_has_stands_as_its_code(self):
        text = without_blanks(text_of(self.pdf("control"), "-raw"))
        self.assertIn("a[U+0000]b[U+0001][U+001B][2J[U+007F][U+202E]b[U+2066]c\ufffd\ufffd", text)
        for name, character in (("cjk", "圧"), ("emoji", "🔧")):
            text = without_blanks(text_of(self.pdf(name), "-raw"))
            as_code = f"[U+{ord(character):04X}]"
            self.assertNotEqual(character in text, as_code in text, name)
            self.assertEqual(as_code in text, "hasnofont" in text, name)


class Archive(Samples):
    def test_qpdf_finds_nothing_wrong(self):
        for name in self.names:
            said = said_by("qpdf", "--check", self.pdf(name))
            self.assertEqual(said.returncode, 0, said.stdout + said.stderr)
            self.assertNotIn(b"WARNING", said.stdout + said.stderr)

    def test_every_font_is_embedded(self):
        for name in self.names:
            fonts = said_by("pdffonts", self.pdf(name)).stdout.decode().splitlines()[2:]
            self.assertGreater(len(fonts), 1, name)
            for font in fonts:
                self.assertRegex(font, r"\byes yes yes\b", f"{name}: {font}")

    def test_the_digital_certificate_is_attached_to_the_byte(self):
        for name in ["usual", "sealed", "german", "cjk"]:
            said = said_by("qpdf", "--show-attachment=INV-2026-0001.xml", self.pdf(name))
            self.assertEqual(said.stdout, (self.folder / f"{name}.xml").read_bytes(), said.stderr)
        self.assertNotIn(b"xml", said_by("qpdf", "--list-attachments", self.pdf("empty")).stdout)

    def objects(self, name):
        said = said_by("qpdf", "--json=2", "--json-key=qpdf", "--json-stream-data=none", self.pdf(name))
        return json.loads(said.stdout)["qpdf"][1]

    def test_it_says_what_an_archive_asks_for(self):
        for name in ["sealed", "german"]:
            objects = self.objects(name)
            trailer = objects["trailer"]["value"]
            root = objects["obj:" + trailer["/Root"]]["value"]
            self.assertNotIn("/Encrypt", trailer)
            self.assertEqual(len(trailer["/ID"]), 2)
            self.assertEqual(root["/Lang"], "u:" + self.shown(name)["language"])
            intent = objects["obj:" + root["/OutputIntents"][0]]["value"]
            self.assertEqual(intent["/S"], "/GTS_PDFA1")
            file = objects["obj:" + root["/AF"][0]]["value"]
            self.assertEqual((file["/AFRelationship"], file["/F"]), ("/Data", "u:INV-2026-0001.xml"))
            stream = objects["obj:" + file["/EF"]["/F"]]["stream"]["dict"]
            self.assertEqual(stream["/Subtype"], "/text/xml")
            info = objects["obj:" + trailer["/Info"]]["value"]
            metadata = said_by("pdfinfo", "-meta", self.pdf(name)).stdout.decode()
            for words in ["<pdfaid:part>3<", "<pdfaid:conformance>B<", "2026-09-21T"]:
                self.assertIn(words, metadata)
            for key in ["/Title", "/Author", "/Creator", "/Producer"]:
                self.assertIn(">" + info[key].removeprefix("u:") + "<", metadata)
            self.assertEqual(info["/CreationDate"][:12], "u:D:20260921")

    def test_each_font_says_which_glyph_is_which(self):
        # ISO 19005-3, 6.2.11: CIDToGIDMap of an embedded TrueType font; a simple one with WinAnsi is no symbol font.
        for name in self.names:
            objects = self.objects(name)
            fonts = [value for one in objects.values() if isinstance(value := one.get("value"), dict)
                     and value.get("/Type") == "/Font"]
            self.assertGreater(len(fonts), 2)
            for font in fonts:
                if font["/Subtype"] == "/CIDFontType2":
                    self.assertEqual(font.get("/CIDToGIDMap"), "/Identity", name)
                elif font["/Subtype"] == "/TrueType":
                    flags = objects["obj:" + font["/FontDescriptor"]]["value"]["/Flags"]
                    self.assertEqual((font["/Encoding"], flags & 36), ("/WinAnsiEncoding", 32), name)

    def test_what_an_archive_forbids_is_not_there(self):
        """ISO 19005-3: no script, no action, no LZW, no smoothing of images, no font that is not embedded."""
        for name in self.names:
            text = json.dumps(self.objects(name))
            for forbidden in ["/JavaScript", "/OpenAction", "/LZWDecode", "/Interpolate", "/Launch", "/TR", "/XFA"]:
                self.assertNotIn(f'"{forbidden}"', text, name)

    def test_metadata_holds_names_with_signs_of_markup(self):
        ElementTree.fromstring(said_by("pdfinfo", "-meta", self.pdf("markup")).stdout.decode().strip().lstrip("\ufeff"))
        ElementTree.fromstring(said_by("pdfinfo", "-meta", self.pdf("control")).stdout.decode().strip().lstrip("\ufeff"))

    def test_the_same_certificate_gives_the_same_bytes(self):
        with tempfile.TemporaryDirectory() as again:
            subprocess.run([BUILD / "tests" / "test_records", "--gtest_filter=WrittenSamples.OfEveryKind"], check=True,
                           capture_output=True, timeout=120, env={**os.environ, "STILLMARK_SAMPLES": again, "TZ": "Asia/Tokyo",
                                                                  "LC_ALL": "C"})
            for name in ["usual", "sealed21", "german"]:
                self.assertEqual((pathlib.Path(again) / f"{name}.pdf").read_bytes(), self.pdf(name).read_bytes(), name)

    def test_without_fonts_the_package_is_named(self):
        with tempfile.TemporaryDirectory() as folder:
            settings = pathlib.Path(folder) / "fonts.conf"
            settings.write_text('<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd"><fontconfig></fontconfig>',
                                encoding="utf-8")
            said = subprocess.run([BUILD / "tests" / "test_records", "--gtest_filter=WrittenSamples.OfEveryKind"],
                                  capture_output=True, text=True, timeout=120, check=False,
                                  env={**os.environ, "STILLMARK_SAMPLES": folder, "FONTCONFIG_FILE": str(settings)})
        self.assertNotEqual(said.returncode, 0)
        self.assertIn("install Debian's fonts-noto-core", said.stdout)


class Code(Samples):
    def decoded(self, name):
        with tempfile.TemporaryDirectory() as folder:
            said_by("pdftoppm", "-r", "150", "-gray", "-png", self.pdf(name), pathlib.Path(folder) / "page")
            pages = sorted(pathlib.Path(folder).glob("*.png"))
            found = [said_by("zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", page).stdout for page in pages]
        return b"".join(found).decode().strip()

    def test_a_camera_reads_it_from_the_signed_one(self):
        for name in ["sealed", "german", "sealed21"]:
            self.assertEqual(self.decoded(name), self.shown(name)["qr"])
        self.assertRegex(self.shown("sealed")["qr"], r"^stillmark 1 INV-2026-0001 [0-9a-f]{64} S{86}==$")

    def test_a_draft_has_none(self):
        self.assertEqual(self.decoded("usual"), "")


if __name__ == "__main__":
    unittest.main()
