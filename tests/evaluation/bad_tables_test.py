"""What is wrong with a table or its settings is told with its place, and the rest is evaluated."""
import json
import pathlib
import random
import tempfile
import time
import unittest

from evaluation.command import DONE, HEADING, NO, WRONG_USE, Evaluated, call, rows, table_of

GOOD = table_of(rows(1, "up", [0, 5, 10], [0.0, 5.02, 10.05]), rows(2, "down", [10, 5, 0], [10.05, 5.04, 0.01]))


class BadRows(unittest.TestCase):
    """One bad row: it is said with its line, left out, and the other six are evaluated."""

    def left_out(self, line, *words):
        found = Evaluated(GOOD + line + "\n")
        self.assertEqual(found.code, DONE, found.said)
        self.assertEqual(len(found.json["points"]), 3)
        self.assertEqual(sum((point["up"] or {}).get("readings", 0) for point in found.json["points"]), 3)
        self.assertIn("line 8", found.said)
        self.assertEqual(len(found.json["rows_left_out"]), 1)
        for one in words:
            self.assertIn(one, found.said)

    def test_not_a_number_read(self):
        self.left_out("3,up,5,nan", "reading", "no number that was read")

    def test_infinite(self):
        self.left_out("3,up,inf,5", "reference")

    def test_text_for_a_number(self):
        self.left_out("3,up,5,five", "column 4 (reading)", "\"five\"")

    def test_a_unit_beside_the_number(self):
        self.left_out("3,up,5,5.02 bar", "the unit in the heading")

    def test_a_decimal_comma(self):
        self.left_out("3,up,5,\"5,02\"", "decimal point")

    def test_a_decimal_comma_that_makes_another_cell(self):
        self.left_out("3,up,5,5,02", "5 cells where the heading has 4")

    def test_an_empty_cell(self):
        self.left_out("3,up,5,", "empty")

    def test_a_row_cut_short(self):
        self.left_out("3,up", "empty")

    def test_a_direction_that_is_none(self):
        self.left_out("3,rising,5,5.02", "use up or down")

    def test_a_series_that_is_none(self):
        for series in ("0", "-1", "1.5", "10000", "1e9"):
            self.left_out(f"{series},up,5,5.02", "series")

    def test_a_quotation_mark_left_open(self):
        self.left_out("3,up,5,\"5.02", "not closed")

    def test_zero_bytes_and_broken_text(self):
        found = Evaluated(GOOD.encode() + b"3,up,5,\x00\xff\x1b[2J\n")
        self.assertEqual(found.code, DONE)
        self.assertNotIn("\x1b", found.said)
        self.assertIn("line 8", found.said)

    def test_a_negative_uncertainty(self):
        found = Evaluated(table_of(["1,up,0,0,0.1", "1,up,5,5,-0.1"], heading=HEADING + ",u_reference"))
        self.assertIn("not below zero", found.said)

    def test_vented_that_is_neither(self):
        found = Evaluated(table_of(["1,up,0,0,perhaps", "1,up,5,5,", "1,up,10,10,no"], heading=HEADING + ",vented"))
        self.assertIn("line 2: column vented: \"perhaps\" is neither; use yes or no", found.said)
        self.assertEqual([point["reference"] for point in found.json["points"]], [5, 10])

    def test_void_without_a_reason(self):
        for word in ("no", "0", "false", "-"):
            found = Evaluated(table_of(["1,up,0,0,", f"1,up,5,5,{word}", "1,up,10,10,"], heading=HEADING + ",void"))
            self.assertIn("line 3: column void", found.said)
            self.assertIn("leave the cell empty", found.said)

    def test_all_rows_bad(self):
        found = Evaluated(table_of(["1,up,x,0", "1,up,y,5"]))
        self.assertEqual(found.code, WRONG_USE)
        self.assertEqual(found.json["points"], [])
        self.assertTrue(found.why("anything"))


class BadTables(unittest.TestCase):
    def refused(self, table, *words):
        found = Evaluated(table)
        self.assertEqual(found.code, WRONG_USE)
        self.assertIsNone(found.json)
        self.assertEqual(len(found.said.splitlines()), 1, found.said)
        for one in words:
            self.assertIn(one, found.said)

    def test_empty(self):
        self.refused("", "empty")

    def test_a_column_missing(self):
        self.refused("series,direction,reference\n1,up,0\n", "\"reading\" is missing")

    def test_a_column_unknown(self):
        self.refused("series,direction,reference,reading,weather\n", "line 1, column 5", "\"weather\"")

    def test_a_column_twice(self):
        self.refused("series,direction,reference,reading,reading\n", "twice")

    def test_units_of_the_heading_that_do_not_match(self):
        self.refused("series,direction,reference [bar],reading [psi]\n1,up,0,0\n", "line 1", "psi", "bar")

    def test_a_semicolon_table(self):
        self.refused("series;direction;reference;reading\n1;up;0;0\n", "line 1", "use commas")

    def test_a_folder_and_a_file_that_is_not_there(self):
        with tempfile.TemporaryDirectory() as folder:
            for path in (folder, pathlib.Path(folder) / "none.csv"):
                done = call(path)
                self.assertEqual(done.returncode, WRONG_USE)
                self.assertIn(b"cannot be read", done.stderr)

    def test_what_rfc_4180_allows(self):
        text = ("\ufeff\"note\",reading, Series ,direction,reference\r\n"
                "\"said \"\"5\"\", and\r\nmore\",5.02,1,up,5\r\n\r\n,0,1,up,0\r\n,10.05,1,up,1e1")
        found = Evaluated(text)
        self.assertEqual((found.code, found.said), (DONE, ""))
        self.assertEqual([point["reference"] for point in found.json["points"]], [0, 5, 10])

    def test_the_line_of_a_bad_row_after_a_note_of_two_lines(self):
        found = Evaluated(HEADING + ",note\n1,up,0,0,\"one\ntwo\"\n1,up,5,x,\n1,up,10,10,\n")
        self.assertIn("line 4", found.said)


class UnusualTables(unittest.TestCase):
    def test_one_series_only(self):
        found = Evaluated(table_of(rows(1, "up", [0, 5, 10], [0, 5, 10])))
        self.assertEqual(found.code, DONE)
        self.assertTrue(found.why("hysteresis"))
        self.assertTrue(found.why("repeatability"))
        self.assertIsNone(found.json["zero_deviation"])

    def test_no_zero(self):
        found = Evaluated(table_of(rows(1, "up", [2, 5, 10], [2, 5, 10]), rows(2, "down", [10, 5, 2], [10, 5, 2])))
        self.assertEqual(found.why("the zero deviation"), ["no zero was read"])
        self.assertIsNotNone(found.json["largest"]["hysteresis"])

    def test_unequal_points(self):
        found = Evaluated(table_of(rows(1, "up", [0, 5, 10], [0, 5, 10]), rows(2, "down", [10, 0], [10, 0])))
        self.assertEqual(found.why("series 2, falling"), ["no reading counts at 5"])
        self.assertIsNone(found.json["points"][1]["hysteresis"])
        self.assertEqual(found.json["points"][2]["hysteresis"], 0)

    def test_a_row_twice(self):
        found = Evaluated(GOOD + "1,up,5,5.04\n")
        self.assertIn("2 times", found.why("single readings at 5")[0])
        self.assertAlmostEqual(found.json["points"][1]["up"]["deviation"], 0.03, places=12)

    def test_one_point_only(self):
        found = Evaluated(table_of(["1,up,5,5.02"]))
        self.assertEqual(found.code, DONE)
        self.assertIsNone(found.json["line"])
        self.assertTrue(found.why("the transfer line"))
        self.assertTrue(found.why("linearity"))

    def test_a_permissible_error_smaller_than_the_uncertainty(self):
        found = Evaluated(GOOD, {"unit": "bar", "permissible_error": "0.06 bar", "decision_rule":
                                 {"rule": "guard band"}, "reference_uncertainty": {"U": "0.08 bar", "k": 2}})
        self.assertEqual(found.code, DONE)
        self.assertIsNone(found.json["verdict"])
        self.assertIn("no result could pass", found.why("conformity at 0, 5, 10")[0])
        self.assertIsNotNone(found.json["points"][1]["probability_outside"])

    def test_one_row_a_series_is_no_single_point(self):
        found = Evaluated(table_of(*[[f"{i + 1},up,{2.5 * i},{2.5 * i}"] for i in range(5)]))
        self.assertEqual([point["reference"] for point in found.json["points"]], [0, 2.5, 5, 7.5, 10])

    def test_a_void_reading_is_left_out_and_named(self):
        for reading in ("9", ""):  # whatever stands there
            found = Evaluated(table_of(["1,up,0,0,", f"1,up,5,{reading},the cable was touched", "2,up,5,5,", "1,up,10,10,"],
                                       heading=HEADING + ",void"))
            self.assertEqual((found.code, found.said), (DONE, ""))
            self.assertEqual(found.why("the reading at 5, rising, series 1"), ["void: the cable was touched"])
            self.assertEqual(found.json["points"][1]["up"]["readings"], 1)
            self.assertEqual(found.json["points"][1]["mean"]["deviation"], 0)

    def test_what_is_marked_as_vented_is_the_zero(self):
        lines = ["1,up,0.044,0.05,yes", "1,up,5,5,", "1,up,10,10,no", "2,down,5,5,", "2,down,0.044,0.052,yes"]
        found = Evaluated(table_of(lines, heading=HEADING + ",vented"))
        self.assertEqual([point["zero"] for point in found.json["points"]], [True, False, False])
        self.assertAlmostEqual(found.json["zero_deviation"], 0.002, places=12)
        unmarked = Evaluated(table_of([line.rsplit(",", 1)[0] for line in lines]))
        self.assertIsNone(unmarked.json["zero_deviation"])
        self.assertIn("0.044 is not zero", unmarked.why("the zero deviation")[0])


class BadSettings(unittest.TestCase):
    def refused(self, settings, *words, raw=None, table=GOOD):
        found = Evaluated(table, settings, raw=raw)
        self.assertEqual(found.code, WRONG_USE, found.said)
        self.assertIsNone(found.json)
        self.assertEqual(len(found.said.splitlines()), 1, found.said)
        self.assertIn("settings.json", found.said)
        for one in words:
            self.assertIn(one, found.said)

    def test_no_json(self):
        self.refused(None, raw="{\"unit\": ")

    def test_not_an_object(self):
        for raw in ("[]", "3", "\"bar\"", "null"):
            self.refused(None, raw=raw)

    def test_a_key_unknown(self):
        self.refused({"unit": "bar", "weather": 3}, "weather")

    def test_a_key_twice(self):
        self.refused(None, raw="{\"unit\": \"bar\", \"unit\": \"psi\"}", )

    def test_no_unit_of_pressure(self):
        self.refused({"unit": "furlong"}, "unit", "furlong")

    def test_a_unit_other_than_the_heading_says(self):
        self.refused({"unit": "psi"}, "psi", "bar",
                     table="series,direction,reference [bar],reading [bar]\n1,up,0,0\n")

    def test_a_quantity_with_a_unit_where_the_table_has_none(self):
        self.refused({"resolution": "0.01 bar"}, "resolution")

    def test_a_bare_number_where_a_unit_belongs(self):
        self.refused({"unit": "bar", "resolution": 0.01}, "resolution", "unit")

    def test_a_temperature_for_a_pressure(self):
        self.refused({"unit": "bar", "resolution": "0.01 degC"}, "resolution")

    def test_a_span_upside_down(self):
        self.refused({"unit": "bar", "span": ["10 bar", "0 bar"]}, "span")

    def test_a_span_with_one_end(self):
        self.refused({"unit": "bar", "span": ["10 bar"]}, "span")

    def test_a_method_unknown(self):
        self.refused({"unit": "bar", "sequence": "DKD-R 6-1 D"}, "sequence", "DKD-R 6-1 A")

    def test_a_class_unknown(self):
        self.refused({"unit": "bar", "permissible_error": "class 0.5"}, "class 0.5", "0.6")

    def test_a_grade_unknown(self):
        self.refused({"unit": "bar", "permissible_error": "grade E"}, "grade E", "4A")

    def test_per_cent_of_nothing(self):
        self.refused({"unit": "bar", "permissible_error": "0.1 %"}, "of span", "of reading")

    def test_a_permissible_error_of_nothing(self):
        for words in ("0 bar", "-1 bar", "0 % of span", "nan bar"):
            self.refused({"unit": "bar", "permissible_error": words}, "permissible_error")

    def test_one_term_of_a_larger(self):
        self.refused({"unit": "bar", "permissible_error": {"larger_of": ["1 bar"]}}, "permissible_error")

    def test_a_larger_within_a_larger(self):
        self.refused({"unit": "bar", "permissible_error": {"larger_of": ["1 bar", {"sum_of": ["1 bar", "2 bar"]}]}},
                     "permissible_error")

    def test_a_rule_unknown(self):
        self.refused({"decision_rule": {"rule": "good will"}}, "good will", "guard band")

    def test_a_rule_with_the_key_of_another(self):
        self.refused({"decision_rule": {"rule": "simple acceptance", "risk": "5 %"}}, "risk")

    def test_a_guard_band_in_two_ways_or_none(self):
        rule = {"rule": "guard band", "by_ratio": "RSS", "guard_factor": 1}
        self.refused({"decision_rule": rule}, "by_ratio")
        self.refused({"decision_rule": {"rule": "guard band", "by_ratio": "luck"}}, "managed risk")

    def test_a_ratio_that_is_none(self):
        for ratio in (0.5, 1000):
            self.refused({"decision_rule": {"rule": "test uncertainty ratio", "at_least": ratio}}, "at_least", "4 is usual")

    def test_a_risk_that_is_none(self):
        for risk in ("0 %", "60 %", "-1 %"):
            self.refused({"decision_rule": {"rule": "specific risk", "risk": risk}}, "risk")

    def test_a_global_risk_without_a_process(self):
        self.refused({"unit": "bar", "decision_rule": {"rule": "global risk", "risk": "2 %"}}, "process")

    def test_an_uncertainty_without_its_factor(self):
        self.refused({"unit": "bar", "reference_uncertainty": {"U": "0.1 bar"}}, "reference_uncertainty", "k")

    def test_an_uncertainty_that_does_not_say_which(self):
        self.refused({"unit": "bar", "reference_uncertainty": "0.1 bar"}, "reference_uncertainty")

    def test_a_standard_uncertainty_with_a_factor(self):
        self.refused({"unit": "bar", "reference_uncertainty": {"u": "0.1 bar", "k": 2}}, "k")

    def test_an_uncertainty_of_nothing(self):
        self.refused({"unit": "bar", "reference_uncertainty": {"u": "0 bar"}}, "reference_uncertainty")

    def test_the_two_figures_of_a_sum_swapped_or_in_the_wrong_place(self):
        """Read as they stand, both would count for nothing and the uncertainty would be zero."""
        for place, key in (("reference_uncertainty", lambda one: one), ("capability", lambda one: [one])):
            for sum_, wrong, words in (
                    ({"a": "0.05 % of reading", "b": "0.005 bar"}, "a", ("is a part of the reading", "as \"b\"")),
                    ({"a": "0.05 % of reading"}, "a", ("0.05 % of reading", "\"a\" is none")),
                    ({"b": "0.005 bar"}, "b", ("0.005 bar", "no part of the reading", "as \"a\"")),
                    ({"a": "0.005 bar", "b": "0.01 bar"}, "b", ("0.01 bar", "no part of the reading"))):
                self.refused({"unit": "bar", place: key({**sum_, "k": 2})}, place, f".{wrong}: ", *words)

    def test_an_uncertainty_of_the_whole_reading(self):
        self.refused({"unit": "bar", "reference_uncertainty": {"u": "100 % of reading"}}, "under 100 %")

    def test_limits_of_a_reference_uncertainty_that_nobody_would_keep(self):
        self.refused({"unit": "bar", "reference_uncertainty": {"u": "0.1 bar", "from": "2 bar"}}, "from")

    def test_a_capability_that_ends_before_it_begins(self):
        self.refused({"unit": "bar", "capability": [{"U": "0.1 bar", "k": 2, "from": "9 bar", "to": "2 bar"}]},
                     "capability[0].to", "swap")

    def test_a_dial_without_division(self):
        self.refused({"unit": "bar", "dial": {"parts": 5}}, "division")

    def test_an_output_without_a_span(self):
        self.refused({"unit": "bar", "output": ["4 mA", "20 mA"]}, "output")

    def test_an_output_in_two_units(self):
        self.refused({"unit": "bar", "span": ["0 bar", "10 bar"], "output": ["4 mA", "10 V"]}, "output")

    def test_settings_that_are_not_there(self):
        with tempfile.TemporaryDirectory() as folder:
            table = pathlib.Path(folder) / "table.csv"
            table.write_text(GOOD, encoding="utf-8")
            done = call(table, "--settings", pathlib.Path(folder) / "none.json")
        self.assertEqual(done.returncode, WRONG_USE)
        self.assertIn(b"none.json", done.stderr)

    def test_no_span_for_a_class(self):
        found = Evaluated(GOOD, {"unit": "bar", "permissible_error": "class 1",
                                 "decision_rule": {"rule": "simple acceptance"}})
        self.assertEqual(found.code, DONE)
        self.assertIn("no span is given", found.why("a verdict")[0])


class LargeTables(unittest.TestCase):
    def quick(self, lines, points, **columns):
        begin = time.monotonic()
        found = Evaluated(table_of(lines, **columns))
        self.assertEqual((found.code, len(found.json["points"])), (DONE, points))
        self.assertLess(time.monotonic() - begin, 30)
        return found

    def test_every_row_a_point_of_its_own(self):
        """Quadratic in the rows, this took minutes."""
        self.quick([f"1,up,{i},{i},p{i}" for i in range(40000)], 40000, heading=HEADING + ",target")

    def test_every_row_void(self):
        found = Evaluated(table_of([f"1,up,{i},{i},invented" for i in range(20000)], heading=HEADING + ",void"))
        self.assertEqual(found.json["points"], [])

    def test_few_points_read_many_times(self):
        found = self.quick([f"{1 + i % 1000},{'up' if i % 2 else 'down'},{i % 11},{i % 11}" for i in range(60000)], 11)
        self.assertLess(len(found.json["unsaid"]), 3000)

    def test_many_rows_that_are_no_series(self):
        chance = random.Random(9)
        lines = [f"{chance.randint(1, 1000)},{chance.choice(['up', 'down'])},{chance.random()!r},{chance.random()!r}"
                 for _ in range(20000)]
        begin = time.monotonic()
        found = Evaluated(table_of(lines))
        self.assertEqual(found.code, DONE)
        self.assertLess(time.monotonic() - begin, 30)


class AnyBytes(unittest.TestCase):
    """Tables and settings that were damaged at random: an answer or an explanation, never a fall."""

    def test_damaged_tables_and_settings(self):
        chance = random.Random(5)
        settings = json.dumps({"unit": "bar", "span": ["0 bar", "10 bar"], "resolution": "0.01 bar",
                               "permissible_error": {"larger_of": ["class 1", "0.1 % of reading"]},
                               "reference_uncertainty": {"U": "0.01 bar", "k": 2},
                               "decision_rule": {"rule": "guard band", "statements": "non-binary"},
                               "sequence": "DKD-R 6-1 C", "dial": {"division": "0.1 bar", "parts": 5}})

        def damaged(text):
            data = bytearray(text.encode())
            for _ in range(chance.randint(1, 6)):
                at, what = chance.randrange(len(data)), chance.randrange(4)
                if what == 0:
                    data[at] = chance.randrange(256)
                elif what == 1:
                    del data[at:at + chance.randint(1, 8)]
                elif what == 2:
                    data[at:at] = chance.choice([b'"', b",", b"\n", b"9", b"-", b"e308", b"nan", b"\x00", b"{", b"]"])
                else:
                    data[at:at] = data[at:at + chance.randint(1, 30)]
                if not data:
                    data = bytearray(b" ")
            return bytes(data)

        codes = set()
        for turn in range(160):
            if turn % 2:
                found = Evaluated(damaged(GOOD), raw=settings)
            else:
                found = Evaluated(GOOD, raw=damaged(settings))
            self.assertIn(found.code, (DONE, NO, WRONG_USE), found.said)
            if found.json is None:
                self.assertTrue(found.said)
            codes.add(found.code)
        self.assertIn(WRONG_USE, codes)
        self.assertGreater(len(codes), 1)


if __name__ == "__main__":
    unittest.main()
