"""Deliberate faults of the digital certificate and of the tables: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

ROOM = "daemon/records/digital/"
DIGITAL, SCRIBE, QUANTITY, DECIMAL = ROOM + "digital.cpp", ROOM + "scribe.cpp", ROOM + "quantity.cpp", ROOM + "decimal.cpp"
PEOPLE, TEXT = ROOM + "administrative_data.cpp", "daemon/bench/written_text.cpp"


class Digital(fault.Faults):
    FAULTS = [
        Fault("a text that is not escaped", SCRIBE, 'out += "&lt;";', "out += one;", "records", "DigitalCertificate.Texts*"),
        Fault("a carriage return that becomes an end of line", SCRIBE, 'out += "&#13;";', "out += one;", "records",
              "DigitalCertificate.Texts*"),
        Fault("a draft with the number of a certificate", PEOPLE, "return certificate.draft ?", "return false ?", "records",
              "DigitalCertificate.ADraftSaysSo"),
        Fault("a draft with a main signer", PEOPLE, "!certificate.draft && one.role ==", "one.role ==", "records",
              "DigitalCertificate.ADraftNames*"),
        Fault("no country", DIGITAL, "if (!two_letters(one.laboratory.country))", "if (false)", "records",
              "DigitalCertificate.WhatTheSchema*"),
        Fault("a coverage factor below 1", DIGITAL, "if (!(k >= 1) || !std::isfinite(k))", "if (k < 0)", "records",
              "DigitalCertificate.WhatTheSchema*"),
        Fault("bar taken for a unit of the SI", QUANTITY, "if (symbol == unit.symbol) out.name = name;",
              'if (symbol == unit.symbol) return {name, ""};', "records", "DigitalUnit.*"),
        Fault("a carry lost in a product", DECIMAL, "columns[at + 1] += sum / 10;", "columns[at + 1] = sum / 10;", "records",
              "Product.*"),
        Fault("digits behind the point of one factor", DECIMAL, "left->behind + right->behind", "left->behind", "records",
              "Product.*"),
        Fault("a surrogate taken for a character", TEXT, "(code >= 0xD800 && code <= 0xDFFF)", "false", "records",
              "ReadableText.*"),
        Fault("an overlong character", TEXT, "code < least[length]", "false", "records", "ReadableText.*"),
        Fault("a formula in a table", TEXT, 'std::string_view("=+-@\\t\\r\\n")', 'std::string_view("=+@\\t\\r\\n")', "records",
              "CsvText.*"),
        Fault("a quote within quotes", TEXT, "if (one == '\"') line += '\"';", "", "records", "CsvLine.*"),
    ]


if __name__ == "__main__":
    unittest.main()
