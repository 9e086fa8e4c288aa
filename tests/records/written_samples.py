"""Invented certificates as the records write them, for tests that read them with other programs."""
import csv
import io
import json
import os
import subprocess
import tempfile
import xml.etree.ElementTree as ElementTree
from pathlib import Path

BUILD = Path(os.environ["STILLMARK_BUILD"])
SPACES = {"dcc": "https://ptb.de/dcc", "si": "https://ptb.de/si"}
NAMES = ["normal", "signed", "german", "empty", "nothing", "many", "psi", "kilopascal", "water", "eventful", "published",
         "hostile", "hostile-german"]


class Samples:
    """A folder of them, removed afterwards."""

    def __enter__(self):
        self.place = tempfile.TemporaryDirectory(prefix="stillmark-records-")
        self.folder = Path(self.place.name)
        try:
            subprocess.run([BUILD / "tests" / "test_records", "--gtest_filter=DigitalSamples.*"], check=True, timeout=60,
                           stdout=subprocess.DEVNULL, env={**os.environ, "STILLMARK_SAMPLES": str(self.folder)})
        except BaseException:
            self.place.cleanup()
            raise
        return self

    def __exit__(self, *_):
        self.place.cleanup()

    def path(self, name, ending):
        return self.folder / f"{name}.{ending}"

    def xml(self, name):
        return ElementTree.parse(self.path(name, "xml")).getroot()

    def json(self, name):
        return json.loads(self.path(name, "json").read_text(encoding="utf-8"))

    def table(self, name, ending="csv"):
        """(header, rows as dictionaries)"""
        text = self.path(name, ending).read_bytes().decode("utf-8")
        header, *rows = csv.reader(io.StringIO(text, newline=""), strict=True)
        for row in rows:
            assert len(row) == len(header), row
        return header, [dict(zip(header, row)) for row in rows]
