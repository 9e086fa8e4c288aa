"""What `stillmark evaluate` says where it is asked: degrees of freedom of the table, references of readings, risks of an
acceptance limit; and the lack-of-fit test and covariance of its fits."""
import json
import pathlib
import tempfile
import unittest

from evaluation.command import DATA, DONE, WRONG_USE, Evaluated, call, rows, run, table_of

BASE = {"unit": "bar", "span": ["0 bar", "10 bar"]}
LINE = table_of(rows(1, "up", [1, 2, 3, 4, 5, 6], [3.3, 5.6, 7.1, 9.3, 10.7, 12.1]))


def asked(table, *options, settings=None):
    """(exit code, JSON or None, what was said) of the command with options."""
    with tempfile.TemporaryDirectory(prefix="stillmark-asked-") as folder:
        folder = pathlib.Path(folder)
        (folder / "table.csv").write_text(table, encoding="utf-8")
        if settings is not None:
            (folder / "settings.json").write_text(json.dumps(settings), encoding="utf-8")
            options = (*options, "--settings", folder / "settings.json")
        done = call(folder / "table.csv", *options)
    out = done.stdout.decode()
    return done.returncode, json.loads(out) if "--json" in options and out else out, done.stderr.decode()


class DegreesOfFreedom(unittest.TestCase):
    def found(self, reference_dof, reading_dof):
        table = table_of([f"1,up,{p},{p},0.25,0.57,{reference_dof},{reading_dof}" for p in (0, 5, 10)],
                         heading="series,direction,reference,reading,u_reference,u_reading,dof_reference,dof_reading")
        found = Evaluated(table)
        self.assertEqual((found.code, found.said), (DONE, ""))
        return [point["mean"]["coverage_factor"] for point in found.json["points"]]

    def test_of_both_uncertainties_by_welch_and_satterthwaite(self):
        """0.57 with 9 degrees of freedom and 0.25 with infinitely many are 0.6224 with 12.8 (published in the tests of an
        open national laboratory's uncertainty calculator); t at 95.45 % for 12.795649 is 2.21552 by SciPy."""
        for reference in ("", "infinite"):
            for k in self.found(reference, "9"):
                self.assertAlmostEqual(k, 2.2155200, places=6)
        # The smaller part alone: (0.57^2 + 0.25^2)^2 / (0.25^4 / 3) = 115.26.
        for k in self.found("3", ""):
            self.assertAlmostEqual(k, 2.0219224, places=6)

    def test_without_them_there_are_infinitely_many(self):
        self.assertEqual(self.found("", ""), [2, 2, 2])

    def test_what_are_none_is_said_with_its_line(self):
        heading = "series,direction,reference,reading,u_reading,dof_reading"
        for cell, words in (("0", "dof_reading: \"0\" are no degrees of freedom; give a number over 0, or infinite"),
                            ("-3", "dof_reading: \"-3\""), ("many", "dof_reading): \"many\" is no number")):
            found = Evaluated(table_of(["1,up,0,0,0.1,5", f"1,up,5,5,0.1,{cell}", "1,up,10,10,0.1,5"], heading=heading))
            self.assertIn("line 3: column", found.said)
            self.assertIn(words, found.said)
            self.assertEqual(len(found.json["points"]), 2)
        found = Evaluated(table_of(["1,up,0,0,0.1,5", "1,up,5,5,,5", "1,up,10,10,0.1,5"], heading=heading))
        self.assertIn("line 3: column dof_reading: there is no u_reading that has them; give both", found.said)


class LoadCell(unittest.TestCase):
    """Pontius, NIST StRD, which the e-Handbook's case study 4.6.1 evaluates."""

    def setUp(self):
        self.json = json.loads(call(DATA / "load_cell.csv", "--inverse", "1.239722", "--json").stdout)

    def test_lack_of_fit_of_the_line_and_the_parabola(self):
        """4.6.1.5: F = 214.7464 with 18 and 20 degrees of freedom (214.7469 in more digits); of the parabola 0.8107
        with 17 and 20 (4.6.1.9, from memory)."""
        line, parabola = self.json["line"]["lack_of_fit"], self.json["polynomials"][0]["lack_of_fit"]
        self.assertAlmostEqual(line["f"], 214.7464, delta=214.7464 * 3e-6)
        self.assertEqual((line["lack_of_fit_degrees_of_freedom"], line["pure_error_degrees_of_freedom"]), (18, 20))
        self.assertLess(line["p"], 1e-15)
        self.assertAlmostEqual(parabola["f"], 0.8107, places=4)
        self.assertEqual((parabola["lack_of_fit_degrees_of_freedom"], parabola["pure_error_degrees_of_freedom"]),
                         (17, 20))
        self.assertAlmostEqual(parabola["p"], 0.666173, places=6)
        self.assertAlmostEqual(parabola["pure_error"], 9.2215e-7, places=15)

    def test_certified_coefficients_and_their_deviations(self):
        parabola = self.json["polynomials"][0]
        for found, certified in zip(parabola["coefficients"],
                                    [0.673565789473684E-03, 0.732059160401003E-06, -0.316081871345029E-14], strict=True):
            self.assertAlmostEqual(found / certified, 1, places=9)
        for i, certified in enumerate([0.107938612033077E-03, 0.157817399981659E-09, 0.486652849992036E-16]):
            self.assertAlmostEqual(parabola["covariance"][i][i] ** 0.5 / certified, 1, places=8)

    def test_the_load_of_a_deflection(self):
        """4.6.1.10: 1.239722 is a load of 1705106."""
        one = self.json["inverse"][0]
        by = {curve["degree"]: curve for curve in one["by"]}
        self.assertAlmostEqual(by[2]["reference"], 1705106, delta=0.5)
        self.assertAlmostEqual(by[2]["reading_u"], self.json["polynomials"][0]["residual_sd"], places=15)
        self.assertEqual(sorted(by), [1, 2, 3])

    def test_the_report_shows_the_test_and_the_matrix(self):
        text = call(DATA / "load_cell.csv", "--inverse", "1.239722,9").stdout.decode()
        lines = " ".join(text.split())
        self.assertIn("degree 2, residual s 0.000205, lack of fit F 0.8107 (17 and 20 degrees of freedom), p 0.666", lines)
        self.assertIn("- coefficients (u) 0.000673565789 (0.00011)", lines)
        self.assertIn("- covariance, by rows [1.16507e-08, ", lines)
        self.assertIn("- 1.239722 (u 0.000205), degree 2: 1705105.57 (292)", lines)
        self.assertIn("- 9 (u 0.000205), degree 2: no reference: the curve has this reading nowhere", lines)
        self.assertLessEqual(max(map(len, text.splitlines())), 100)

    def test_without_repeated_points_there_is_no_test(self):
        self.assertIsNone(Evaluated(LINE).json["line"]["lack_of_fit"])

    def test_readings_that_repeat_exactly_measure_no_lack_of_fit(self):
        table = table_of(rows(1, "up", [0, 5, 10], [0, 5.1, 10]), rows(2, "up", [0, 5, 10], [0, 5.1, 10]))
        test = Evaluated(table).json["line"]["lack_of_fit"]
        self.assertEqual((test["pure_error"], test["f"], test["p"]), (0, None, None))
        self.assertIn("lack of fit not tested: repeated readings agree exactly", " ".join(asked(table)[1].split()))


class Inverse(unittest.TestCase):
    def test_the_line_of_iso_ts_28037(self):
        """Clause 6.3 example, u 0.5 of each y: y = 10.5 with u 0.5 is x = 4.913 with u 0.322."""
        table = "\n".join(line + (",u_reading" if i == 0 else ",0.5") for i, line in enumerate(LINE.splitlines())) + "\n"
        for code, found, said in (asked(table, "--json", "--inverse", "10.5:0.5"),
                                  asked(table, "--json", settings={**BASE, "inverse": [{"reading": "10.5 bar",
                                                                                        "u": "0.5 bar"}]})):
            self.assertEqual((code, said), (DONE, ""))
            line = found["inverse"][0]["by"][0]
            self.assertEqual(line["degree"], 1)
            self.assertAlmostEqual(line["reference"], 4.913279133, places=8)
            self.assertAlmostEqual(line["standard_uncertainty"], 0.3220355601, places=9)
            self.assertIsNone(line["why"])

    def test_several_readings_and_both_ways_to_ask(self):
        _, found, _ = asked(LINE, "--json", "--inverse", "5,7.5:0", settings={**BASE, "inverse": ["6 bar", "700 kPa"]})
        self.assertEqual([round(one["reading"], 9) for one in found["inverse"]], [6, 7, 5, 7.5])
        self.assertEqual(found["inverse"][3]["by"][0]["reading_u"], 0)
        self.assertEqual(asked(LINE, "--json")[1]["inverse"], [])

    def test_no_reference_outside_the_range_or_where_a_curve_turns(self):
        _, found, _ = asked(LINE, "--json", "--inverse", "12.5,2.9")
        for one in found["inverse"]:
            line = one["by"][0]
            self.assertEqual((line["reference"], line["standard_uncertainty"], line["why"]),
                             (None, None, "outside the range"))
        bent = table_of(rows(1, "up", [0, 1, 2, 3, 4], [0, 3, 4, 3.1, 0]))
        found = {curve["degree"]: curve for curve in asked(bent, "--json", "--inverse", "2")[1]["inverse"][0]["by"]}
        self.assertEqual((found[2]["reference"], found[2]["why"]), (None, "not monotone"))
        level = table_of(rows(1, "up", [0, 1, 2], [4, 4, 4]))
        self.assertEqual(asked(level, "--json", "--inverse", "4")[1]["inverse"][0]["by"][0]["why"], "no slope")
        self.assertIn("the curve has no slope", " ".join(asked(level, "--inverse", "4")[1].split()))
        self.assertIn("may have several", " ".join(asked(bent, "--inverse", "2")[1].split()))

    def test_without_a_curve_there_is_nothing_to_go_by(self):
        one_point = table_of(rows(1, "up", [5], [5.1]))
        self.assertEqual(asked(one_point, "--json", "--inverse", "5")[1]["inverse"], [{"reading": 5, "by": []}])
        self.assertIn("- 5: there is no curve", asked(one_point, "--inverse", "5")[1])

    def test_a_reading_of_an_electrical_output(self):
        """12.016 mA of 4 to 20 mA over 10 bar shows 5.01 bar; 0.016 mA are 0.01 bar."""
        table = table_of(*[[f"1,up,{p},{4 + 1.6 * p!r}" for p in (0, 5, 10)]],
                         heading="series,direction,reference [bar],reading [mA]")
        settings = {"span": ["0 bar", "10 bar"], "output": ["4 mA", "20 mA"]}
        for found in (asked(table, "--json", "--inverse", "12.016:0.016", settings=settings)[1],
                      asked(table, "--json", settings={**settings, "inverse": [{"reading": "12.016 mA",
                                                                                "u": "0.016 mA"}]})[1]):
            line = found["inverse"][0]["by"][0]
            self.assertAlmostEqual(line["reference"], 5.01, places=9)
            self.assertAlmostEqual(line["standard_uncertainty"], 0.01, places=9)

    def test_what_is_no_reading_is_refused(self):
        for option, words in (("12,3;4", "--inverse: \"3;4\": \"3;4\" is no number"),
                              ("1:", "--inverse: \"1:\""), ("1:-2", "a standard uncertainty is not below zero"),
                              ("1,", "--inverse: \"\"")):
            code, _, said = asked(LINE, "--inverse", option)
            self.assertEqual(code, WRONG_USE)
            self.assertIn(words, said)
        for inverse, words in ((["6"], "inverse[0]: \"6\""), ([{"reading": "6 bar", "U": "1 bar"}], "inverse[0].U"),
                               ([], "inverse")):
            code, _, said = asked(LINE, settings={**BASE, "inverse": inverse})
            self.assertEqual(code, WRONG_USE)
            self.assertIn(words, said)


class Risks(unittest.TestCase):
    TABLE = table_of(rows(1, "up", [0, 5, 10], [0, 5, 10]))

    def risks(self, u, permissible, process, limit=None):
        risk = {"process": process}
        if limit is not None:
            risk["acceptance_limit"] = limit
        code, found, said = asked(self.TABLE, "--json", settings={
            **BASE, "permissible_error": permissible, "reference_uncertainty": {"u": u}, "risk": risk})
        self.assertEqual((code, said), (DONE, ""))
        return found["risks"]

    def test_published_false_accepts_and_rejects(self):
        """Deaver (NCSL): two standard deviations and a ratio of 4, 0.8 % and 1.5 %; two and a half, ratios of 4 and 1,
        0.25 % and 0.5 % (recomputed to ten digits)."""
        for u, permissible, consumers, producers in (("0.25 bar", "2 bar", 0.0080060848, 0.014850884),
                                                     ("0.25 bar", "2.5 bar", 0.0024453487, None),
                                                     ("1 bar", "2.5 bar", 0.0047235665, None)):
            found = self.risks(u, permissible, {"sd": "1 bar"})
            self.assertEqual(len(found), 3)
            for one in found:
                self.assertAlmostEqual(one["consumers_risk"], consumers, places=10)
                if producers is not None:
                    self.assertAlmostEqual(one["producers_risk"], producers, places=9)
                self.assertAlmostEqual(one["consumers_risk_of_accepted"], consumers / one["accepted"], places=10)
                self.assertAlmostEqual(one["specific_risk_at_limit"], 0.5, places=3)

    def test_a_limit_inside_the_permissible_error(self):
        """ILAC-G8: a guard band of U = 2 u leaves 2.28 % at the limit."""
        for one in self.risks("0.05 bar", "1 bar", {"mean": "0.1 bar", "sd": "0.5 bar"}, "0.9 bar"):
            self.assertEqual((one["acceptance_limit"], one["permissible_error"]), (0.9, 1))
            self.assertAlmostEqual(one["specific_risk_at_limit"], 0.0227501, places=7)

    def test_the_limit_in_the_words_of_a_permissible_error(self):
        found = self.risks("0.05 bar", "1 bar", {"sd": "0.5 bar"}, {"sum_of": ["1 % of reading", "0.5 bar"]})
        for one, limit in zip(found, [0.5, 0.55, 0.6], strict=True):
            self.assertAlmostEqual(one["acceptance_limit"], limit, places=12)

    def test_of_each_direction_with_its_own_uncertainty(self):
        _, found, _ = asked(table_of(rows(1, "up", [0, 10], [0, 10]), rows(2, "down", [10, 0], [10.2, 0])), "--json",
                            settings={**BASE, "permissible_error": "1 bar", "reference_uncertainty": {"u": "0.1 bar"},
                                      "risk": {"process": {"sd": "0.5 bar"}}})
        self.assertEqual([(one["reference"], one["direction"]) for one in found["risks"]],
                         [(0, "up"), (0, "down"), (10, "up"), (10, "down")])

    def test_the_report_shows_them(self):
        _, text, _ = asked(self.TABLE, settings={**BASE, "permissible_error": "2 bar",
                                                 "reference_uncertainty": {"u": "0.25 bar"},
                                                 "risk": {"process": {"sd": "1 bar"}}})
        self.assertIn("Risks of the acceptance limit (JCGM 106:2012, 8 and 9):", text)
        self.assertIn("0.801 %", text)
        self.assertIn("1.49 %", text)
        self.assertLessEqual(max(map(len, text.splitlines())), 100)

    def test_without_an_uncertainty_there_are_none(self):
        settings = {**BASE, "permissible_error": "2 bar", "risk": {"process": {"sd": "1 bar"}}}
        self.assertEqual(asked(self.TABLE, "--json", settings=settings)[1]["risks"], [])
        self.assertIn("none: no point has an uncertainty", asked(self.TABLE, settings=settings)[1])
        self.assertIsNone(asked(self.TABLE, "--json", settings=BASE)[1]["risks"])

    def test_what_is_missing_is_named(self):
        for settings, words in (({"risk": {"process": {"sd": "1 bar"}}}, "risk: there is no permissible error"),
                                ({"permissible_error": "1 bar", "risk": {}}, "risk.process"),
                                ({"permissible_error": "1 bar", "risk": {"process": {"mean": "1 bar"}}}, "risk.process.sd"),
                                ({"permissible_error": "1 bar", "risk": {"process": {"sd": "-1 bar"}}}, "risk.process.sd"),
                                ({"permissible_error": "1 bar", "risk": {"process": {"sd": "1 bar"}, "limit": "1 bar"}},
                                 "risk.limit"),
                                ({"permissible_error": "1 bar", "risk": {"process": {"sd": "1 bar"},
                                                                         "acceptance_limit": "-1 bar"}},
                                 "risk.acceptance_limit")):
            code, _, said = asked(self.TABLE, settings={**BASE, **settings})
            self.assertEqual(code, WRONG_USE, settings)
            self.assertIn(words, said)
        code, _, said = asked(self.TABLE, settings={"unit": "bar", "permissible_error": "1 bar", "risk": {
            "process": {"sd": "1 bar"}, "acceptance_limit": "1 % of span"}})
        self.assertEqual(code, WRONG_USE)
        self.assertIn("risk.acceptance_limit: it is of the span, and no span is given", said)


class RiskCommand(unittest.TestCase):
    def risk(self, *options):
        return run("risk", *options)

    def test_published_false_accepts_and_rejects(self):
        """As above, without a table; the same whatever the unit."""
        for unit, one in (("bar", 1), ("kPa", 100)):
            done = self.risk("--permissible", f"{2 * one} {unit}", "--u", "0.25 bar", "--process-sd", "1 bar", "--json")
            self.assertEqual((done.returncode, done.stderr), (DONE, b""))
            found = json.loads(done.stdout)
            self.assertAlmostEqual(found["consumers_risk"], 0.0080060848, places=10)
            self.assertAlmostEqual(found["producers_risk"], 0.014850884, places=9)

    def test_the_share_of_a_process_that_does_not_conform(self):
        """Normal about 10.5 with 0.4, limits 9 and 11 (about 10: a mean of 0.5 and limits of 1): 0.10574 does not
        conform; about 10, 0.01242 (published in the tests of an open national laboratory's calculator)."""
        for mean, wanted in (("0.5 bar", 0.10574), ("0 bar", 0.01242)):
            found = json.loads(self.risk("--permissible", "1 bar", "--u", "0.001 bar", "--process-sd", "0.4 bar",
                                         "--process-mean", mean, "--json").stdout)
            self.assertAlmostEqual(1 - found["conforming"], wanted, places=5)

    def test_an_acceptance_limit_and_the_report(self):
        text = self.risk("--permissible", "1 bar", "--acceptance", "0.9 bar", "--u", "0.05 bar", "--process-sd",
                         "0.5 bar").stdout.decode()
        lines = [" ".join(line.split()) for line in text.splitlines()]
        self.assertIn("Specific risk of a deviation measured at the acceptance limit 2.275 %", lines)
        self.assertEqual(len(lines), 7)

    def test_all_mistakes_at_once(self):
        done = self.risk("--permissible", "1", "--u", "-1 bar", "--process-sd", "1 mm", "--acceptance", "0 bar")
        self.assertEqual((done.returncode, done.stdout), (WRONG_USE, b""))
        said = done.stderr.decode().splitlines()
        self.assertEqual(len(said), 4)
        for line, option in zip(said, ("--permissible:", "--acceptance:", "--u:", "--process-sd:"), strict=True):
            self.assertIn(option, line)


if __name__ == "__main__":
    unittest.main()
