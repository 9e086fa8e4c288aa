"""Every printed verdict follows from the figures that are printed beside it: of 200 invented instruments under each
decision rule, recomputed with SciPy from the table, from the digital certificate, and from the pages of some of them."""
import csv
import functools
import io
import json
import math
import os
import re
import subprocess
import tempfile
import unittest
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import numpy
from scipy import optimize, special

BUILD = Path(os.environ["STILLMARK_BUILD"])
SPACES = {"dcc": "https://ptb.de/dcc", "si": "https://ptb.de/si"}
FACTORS = {  # of the test uncertainty ratio: tests/checks/evaluation.md, RISK-5
    "RSS": lambda t: math.sqrt(1 - 1 / t ** 2) if t > 1 else 0,
    "1 - 1/TUR": lambda t: 1 - 1 / t,
    "1.25 - 1/TUR": lambda t: 1.25 - 1 / t,
    "managed risk": lambda t: 1 - (1.04 - math.exp(0.38 * math.log(t) - 0.54)) / t,
}
DIGITAL = {"pass": "pass", "conditionalPass": "conditional pass", "conditionalFail": "conditional fail", "fail": "fail", "none": ""}


def below(z, dof=math.inf):
    """Student's t, or the normal distribution."""
    return special.ndtr(z) if math.isinf(dof) else special.stdtr(dof, z)


def quantile(p, dof):
    return special.ndtri(p) if math.isinf(dof) else special.stdtrit(dof, p)


def outside(size, u, limit, dof):
    return below((size - limit) / u, dof) + below((-limit - size) / u, dof)


NODES, WEIGHTS = numpy.polynomial.legendre.leggauss(200)


def false_accept(mean, sd, u, limit, accepted):
    """JCGM 106:2012, 9.4: a truth beyond the limits and a measured value within the acceptance limits, both normal."""
    if not accepted > 0:
        return 0.0
    total = 0.0
    for side in (1, -1):
        begin = side * limit
        reach = max(12 * sd, 12 * u)
        truth = begin + side * reach * (NODES + 1) / 2
        accepts = below((accepted - truth) / u) - below((-accepted - truth) / u)
        density = numpy.exp(-((truth - mean) / sd) ** 2 / 2) / (sd * math.sqrt(2 * math.pi))
        total += reach / 2 * float(numpy.sum(WEIGHTS * density * accepts))
    return total


def acceptance(rule, printed):
    """The largest deviation that the rule accepts, from the printed figures of one row; None where it cannot say."""
    return accepted_by(tuple(sorted(rule.items())), *(printed[key] for key in ("U", "k", "dof", "permissible")))


@functools.cache
def accepted_by(parts, expanded, k, dof, limit):
    rule, u = dict(parts), expanded / k
    if rule["name"] == "simple acceptance":
        return limit
    if rule["name"] == "guard band":
        if "by ratio" in rule:
            return limit * min(max(FACTORS[rule["by ratio"]](limit / expanded), 0), 1)
        return limit - rule["guard factor"] * expanded
    if rule["name"] == "test uncertainty ratio":
        return limit if rule["least ratio"] * expanded <= limit * (1 + 1e-9) else None
    if rule["name"] == "specific risk":
        if outside(0, u, limit, dof) > rule["risk"]:
            return 0.0
        return optimize.brentq(lambda size: outside(size, u, limit, dof) - rule["risk"], 0, limit, xtol=1e-15 * limit)
    mean, sd = rule["process mean"], rule["process sd"]
    risk = lambda accepted: false_accept(mean, sd, u, limit, accepted) - rule["risk"]
    if risk(limit) <= 0:
        return limit
    return optimize.brentq(risk, 0, limit, xtol=1e-9 * limit)


def verdict(rule, printed, accepted):
    size, limit = abs(printed["deviation"]), printed["permissible"]
    if accepted is None:
        return ""
    band = limit - accepted
    if not accepted > 0 and band > 0:
        plain = rule["name"] == "guard band" and "by ratio" not in rule
        return "fail" if size > limit + (band if plain else max(band, printed["U"])) else ""
    if not rule.get("non-binary"):
        return "pass" if size <= accepted * (1 + 1e-9) else "fail"
    for name, most in (("pass", accepted), ("conditional pass", limit), ("conditional fail", limit + band)):
        if size <= most * (1 + 1e-9):
            return name
    return "fail"


def number(text):
    return math.inf if text == "infinite" else float(text) if text not in ("", "NaN") else math.nan


def of_table(path):
    """(rule, rows) of a table of points."""
    rows, rule = [], None
    for row in csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"), newline="")):
        rule = {"name": row["decision rule"]}
        for part in filter(None, row["rule parameters"].split("; ")):
            name, _, value = part.partition(" = ")
            rule[name] = value if name == "by ratio" else float(value) if value else True
        if row["direction"] == "mean":
            assert row["verdict"] == row["acceptance limit / u"] == ""
            continue
        rows.append({"where": (row["target"], row["direction"]), "verdict": row["verdict"], "texts": row,
                     "deviation": number(row["deviation / u"]), "U": number(row["U / u"]), "k": number(row["k"]),
                     "dof": number(row["degrees of freedom"]), "permissible": number(row["permissible / u"]),
                     "acceptance": number(row["acceptance limit / u"]), "outside": number(row["probability outside / %"])})
    return rule, rows


def of_digital(path):
    """The same of a digital certificate."""
    root = ElementTree.parse(path).getroot()
    find = lambda node, kind: node.find(f".//dcc:quantity[@refType='{kind}']", SPACES)

    def values(node, kind, count):
        quantity = find(node, kind)
        found = None if quantity is None else quantity.find(".//si:realListXMLList", SPACES)
        return [math.nan] * count if found is None else [number(one) for one in found.find("si:valueXMLList", SPACES).text.split()]

    contents = lambda quantity: [one.text for one in quantity.findall("dcc:noQuantity/dcc:content", SPACES)]
    stated = root.find(".//dcc:result[@refType='stillmark_decisionRule']", SPACES)
    text = lambda kind: None if find(stated, kind) is None else contents(find(stated, kind))[0]
    rule = {"name": text("stillmark_rule")}
    if text("stillmark_statements") == "non-binary":
        rule["non-binary"] = True
    if text("stillmark_byRatio"):
        rule["by ratio"] = text("stillmark_byRatio")
    for name, kind in (("guard factor", "guardFactor"), ("risk", "risk"), ("least ratio", "leastRatio"),
                       ("process mean", "processMean"), ("process sd", "processStandardDeviation")):
        quantity = find(stated, f"stillmark_{kind}")
        if quantity is not None:
            rule[name] = float(quantity.find(".//si:value", SPACES).text)
    rows = []
    for way in ("rising", "falling"):
        one = root.find(f".//dcc:result[@refType='stillmark_points{way.capitalize()}']", SPACES)
        error = find(one, "basic_measurementError").find(".//si:realListXMLList", SPACES)
        expanded = error.find(".//si:valueExpandedMUXMLList", SPACES).text.split()
        factors = error.find(".//si:coverageFactorXMLList", SPACES).text.split()
        targets = contents(find(one, "stillmark_target"))
        listed = one.find(".//dcc:conformityXMLList", SPACES)
        missing = find(one, "stillmark_conformity")
        verdicts = listed.text.split() if listed is not None else contents(missing) if missing is not None else ["none"] * len(targets)
        for i, target in enumerate(targets):
            rows.append({"where": (target, way), "verdict": DIGITAL[verdicts[i]],
                         "deviation": values(one, "basic_measurementError", 5)[i], "U": number(expanded[i]),
                         "k": number(factors[i]), "dof": number(contents(find(one, "stillmark_degreesOfFreedom"))[i]),
                         "permissible": values(one, "stillmark_permissibleError", 5)[i],
                         "acceptance": values(one, "stillmark_acceptanceLimit", 5)[i],
                         "outside": values(one, "stillmark_probabilityOutside", 5)[i]})
    return rule, rows


def last_digit(text):
    """One unit of the last digit that counts: of a whole number the second, for what follows may only fill up."""
    if "." in text:
        return 10.0 ** -len(text.partition(".")[2])
    return 10.0 ** max(len(text.lstrip("-")) - 2, 0)


class RecomputedVerdicts(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = Path(cls.enterClassContext(tempfile.TemporaryDirectory(prefix="stillmark-judged-")))
        subprocess.run([BUILD / "tests" / "test_records", "--gtest_filter=JudgedSamples.*"], check=True, timeout=300,
                       stdout=subprocess.DEVNULL, env={**os.environ, "STILLMARK_SAMPLES": str(cls.folder)})
        cls.tables = {path.stem: of_table(path) for path in sorted(cls.folder.glob("*.csv"))}

    def test_every_verdict_of_a_table_follows_from_its_row(self):
        seen = {}
        for name, (rule, rows) in self.tables.items():
            self.assertEqual(len(rows), 10)
            for row in rows:
                accepted = acceptance(rule, row)
                self.assertEqual(verdict(rule, row, accepted), row["verdict"], f"{name} {rule} {row}")
                # The printed limit divides as the verdict does, without any knowledge of the rule.
                if row["acceptance"] > 0 and row["verdict"]:
                    self.assertEqual(abs(row["deviation"]) <= row["acceptance"] * (1 + 1e-9), row["verdict"] == "pass",
                                     f"{name} {rule} {row}")
                seen.setdefault((rule["name"], rule.get("by ratio"), rule.get("non-binary")), set()).add(row["verdict"])
        self.assertEqual(len(self.tables), 2000)
        self.assertEqual(len(seen), 10)
        for kind, verdicts in seen.items():
            self.assertLessEqual({"pass", "fail"}, verdicts, kind)
        self.assertLessEqual({"conditional pass", "conditional fail"}, seen["guard band", None, True])

    def test_the_acceptance_limit_and_the_probability_follow_within_the_rounding(self):
        for name, (rule, rows) in self.tables.items():
            for row in rows:
                texts, accepted = row["texts"], acceptance(rule, row)
                width = {"U": last_digit(texts["U / u"]), "k": last_digit(texts["k"])}
                width["deviation"] = width["acceptance"] = width["U"]
                if accepted is None:
                    self.assertEqual(texts["acceptance limit / u"], "")
                    continue
                if accepted > 0 and rule["name"] != "global risk":
                    # What the rounding of U and k can move it by: at most some times U's own.
                    slack = 6 * (width["U"] + row["U"] * width["k"] / row["k"]) + width["acceptance"]
                    self.assertLess(abs(accepted - row["acceptance"]), slack, f"{name} {rule} {row}")
                u = row["U"] / row["k"]
                moves = [outside(abs(row["deviation"]) + s * width["deviation"] / 2, u * (1 + t * (width["U"] / row["U"] + width["k"])),
                                 row["permissible"], row["dof"]) for s in (-1, 1) for t in (-1, 1)]
                step = last_digit(texts["probability outside / %"]) / 100
                self.assertTrue(min(moves) - step <= row["outside"] / 100 <= max(moves) + step, f"{name} {rule} {row} {moves}")

    def test_the_coverage_factor_is_students_for_95_45_per_cent(self):
        for rule, rows in self.tables.values():
            for row in rows:
                if row["texts"]["U is the capability"] == "yes":
                    self.assertEqual((row["k"], row["dof"]), (2, math.inf))
                wanted = [quantile((1 + 0.954499736103641585599) / 2, row["dof"] * factor) for factor in (1, 1.005)]
                self.assertLess(abs(wanted[0] - row["k"]), 0.006 + abs(wanted[1] - wanted[0]))

    def test_the_digital_certificate_gives_the_same(self):
        for name, (rule, rows) in self.tables.items():
            in_xml, of_xml = of_digital(self.folder / f"{name}.xml")
            self.assertEqual(in_xml, rule, name)
            by_where = {row["where"]: row for row in of_xml}
            self.assertEqual(len(by_where), len(rows))
            for row in rows:
                other = by_where[row["where"]]
                for key in ("verdict", "deviation", "U", "k", "dof", "permissible", "acceptance", "outside"):
                    self.assertTrue(other[key] == row[key] or (other[key] != other[key] and row[key] != row[key]),
                                    f"{name} {key}: {other} {row}")
                self.assertEqual(verdict(in_xml, other, acceptance(in_xml, other)), other["verdict"])

    def test_the_json_gives_the_same(self):
        for name, (_, rows) in self.tables.items():
            (results,) = json.loads((self.folder / f"{name}.json").read_text(encoding="utf-8"))["results"]
            for row in rows:
                target, way = row["where"]
                (at,) = [one[way] for one in results["points"] if one["target"] == target]
                shown = [at["deviation"]["text"], at["expanded"]["text"], at["k"]["text"], at["permissible"]["text"],
                         (at["acceptance"] or {"text": ""})["text"], at["verdict"] or ""]
                texts = row["texts"]
                self.assertEqual(shown, [texts["deviation / u"], texts["U / u"], texts["k"], texts["permissible / u"],
                                         texts["acceptance limit / u"], row["verdict"]])

    def test_the_pages_give_the_same(self):
        pages = sorted(self.folder.glob("*.pdf"))
        self.assertEqual(len(pages), 30)
        for path in pages:
            said = subprocess.run(["pdftotext", "-layout", path, "-"], check=True, capture_output=True, text=True, timeout=60).stdout
            lines = [" ".join(line.replace("\u2212", "-").split()) for line in said.splitlines()]
            for row in self.tables[path.stem][1]:
                texts = row["texts"]
                dof = "\u221e" if texts["degrees of freedom"] == "infinite" else texts["degrees of freedom"]
                wanted = " ".join(filter(None, [
                    row["where"][0], texts["reference / u"], texts["deviation / u"], texts["U / u"], texts["k"], dof,
                    texts["permissible / u"], texts["acceptance limit / u"], texts["probability outside / %"], row["verdict"]]))
                self.assertTrue(any(re.fullmatch(re.escape(wanted) + r"( [\d ]*\d)?", line) for line in lines), f"{path.stem}: {wanted}")


if __name__ == "__main__":
    unittest.main()
