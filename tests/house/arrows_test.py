"""Includes point along the arrow only, and are written from the root."""
import re
import unittest

from house.sources import ROOT, cpp_files, line_of, text_of

# A room may include itself, and these.
ALONG_THE_ARROW = {
    "protocols": [],
    "drivers": ["protocols"],
    "simulator": [],
    "daemon/metrology": [],
    "daemon/acquisition": ["drivers", "protocols"],
    "daemon/bench": ["daemon/acquisition", "daemon/metrology", "drivers", "protocols"],
    "daemon/seal": [],
    "daemon/journal": ["daemon/seal"],
    "daemon/decider": ["daemon/bench", "daemon/journal", "daemon/seal", "daemon/acquisition", "daemon/metrology", "drivers",
                       "protocols"],
    "daemon/records": ["daemon/bench", "daemon/seal", "daemon/acquisition", "daemon/metrology", "drivers", "protocols"],
    "daemon/people": ["daemon/seal"],
    "daemon/gateway": ["daemon/records", "daemon/people", "daemon/decider", "daemon/bench", "daemon/journal", "daemon/seal",
                       "daemon/acquisition", "daemon/metrology", "drivers", "protocols"],
    "daemon/cli": ["daemon/records", "daemon/people", "daemon/decider", "daemon/bench", "daemon/journal", "daemon/seal",
                   "daemon/acquisition", "daemon/metrology", "drivers", "protocols"],
}
COMPOSITION = {"daemon/main.cpp"}

# What only one room knows.
KEPT_TO = {
    "modbus": {"protocols", "simulator"},
    "sqlite3": {"daemon/journal"},
    "curses": {"daemon/cli"},
}
# The calculation core is pure: the standard library without its ways out, and Boost.Math.
NOT_IN_METROLOGY = {"chrono", "ctime", "fstream", "iostream", "ostream", "istream", "filesystem", "thread", "mutex",
                    "atomic", "future", "random", "cstdio", "condition_variable"}

INCLUDE = re.compile(r'^\s*#\s*include\s*([<"])([^">]+)[">]', re.MULTILINE)


def room_of(path):
    return next((room for room in ALONG_THE_ARROW if str(path).startswith(room + "/")), None)


def breaches(path, text):
    room = room_of(path)
    found = []
    for include in INCLUDE.finditer(text):
        quote, what = include.groups()
        where = f"{path}:{line_of(text, include.start())}"
        if quote == '"':
            target = room_of(what)
            if target is None or not (ROOT / what).is_file():
                found.append(f"{where}: {what} is not written from the root")
            elif target != room and target not in ALONG_THE_ARROW[room]:
                found.append(f"{where}: {room} may not include {what}")
            continue
        for name, rooms in KEPT_TO.items():
            if re.search(rf"(^|/){name}", what) and room not in rooms:
                found.append(f"{where}: only {' and '.join(sorted(rooms))} may include {what}")
        if room == "daemon/metrology" and (what in NOT_IN_METROLOGY or ("/" in what and not what.startswith("boost/math/"))):
            found.append(f"{where}: the calculation core may not include {what}")
    return found


class Arrows(unittest.TestCase):
    def test_every_include_points_along_the_arrow(self):
        kept = [p for p in cpp_files() if not str(p).startswith("tests/") and str(p) not in COMPOSITION]
        self.assertGreater(len(kept), 10)
        strangers = [str(p) for p in kept if room_of(p) is None]
        self.assertEqual(strangers, [], "files outside every room")
        found = [b for p in kept for b in breaches(p, text_of(p))]
        self.assertEqual(found, [], "\n" + "\n".join(found))

    def test_a_breach_is_seen(self):
        for path, line in [
                ("protocols/x.hpp", '#include "drivers/driver.hpp"'),
                ("simulator/x.cpp", '#include "protocols/instant.hpp"'),
                ("daemon/metrology/x.cpp", '#include "drivers/units.hpp"'),
                ("daemon/metrology/x.cpp", "#include <nlohmann/json.hpp>"),
                ("daemon/metrology/x.cpp", "#include <fstream>"),
                ("daemon/bench/x.cpp", '#include "daemon/journal/journal.hpp"'),
                ("daemon/bench/x.cpp", '#include "state.hpp"'),
                ("daemon/decider/x.cpp", "#include <sqlite3.h>"),
                ("drivers/x.cpp", "#include <modbus/modbus.h>")]:
            self.assertEqual(len(breaches(path, line + "\n")), 1, line)
        self.assertEqual(breaches("daemon/decider/x.cpp", '#include "daemon/journal/journal.hpp"\n#include <map>\n'), [])
        self.assertEqual(breaches("daemon/metrology/x.cpp", "#include <boost/math/constants/constants.hpp>\n"), [])


if __name__ == "__main__":
    unittest.main()
