"""A certificate number is given once: also after a restore, a crash between signature and document, and an amendment."""
import json
import shutil
import struct
import subprocess
import unittest
import zlib
from hashlib import sha256

from bench_at_work import BUILD, LOW, quick_scenario, small_bench, wait_until
from gateway.web import ServedBench

REVIEWER = "R. Reviewer (invented)"


def stillmark(*arguments):
    return subprocess.run([str(BUILD / "stillmark"), *map(str, arguments)], capture_output=True, text=True, timeout=60,
                          check=False)


def digests(folder):
    return {str(path.relative_to(folder)): sha256(path.read_bytes()).hexdigest()
            for path in sorted(folder.rglob("*")) if path.is_file()}


def png_of_one_pixel():
    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 2, 0, 0, 0)) +
            chunk(b"IDAT", zlib.compress(b"\0\x80\x80\x80")) + chunk(b"IEND", b""))


class Numbers(unittest.TestCase):
    """One run of three instruments, then each test in its turn."""

    @classmethod
    def setUpClass(cls):
        bench = small_bench((LOW,), instruments="ABD")
        bench["records"]["logo"] = "logo.png"
        cls.at_work = cls.enterClassContext(ServedBench(bench, quick_scenario(bench)))
        (cls.at_work.folder / "logo.png").write_bytes(png_of_one_pixel())
        cls.records = cls.at_work.folder / "run.journal.records"
        cls.key = cls.at_work.folder / "run.journal.key"
        cls.memory = cls.at_work.folder / "run.journal.key.memory"
        cls.at_work.start_simulator()
        cls.at_work.start_service()
        cls.at_work.wait_for_run(180)
        cls.client = cls.at_work.client()
        cls.addClassCleanup(lambda: cls.client.close())
        cls.client.done("particulars", run="R1", customer="Invented Works", customer_country="DE",
                        customer_address=["Customer Lane 2"], order="INV-77")

    def restart(self, meanwhile=lambda: None):
        self.client.close()
        self.assertEqual(self.at_work.end(self.at_work.service), 0)
        meanwhile()
        self.at_work.start_service()
        type(self).client = self.at_work.client()

    def drafted(self, instrument, **more):
        return self.client.done("draft", runs=["R1"], instrument=instrument, **more)["certificate"]

    def issued(self, instrument, **more):
        number = self.drafted(instrument, **more)
        reply = self.client.done("sign", certificate=number, by=REVIEWER)
        self.assertIsNone(reply["trouble"])
        return number

    def listed(self):
        return {one["certificate"]: one for one in self.client.ask("certificate_list")["certificates"]}

    def findings(self):
        return {(one["code"], one["certificate"]) for one in self.client.ask("certificate_list")["findings"]}

    def wait_for_findings(self, *expected):
        """Drafts of tests before this one may be among them."""
        def found():
            return {one for one in self.findings() if one[0] != "unknown_draft"}

        wait_until(lambda: found() == set(expected), 10, lambda: f"{expected}; there is {self.findings()}")

    def put_back(self, copy):
        for path in self.at_work.folder.glob("run.journal*"):
            if path.name in ("run.journal", "run.journal-wal", "run.journal-shm"):
                path.unlink()
        shutil.copy(copy, self.at_work.journal)

    def count(self, number):
        return int(number.rsplit("-", 1)[1])

    def test_1_a_number_is_not_given_again_after_an_older_journal_was_put_back(self):
        first = self.issued("transmitter A")
        self.assertEqual(self.count(first), 1)
        copy = self.at_work.folder / "before.copy"
        said = stillmark("backup", "--journal-only", self.at_work.journal, copy)
        self.assertEqual(said.returncode, 0, said.stdout + said.stderr)
        second = self.issued("transmitter B")
        before = digests(self.records)
        self.assertEqual(json.loads(self.memory.read_text(encoding="utf-8"))["certificates"]["highest"],
                         {first.rsplit("-", 1)[0] + "-{count}": 2})
        self.assertEqual(self.memory.stat().st_mode & 0o777, 0o600)

        self.restart(lambda: self.put_back(copy))
        self.wait_for_findings(("unknown_signed", second))
        self.assertIn(f"certificate {second} is signed, and the journal does not know it",
                      self.at_work.service_log.read_text(encoding="utf-8"))
        self.assertIn(f"certificate {second} is signed", self.at_work.stillmark("certificates").stdout)
        third = self.issued("transmitter B")
        self.assertEqual(self.count(third), 3)
        after = digests(self.records)
        self.assertEqual({name: after.get(name) for name in before}, before, "nothing of before was touched")
        type(self).first, type(self).copy = first, copy

    def test_2_the_memory_alone_is_enough(self):
        aside = self.at_work.folder / "aside"
        self.records.rename(aside)
        try:
            self.restart(lambda: self.put_back(self.copy))
            self.assertEqual(self.count(self.drafted("transmitter B")), 4)
        finally:
            for path in sorted(aside.iterdir()):
                path.rename(self.records / path.name)

    def test_3_the_documents_alone_are_enough(self):
        self.memory.unlink()
        self.restart(lambda: self.put_back(self.copy))
        self.assertEqual(self.count(self.drafted("transmitter B")), 5)

    def test_4_without_a_readable_memory_no_number_is_given(self):
        text = self.memory.read_text(encoding="utf-8")
        self.memory.write_text("nonsense", encoding="utf-8")
        reply = self.client.press("draft", runs=["R1"], instrument="dial gauge D")
        self.assertEqual(reply["code"], "refused", reply)
        self.assertIn(str(self.memory), reply["error"])
        self.memory.write_text(text, encoding="utf-8")

    def test_5_no_documents_are_put_in_the_place_of_others(self):
        number = self.drafted("dial gauge D")
        other = self.records / number
        other.mkdir()
        (other / f"{number}.pdf").write_text("of somebody", encoding="utf-8")
        reply = self.client.press("sign", certificate=number, by=REVIEWER)
        self.assertEqual(reply["code"], "refused", reply)
        self.assertIn(f"{other}: is there already, with other documents", reply["error"])
        self.assertEqual((other / f"{number}.pdf").read_text(encoding="utf-8"), "of somebody")
        self.assertFalse((self.records / f"{number}.unrecorded").exists())
        self.assertEqual(self.listed()[number]["state"], "draft")
        again = self.drafted("dial gauge D")
        self.assertGreater(self.count(again), self.count(number), "it gets a number of its own")
        self.client.done("sign", certificate=again, by=REVIEWER)
        shutil.rmtree(other)
        type(self).dial = again

    def test_6_what_was_signed_is_completed_and_what_was_not_is_taken_away(self):
        place, waiting = self.records / self.dial, self.records / f"{self.dial}.unrecorded"
        never = self.drafted("transmitter B")
        before = digests(place)

        def crash():
            place.rename(waiting)
            # The documents of a signature that was never recorded: what a signing service writes first.
            shutil.copytree(waiting, self.records / f"{never}.unrecorded")
            for path in (self.records / f"{never}.unrecorded").iterdir():
                path.rename(path.with_name(path.name.replace(self.dial, never)))
            place.symlink_to(self.at_work.folder / "nowhere")

        self.restart(crash)
        wait_until(lambda: ("not_in_place", self.dial) in self.findings(), 10, "it is told that it is not in its place")
        self.assertIn(f"certificate {self.dial} is signed, but its documents cannot get their place",
                      self.at_work.service_log.read_text(encoding="utf-8"))
        self.assertFalse((self.records / f"{never}.unrecorded").exists())
        place.unlink()
        wait_until(lambda: ("not_in_place", self.dial) not in self.findings(), 10, "it is tried again")
        self.assertEqual(digests(place), before)
        self.assertFalse(waiting.exists())

    def test_7_a_certificate_is_amended_once(self):
        second = self.issued("dial gauge D", replaces=self.dial, reason="invented: a wrong order number")
        listed = self.listed()
        self.assertEqual(listed[self.dial]["superseded_by"], second)
        self.assertIsNone(listed[second]["superseded_by"])
        reply = self.client.press("draft", runs=["R1"], instrument="dial gauge D", replaces=self.dial, reason="invented")
        self.assertEqual(reply["code"], "refused", reply)
        self.assertIn(f"was amended by {second} already; amend {second}", reply["error"])
        self.assertIn(second, next(line for line in self.at_work.stillmark("certificates").stdout.splitlines()
                                   if line.startswith(self.dial)))
        key = ["--key", self.at_work.folder / "run.journal.key.pub"]
        old, new = (self.records / number / f"{number}.pdf" for number in (self.dial, second))
        said = stillmark("verify", old, *key)
        self.assertEqual(said.returncode, 0, said.stdout + said.stderr)
        self.assertIn(f"superseded by {second}", said.stdout)
        self.assertNotIn("superseded", stillmark("verify", new, *key).stdout)
        # By the documents beside it alone, and by a journal alone.
        apart = self.at_work.folder / "apart"
        for number in (self.dial, second):
            shutil.copytree(self.records / number, apart / number)
        self.assertIn(f"superseded by {second}", stillmark("verify", apart / self.dial / old.name, *key).stdout)
        (apart / second / f"{second}.xml.sig").write_bytes(bytes(64))
        self.assertNotIn("superseded", stillmark("verify", apart / self.dial / old.name, *key).stdout,
                         "a document that nobody signed says nothing")
        self.assertIn(f"superseded by {second}", stillmark("verify", apart / self.dial / old.name, *key, "--journal",
                                                           self.at_work.journal).stdout)

    def test_7_other_documents_are_not_served_under_its_number(self):
        path = self.records / self.first / f"{self.first}.xml"
        own = path.read_bytes()
        self.client.close()
        self.assertEqual(self.at_work.end(self.at_work.service), 0)
        path.write_bytes((self.records / self.dial / f"{self.dial}.xml").read_bytes())
        self.at_work.serve()
        type(self).client = self.at_work.client()
        wait_until(lambda: ("other_content", self.first) in self.findings(), 10, "it is named")
        for name in ("pdf", "xml", "json", "csv"):
            self.assertIn("holds other documents than those that were signed",
                          self.at_work.json(f"/api/certificates/{self.first}/{self.first}.{name}", 404)["detail"])
        path.write_bytes(own)
        status, _, body = self.at_work.ask(f"/api/certificates/{self.first}/{self.first}.xml")
        self.assertEqual((status, body), (200, own))
        wait_until(lambda: ("other_content", self.first) not in self.findings(), 10, "it is mended")

    def test_8_a_journal_is_held_against_the_documents_beside_it(self):
        # What an older journal did not know was moved out of the folder, as a person would after reading the findings.
        aside = self.at_work.folder / "of-lost-journals"
        aside.mkdir()
        for code, number in self.findings():
            if code == "unknown_signed":
                (self.records / number).rename(aside / number)
        said = stillmark("verify", self.at_work.journal, "--key", self.at_work.folder / "run.journal.key.pub")
        self.assertEqual(said.returncode, 0, said.stdout + said.stderr)
        self.assertIn(f"certificate {self.dial} rests on number", said.stdout)
        cut = self.at_work.folder / "cut"
        shutil.copy(self.copy, cut)
        self.assertEqual(stillmark("verify", cut).returncode, 0, "a journal that was cut back holds in itself")
        said = stillmark("verify", cut, "--records", self.records)
        self.assertEqual(said.returncode, 1, said.stdout + said.stderr)
        self.assertRegex(said.stdout, rf"certificate {self.dial} rests on number \d+, the journal ends at \d+")
        self.assertNotRegex(said.stdout, rf"certificate {self.first} rests on number \d+, the journal ends")
        # Documents of one certificate under another's number.
        forged = self.at_work.folder / "forged.records"
        shutil.copytree(self.records / self.dial, forged / self.first)
        for path in (forged / self.first).iterdir():
            path.rename(path.with_name(path.name.replace(self.dial, self.first)))
        said = stillmark("verify", self.at_work.journal, "--records", forged, "--json")
        self.assertEqual(said.returncode, 1, said.stdout + said.stderr)
        self.assertEqual(len(json.loads(said.stdout)["documents"]["findings"]), 1)

    def test_9_back_up_work_on_destroy_restore_work_on(self):
        at_work, to = self.at_work, self.at_work.folder / "backup"
        users = at_work.folder / "users.json"
        users.write_text("{}", encoding="utf-8")
        said = stillmark("backup", at_work.journal, to, "--users", users)
        self.assertEqual(said.returncode, 0, said.stdout + said.stderr)
        self.assertIn("content identical to what was written", said.stdout)
        self.assertIn(f"{self.key}: who has this private key signs as this laboratory", said.stdout)
        manifest = json.loads((to / "manifest.json").read_text(encoding="utf-8"))
        named = {one["path"]: (one["bytes"], one["sha256"]) for one in manifest["files"]}
        self.assertEqual(named, {str(path.relative_to(to)): (path.stat().st_size, sha256(path.read_bytes()).hexdigest())
                                 for path in to.rglob("*") if path.is_file() and path.name != "manifest.json"})
        for name in ("journal", "key.pub", "memory.json", "users.json", "bench/bench.json", "bench/logo.png",
                     f"records/{self.dial}/{self.dial}.pdf"):
            self.assertIn(name, named)
        private = self.key.read_bytes()
        self.assertFalse([path for path in to.rglob("*") if path.is_file() and private in path.read_bytes()])
        self.assertEqual((to / "bench/bench.json").read_bytes(), at_work.bench.read_bytes())
        again = stillmark("backup", at_work.journal, to)
        self.assertEqual(again.returncode, 2)
        self.assertIn("is there already and stays as it is", again.stderr)
        (at_work.folder / "a file").write_text("x", encoding="utf-8")
        self.assertIn("is a file; a back-up is a folder", stillmark("backup", at_work.journal, at_work.folder / "a file").stderr)

        after = self.issued("transmitter B")
        before = digests(self.records)
        self.client.close()
        self.assertEqual(at_work.end(at_work.service), 0)
        self.assertIn("is there already; stop the service", stillmark("restore", to, at_work.journal).stderr)
        for path in at_work.folder.glob("run.journal*"):
            if path not in (self.records, self.memory):
                path.unlink()
        shutil.rmtree(self.records / self.dial)
        highest = self.memory.read_text(encoding="utf-8")

        other = self.records / self.first / f"{self.first}.pdf"
        kept = other.read_bytes()
        other.write_bytes(b"of somebody")
        said = stillmark("restore", to, at_work.journal)
        self.assertEqual(said.returncode, 2)
        self.assertIn(f"{other}: is there already, and is not the document of the back-up", said.stderr)
        self.assertFalse(at_work.journal.exists())
        other.write_bytes(kept)

        damaged = at_work.folder / "damaged"
        shutil.copytree(to, damaged)
        with open(damaged / "journal", "r+b") as journal:
            journal.seek(20000)
            journal.write(b"x")
        said = stillmark("restore", damaged, at_work.journal)
        self.assertEqual(said.returncode, 1)
        self.assertIn(f"{damaged / 'journal'}: is not what the manifest says", said.stderr)

        said = stillmark("restore", to, at_work.journal)
        self.assertEqual(said.returncode, 0, said.stdout + said.stderr)
        self.assertIn("The private key is not in a back-up", said.stdout)
        self.assertEqual(self.memory.read_text(encoding="utf-8"), highest, "it knows more than the back-up")
        old = digests(self.records)
        self.assertEqual({name: old.get(name) for name in before}, before, "beside them an edition of a draft at the most")
        at_work.start_service()  # with a new key
        type(self).client = at_work.client()
        self.wait_for_findings(("unknown_signed", after))
        number = self.drafted("transmitter B")
        self.client.done("sign", certificate=number, by=REVIEWER)
        self.assertGreater(self.count(number), self.count(after))
        old = digests(self.records)
        self.assertEqual({name: old.get(name) for name in before}, before, "the old documents are unchanged")
        former = next(at_work.folder.glob("run.journal.key.*.pub"))
        said = stillmark("verify", self.records / self.dial / f"{self.dial}.pdf", "--key", former, "--journal", at_work.journal)
        self.assertEqual(said.returncode, 0, said.stdout + said.stderr)
        said = stillmark("verify", at_work.journal)
        self.assertEqual(said.returncode, 1, "it is older than one certificate beside it")
        self.assertRegex(said.stdout, f"certificate {after} rests on number")
        self.assertEqual(at_work.replay().returncode, 0)


if __name__ == "__main__":
    unittest.main()
