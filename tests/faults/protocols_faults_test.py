"""Deliberate faults of the links to instruments: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

SILENCE = "protocols/bus_silence.cpp"


class Protocols(fault.Faults):
    FAULTS = [
        Fault("noise begins the patience again", SILENCE, "if (found.last_byte > patience)",
              "if (found.last_byte > wanted.last_byte + 3 * never_silent_after)", "protocols", "BusSilence.*"),
        Fault("a quarantine that noise ends", SILENCE,
              "std::max(found.last_byte + wanted.silence, wanted.quarantine_until)", "found.last_byte + wanted.silence",
              "protocols", "BusSilence.*"),
        Fault("silence counted from the first byte", SILENCE, "found.last_byte = line.now();",
              "if (found.stray.size() == 1) found.last_byte = line.now(); if (line.now() > patience) return Failure{Fault::bad_frame, {}};",
              "protocols", "BusSilence.*"),
    ]


if __name__ == "__main__":
    unittest.main()
