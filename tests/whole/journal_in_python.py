"""Reads a journal by python's own SQLite and daemon/journal/FORMAT.md alone, and keeps the float ledger a second time.

Nothing here is shared with the service, so that both can be wrong only in different ways.
"""
import json
import sqlite3
import struct
from dataclasses import dataclass
from typing import Optional

MASK = (1 << 64) - 1


@dataclass
class Reading:
    number: int
    channel: int
    at_us: int
    timing_us: int
    value_pa: float
    status: int


def varints(data, at, count):
    values = []
    for _ in range(count):
        value = shift = 0
        while True:
            byte = data[at]
            at += 1
            value |= (byte & 0x7F) << shift
            shift += 7
            if byte < 0x80:
                break
        values.append(value)
    return values, at


def signed(value):
    """A folded difference modulo 2^64: 0, 1, 2, 3 are 0, -1, 1, -2."""
    return (value >> 1) ^ -(value & 1)


def readings_of_block(first_number, channel, data):
    (count,), at = varints(data, 0, 1)
    steps, at = varints(data, at, count - 1)
    stamps, at = varints(data, at, count)
    timings, at = varints(data, at, count)
    values = struct.unpack_from(f"<{count}d", data, at)
    at += 8 * count
    statuses = []
    while at < len(data):
        (run,), at = varints(data, at, 1)
        statuses += [data[at]] * run
        at += 1
    assert len(statuses) == count
    numbers, instants, timing = [first_number], [], []
    for step in steps:
        numbers.append(numbers[-1] + step)
    pace = 0
    for i, stamp in enumerate(map(signed, stamps)):
        if i == 0:
            instants.append(stamp)
        else:
            pace = stamp if i == 1 else pace + stamp
            instants.append(instants[-1] + pace)
    for change in map(signed, timings):
        timing.append((timing[-1] if timing else 0) + change)
    return [Reading(n, channel, at_us & MASK, t & MASK, v, s)
            for n, at_us, t, v, s in zip(numbers, instants, timing, values, statuses)]


def value_offset(data):
    """Where in a block's bytes its values begin, and how many there are."""
    (count,), at = varints(data, 0, 1)
    _, at = varints(data, at, 3 * count - 1)
    return at, count


class Journal:
    def __init__(self, path):
        base = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
        try:
            self.format = base.execute("SELECT value FROM meta WHERE key = 'format'").fetchone()[0]
            self.events = [{"number": number, "at_us": at_us, **json.loads(body)}
                           for number, at_us, body in base.execute("SELECT number, at_us, body FROM events ORDER BY number")]
            self.readings = sorted((reading for row in base.execute("SELECT first_number, channel, columns FROM blocks")
                                    for reading in readings_of_block(*row)), key=lambda reading: reading.number)
        finally:
            base.close()

    def facts(self, name):
        return [event for event in self.events if event["fact"] == name]

    def readings_of(self, channel, first, last):
        return [one for one in self.readings if one.channel == channel and first <= one.number <= last]


@dataclass
class Float:
    number: int
    range: str
    discs: list
    from_us: int
    sighted_us: int
    expires_us: Optional[int] = None
    to_us: Optional[int] = None
    end: str = "open"


def floats_of(journal, longest_s):
    """Every float interval, from the events alone. longest_s(range, discs): how long one sighting holds."""
    floats, load = [], None

    def close(to_us, how):
        if floats and floats[-1].end == "open":
            floats[-1].to_us, floats[-1].end = to_us, how

    for event in journal.events:
        fact, at_us = event["fact"], event["at_us"]
        is_open = bool(floats) and floats[-1].end == "open"
        if fact == "LoadStated":
            close(at_us, "moved on")
            load = event
        elif fact == "FloatConfirmed":
            close(at_us, "moved on")
            floats.append(Float(len(floats) + 1, event["range"], load["discs"], at_us, event["pressed_us"],
                                event["pressed_us"] + round(1e6 * longest_s(event["range"], load["discs"]))))
        elif fact == "FloatSighted" and is_open:
            if event["close"]:
                close(event["pressed_us"], "sighted")
            else:
                floats[-1].expires_us += event["pressed_us"] - floats[-1].sighted_us
                floats[-1].sighted_us = event["pressed_us"]
        elif fact == "FloatLost":
            close(event["pressed_us"], "lost")
        elif fact == "FloatExpired" and is_open:
            close(floats[-1].expires_us, "expired")
        elif fact == "FloatUnknown":
            close(at_us, "unknown")
        elif fact in ("StepDone", "VisitReopened", "RunStarted", "RunStopped", "RunFinished"):
            close(at_us, "moved on")
        elif fact == "PressUndone":
            raise AssertionError("this ledger does not know how to take back")
    return floats
