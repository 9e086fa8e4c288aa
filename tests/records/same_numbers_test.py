"""The digital certificate, the table and the JSON say the same numbers, read by strangers to the program."""
import csv
import decimal
import io
import json
import os
import pathlib
import re
import unittest

from records.written_samples import NAMES, SPACES, Samples

ROOT = pathlib.Path(os.environ["STILLMARK_SOURCE"])
# What is compared: column of the table without its unit, key of the JSON, refType of the digital certificate.
READINGS = [("reference", "reference", "basic_referenceValue"), ("indication", "indication", "basic_measuredValue"),
            ("untapped", "untapped", "stillmark_untapped"), ("deviation", "deviation", "basic_measurementError")]
OF_POINT = [("reference", "reference", "basic_referenceValue")]
OF_BOTH = [("hysteresis", "hysteresis", "stillmark_hysteresis"), ("repeatability", "repeatability", "stillmark_repeatability"),
           ("reproducibility", "reproducibility", "stillmark_reproducibility"),
           ("error span", "error_span", "stillmark_errorSpan")]
BASIS = [("deviation", "deviation", "basic_measurementError"), ("permissible", "permissible", "stillmark_permissibleError"),
         ("acceptance limit", "acceptance", "stillmark_acceptanceLimit")]
WAYS = [("rising", "stillmark_pointsRising"), ("falling", "stillmark_pointsFalling"), ("mean", "stillmark_points")]
VERDICTS = {"pass": "pass", "conditional pass": "conditionalPass", "conditional fail": "conditionalFail", "fail": "fail",
            None: "none"}


def words(node, path):
    found = node.find(path, SPACES)
    return [] if found is None else (found.text or "").split()


def lists_of(xml, ref_type):
    """The lists of every result of a kind."""
    return xml.findall(f".//dcc:result[@refType='{ref_type}']/dcc:data/dcc:list", SPACES)


def column(one, ref_type, which=0):
    """(values, U, k) of a quantity of a list, in its first unit or another one; nothing where it is not there."""
    quantity = one.find(f"dcc:quantity[@refType='{ref_type}']", SPACES)
    if quantity is None:
        return None
    found = quantity.findall(".//si:realListXMLList", SPACES)[which]
    expanded = "si:measurementUncertaintyUnivariateXMLList/si:expandedMUXMLList/"
    return (words(found, "si:valueXMLList"), words(found, expanded + "si:valueExpandedMUXMLList"),
            words(found, expanded + "si:coverageFactorXMLList"))


def figure(of_json):
    return "" if of_json is None else of_json["text"]


def texts(one, ref_type):
    return [found.text or "" for found in
            one.findall(f"dcc:quantity[@refType='{ref_type}']/dcc:noQuantity/dcc:content", SPACES)]


class SameNumbers(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.samples = cls.enterClassContext(Samples())

    def compare(self, rows, table, of_xml, unit, kinds):
        """`rows` of JSON, of the table and of one list of the digital certificate."""
        for heading, key, ref_type in kinds:
            ours = [figure(row[key]) for row in rows]
            self.assertEqual([row[f"{heading} / {unit}"] for row in table], ours, heading)
            found = column(of_xml, ref_type)
            if found is None:
                self.assertEqual([text for text in ours if text], [], f"{ref_type} lacks")
            else:
                self.assertEqual(found[0], [text or "NaN" for text in ours], ref_type)

    def compare_bases(self, points, table, of_xml, unit, way):
        """What the verdicts of one direction rest on."""
        bases = [at[way] for at in points]
        self.compare(points, table, of_xml, unit, OF_POINT + (OF_BOTH if way == "mean" else []))
        self.compare(bases, table, of_xml, unit, BASIS)
        _, expanded, factors = column(of_xml, "basic_measurementError")
        self.assertEqual(expanded, [figure(one["expanded"]) for one in bases])
        self.assertEqual([row[f"U / {unit}"] for row in table], expanded)
        self.assertEqual([row["k"] for row in table], factors)
        self.assertEqual([figure(one["k"]) for one in bases], factors)
        self.assertEqual(texts(of_xml, "stillmark_degreesOfFreedom"), [figure(one["dof"]) for one in bases])
        self.assertEqual([row["degrees of freedom"] for row in table], [figure(one["dof"]) for one in bases])
        self.assertEqual(texts(of_xml, "stillmark_uncertaintyContains"), ["; ".join(one["contains"]) for one in bases])
        self.assertEqual([row["U contains"] for row in table], ["; ".join(one["contains"]) for one in bases])
        outside = column(of_xml, "stillmark_probabilityOutside")
        self.assertEqual(outside[0] if outside else ["NaN"] * len(bases), [figure(one["outside_percent"]) or "NaN" for one in bases])
        self.assertEqual([row["probability outside / %"] for row in table], [figure(one["outside_percent"]) for one in bases])
        self.assertEqual([row["verdict"] for row in table], [one["verdict"] or "" for one in bases])
        found = words(of_xml, "dcc:measurementMetaData/dcc:metaData/dcc:conformityXMLList") or texts(of_xml, "stillmark_conformity")
        self.assertEqual(found, [VERDICTS[one["verdict"]] for one in bases] if any(one["verdict"] for one in bases) else [])

    def test_every_number_is_the_same_in_all_three(self):
        compared = 0
        for name in NAMES:
            with self.subTest(name):
                xml, data, unit = self.samples.xml(name), self.samples.json(name), self.samples.json(name)["unit"]["symbol"]
                ways = [(results, way) for results in data["results"] for way in results["tables"]]
                lists = lists_of(xml, "stillmark_readings")
                self.assertEqual(len(lists), len(ways))
                _, table = self.samples.table(name)
                self.assertEqual(len(table), sum(len(way["rows"]) for _, way in ways))
                for one, (_, way) in zip(lists, ways):
                    rows, table_of_way, table = way["rows"], table[:len(way["rows"])], table[len(way["rows"]):]
                    self.compare(rows, table_of_way, one, unit, READINGS)
                    self.assertEqual(column(one, "stillmark_mark")[0], [str(row["mark"]) for row in rows])
                    self.assertEqual([row["mark"] for row in table_of_way], [str(row["mark"]) for row in rows])
                    self.assertEqual(words(one, "dcc:dateTimeXMLList"), [row["utc"] for row in rows])
                    self.assertEqual([row["utc"] for row in table_of_way], [row["utc"] for row in rows])
                    self.assertEqual(texts(one, "stillmark_status"), [row["status"] for row in rows])
                    compared += len(rows)
                _, table = self.samples.table(name, "points.csv")
                for way, ref_type in WAYS:
                    lists = lists_of(xml, ref_type)
                    with_points = [results for results in data["results"] if any(at[way] for at in results["points"])]
                    self.assertEqual(len(lists), len(with_points))
                    for one, results in zip(lists, with_points):
                        of_run = [row for row in table if row["run"].lstrip("'") == results["run"] or name.startswith("hostile")]
                        points = [at for at in results["points"] if at[way]]
                        self.compare_bases(points, [row for row in of_run if row["direction"] == way], one, unit, way)
                        compared += len(points)
        self.assertGreater(compared, 1000)

    def test_rounded_figures_are_those_of_their_values(self):
        """Half to even, in decimal, of the shortest decimal of the value (ISO 80000-1, B.3)."""
        looked_at = 0
        for name in ("normal", "many", "psi"):
            for results in self.samples.json(name)["results"]:
                for row in (row for way in results["tables"] for row in way["rows"]):
                    for key in ("reference", "indication", "deviation"):
                        text, value = row[key]["text"], decimal.Decimal(repr(row[key]["value"]))
                        rounded = value.quantize(decimal.Decimal(text), rounding=decimal.ROUND_HALF_EVEN)
                        self.assertEqual(rounded, decimal.Decimal(text))
                        looked_at += 1
        self.assertGreater(looked_at, 600)

    def test_pascals_are_the_rounded_figures_times_the_unit_exactly(self):
        for name, factor in (("normal", "100000"), ("psi", "6894.757"), ("water", "249.089")):
            xml, compared = self.samples.xml(name), 0
            for hybrid in xml.findall(".//si:hybrid", SPACES):
                own, si = list(hybrid)
                units = [words(one, "si:unitXMLList") or words(one, "si:unit") for one in (own, si)]
                self.assertEqual(units[1], ["\\pascal"])
                self.assertNotEqual(units[0], ["\\pascal"])
                pairs = [(a, b) for a, b in zip(own.iter(), si.iter())
                         if a.tag.endswith(("valueXMLList", "valueExpandedMUXMLList", "}value", "valueExpandedMU"))]
                for a, b in pairs:
                    for x, y in zip(a.text.split(), b.text.split(), strict=True):
                        if x == "NaN":
                            self.assertEqual(y, "NaN")
                        else:
                            self.assertEqual(decimal.Decimal(x) * decimal.Decimal(factor), decimal.Decimal(y))
                        compared += 1
            self.assertGreater(compared, 60, name)
            (definition,) = xml.findall(".//dcc:nonSIDefinition", SPACES)
            self.assertTrue(definition.text.endswith(f"= {factor} Pa"))
        self.assertEqual(self.samples.xml("kilopascal").findall(".//si:hybrid", SPACES), [])

    def test_the_published_gauge_stands_as_it_is_printed(self):
        (readings,) = lists_of(self.samples.xml("published"), "stillmark_readings")
        (one,) = lists_of(self.samples.xml("published"), "stillmark_pointsRising")
        values, expanded, _ = column(one, "basic_measurementError")
        self.assertEqual(column(readings, "basic_measurementError")[0], values)
        self.assertEqual(column(one, "basic_referenceValue")[0][:4], ["26.650", "132.616", "269.923", "1333.35"])
        self.assertEqual(column(readings, "basic_measuredValue")[0][-1], "26770.1")
        self.assertEqual(expanded, "0.040 0.20 0.20 1.4 1.3 1.6 2.1 2.4 3.1 11 11 11 11 11".split())
        self.assertEqual(values[0], "0.250")
        self.assertEqual(values[-1], "64")

    def test_languages(self):
        for name, languages in (("normal", ["en"]), ("german", ["de", "en"])):
            xml = self.samples.xml(name)
            self.assertEqual([one.text for one in xml.findall(".//dcc:usedLangCodeISO639_1", SPACES)], languages)
            self.assertEqual([one.text for one in xml.findall(".//dcc:mandatoryLangCodeISO639_1", SPACES)], languages[:1])
            self.assertEqual({one.get("lang") for one in xml.iter(f"{{{SPACES['dcc']}}}content")} - {None}, set(languages))
        for parent in self.samples.xml("german").iter():
            found = [child.get("lang") for child in parent if child.tag.endswith("}content")]
            self.assertIn(found, ([], ["de", "en"], ["en"], [None] * len(found)))
        with open(ROOT / "daemon/records/words/de.json", encoding="utf-8") as file:
            rule = json.load(file)["rule simple acceptance"]
        (words,) = self.samples.xml("german").findall(
            ".//dcc:metaData[@refType='stillmark_conformity']/dcc:declaration/dcc:content[@lang='de']", SPACES)
        self.assertEqual(words.text, "zulässige Abweichung: 0.1 % of span; Entscheidungsregel: " + rule +
                         "; die Aussage umfasst: all points, rising and falling")

    def test_verdicts_are_those_of_the_json(self):
        for name in ("normal", "eventful"):
            xml, data = self.samples.xml(name), self.samples.json(name)
            found = [one.text for one in xml.findall(".//dcc:measurementResult/dcc:measurementMetaData/dcc:metaData/dcc:conformity",
                                                     SPACES)]
            self.assertEqual(found, [VERDICTS[results["verdict"]] for results in data["results"]])
        of_directions = self.samples.xml("normal").findall(".//dcc:conformityXMLList", SPACES)
        self.assertEqual([one.text.split() for one in of_directions], [["pass"] * 11] * 2)
        # One point of it has no verdict, which the schema's list cannot say.
        lists = lists_of(self.samples.xml("eventful"), "stillmark_pointsRising")
        self.assertEqual(texts(lists[0], "stillmark_conformity"), ["pass", "pass", "none"] + ["pass"] * 6)


def readable(data):
    """As Python reads bytes with an error at a time, and without what XML 1.0 forbids."""
    text, rest = "", data
    while rest:
        for length in range(1, 5):
            try:
                one = rest[:length].decode("utf-8")
                break
            except UnicodeDecodeError:
                one = None
        if one is None:
            text, rest = text + "\N{REPLACEMENT CHARACTER}", rest[1:]
        else:
            text, rest = text + one, rest[len(one.encode("utf-8")):]
    return re.sub("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", "\N{REPLACEMENT CHARACTER}", text)


class HostileTexts(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.samples = cls.enterClassContext(Samples())
        given = json.loads(cls.samples.path("hostile-texts", "json").read_text(encoding="utf-8"))
        cls.texts = [readable(bytes(one)) for one in given]

    def test_they_come_back_as_they_were(self):
        self.assertGreater(max(map(len, self.texts)), 499)
        data = self.samples.json("hostile")
        self.assertEqual(data["results"][0]["unsaid"], self.texts)
        self.assertEqual([data["number"], data["replaces"], data["amended_because"]], self.texts[:3])
        for name in ("hostile", "hostile-german"):
            xml = self.samples.xml(name)
            unsaid = xml.findall(".//dcc:metaData[@refType='stillmark_unsaid']/dcc:declaration/dcc:content[@lang='en']", SPACES)
            self.assertEqual([one.text for one in unsaid], self.texts)
            self.assertEqual(xml.find(".//dcc:item/dcc:name/dcc:content", SPACES).text, data["item"]["name"])
            targets = [one for way in lists_of(xml, "stillmark_readings") for one in texts(way, "stillmark_target")]
            self.assertEqual(targets, [row["target"] for way in data["results"][0]["tables"] for row in way["rows"]])

    def test_no_field_of_a_table_is_a_formula(self):
        seen = 0
        for ending in ("csv", "points.csv"):
            header, rows = self.samples.table("hostile", ending)
            for row in rows:
                for name in header:
                    value = row[name]
                    if name == "degrees of freedom":
                        self.assertRegex(value, r"^(\d+(\.\d+)?|infinite)?$")
                    elif " / " in name or name in ("k", "series", "mark"):
                        self.assertRegex(value, r"^(-?\d+(\.\d+)?)?$")
                    else:
                        self.assertNotRegex(value, r"^[=+\-@\t\r\n]", name)
                        seen += value.startswith("'")
        self.assertGreater(seen, 10)

    def test_tables_are_rfc_4180(self):
        for name in NAMES:
            for ending in ("csv", "points.csv"):
                data = self.samples.path(name, ending).read_bytes()
                self.assertTrue(data.endswith(b"\r\n"))
                rows = list(csv.reader(io.StringIO(data.decode("utf-8"), newline=""), strict=True))
                # Written again by Python's own writer, field for field: the same bytes.
                again = io.StringIO(newline="")
                csv.writer(again, lineterminator="\r\n").writerows(rows)
                self.assertEqual(again.getvalue().encode("utf-8"), data, name)


if __name__ == "__main__":
    unittest.main()
