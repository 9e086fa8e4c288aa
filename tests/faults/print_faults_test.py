"""Deliberate faults of the printed certificate: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

ROOM = "daemon/records/"
PRINT = ROOM + "print/"
STRIP, QR, LOGO, PLOT = PRINT + "strip.cpp", PRINT + "qr.cpp", PRINT + "logo.cpp", PRINT + "deviation_plot.cpp"
TYPE, ARCHIVE, PROFILE = PRINT + "typeface.cpp", PRINT + "archive.cpp", PRINT + "srgb_profile.cpp"


class Print(fault.Faults):
    FAULTS = [
        Fault("a heading stands alone at the foot", STRIP, "if (fits_one_page && ", "if (false && ", "records",
              "Paginate.WhatBelongs*"),
        Fault("a table goes on without its head", STRIP, "if (at_top && strip.again) {", "if (false) {", "records",
              "Paginate.TheHead*"),
        Fault("a blank within the code's number", QR, "c == '~';", "c == '~' || c == ' ';", "records", "Qr.TheNumber*"),
        Fault("a draft has the code", PRINT + "closing.cpp", "!one.draft && !proof", "!proof", "records", "Qr.OnlyTheSigned*"),
        Fault("a code for glasses only", QR, "module_mm = 0.5", "module_mm = 0.3", "records", "Qr.EachModule*"),
        Fault("a logo that no memory holds", LOGO, " || wide > most_pixels || high > most_pixels", "", "records",
              "Logo.WhatIs*"),
        Fault("names that turn what follows", TYPE, "|| turns_the_direction(c);", ";", "records", "Printable.*"),
        Fault("boxes in place of letters", TYPE, "        shown = with_codes(shown, unknown);\n", "", "records", "Typeface.What*"),
        Fault("a name runs off the paper", TYPE, "if (width > 0) pango", "if (false) pango", "records", "Typeface.LongNames*"),
        Fault("a plot that cuts its bars", PLOT, "hold(bar.pressure, bar.deviation - bar.expanded, bar.deviation + bar.expanded);", "", "records",
              "Scale.AsFound*"),
        Fault("deviations pressed flat", PLOT, "far_beyond = 8", "far_beyond = 1e9", "records", "Scale.APermissible*"),
        Fault("a point in German", ROOM + "words.cpp", "language_ == Language::german)", "false)", "records",
              "Words.Numbers*:DecisionWords.*"),
        Fault("a risk too small", ROOM + "decision_words.cpp", "beyond(2 * rule.guard_factor)", "beyond(3 * rule.guard_factor)",
              "records", "DecisionWords.*"),
        Fault("metadata that is no XML", ARCHIVE, 'safe += "&amp;";', "safe += c;", "records", "Metadata.*"),
        Fault("another red", PROFILE, "from_chromaticity(0.64, 0.33)", "from_chromaticity(0.63, 0.33)", "records",
              "SrgbProfile.Colorants*"),
        Fault("an attachment named like a path", PRINT + "print.cpp", "return c == '/' || ", "return ", "records",
              "PdfOf.ANumber*"),
    ]


if __name__ == "__main__":
    unittest.main()
