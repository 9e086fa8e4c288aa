"""stillmark users: what stands in the file afterwards, what is asked, what is refused."""
import base64
import hashlib
import json
import os
import re
import stat
import subprocess
import tempfile
import unittest

import pexpect

PROGRAM = os.path.join(os.environ["STILLMARK_BUILD"], "stillmark")


def is_hash_of(text, password):
    """By Python's own scrypt."""
    ln, r, p, salt, key = re.fullmatch(r"\$scrypt\$ln=(\d+),r=(\d+),p=(\d+)\$(\S+)\$(\S+)", text).groups()
    salt, key = (base64.b64decode(part + "=" * (-len(part) % 4)) for part in (salt, key))
    return key == hashlib.scrypt(password.encode(), salt=salt, n=1 << int(ln), r=int(r), p=int(p), dklen=len(key), maxmem=1 << 27)


class Users(unittest.TestCase):
    def setUp(self):
        self.folder = self.enterContext(tempfile.TemporaryDirectory(prefix="stillmark-users-"))
        self.path = os.path.join(self.folder, "users.json")

    def users(self, *arguments, password=None, expect=0):
        said = subprocess.run([PROGRAM, "users", self.path, *arguments], input=password, capture_output=True, text=True,
                              timeout=30, check=False)
        self.assertEqual(said.returncode, expect, said.stdout + said.stderr)
        return said.stdout if expect == 0 else said.stderr

    def add(self, name, *roles, password="wet chalk\n", expect=0):
        return self.users("add", name, *(word for role in roles for word in ("--role", role)), password=password, expect=expect)

    def kept(self):
        with open(self.path, encoding="utf-8") as file:
            return {user["name"]: user for user in json.load(file)["users"]}

    def test_a_life(self):
        self.assertEqual(self.add(" Ada B. ", "administrator", "operator"), "Ada B. was added: operator, administrator.\n")
        self.assertEqual(stat.S_IMODE(os.stat(self.path).st_mode), 0o600)
        self.assertEqual(self.add("Jürgen", "reviewer", password="dry chalk"), "Jürgen was added: reviewer.\n")
        self.assertEqual(self.users("list"), "Ada B.: operator, administrator\nJürgen: reviewer\n")
        self.assertEqual(json.loads(self.users("list", "--json")),
                         {"users": [{"name": "Ada B.", "roles": ["operator", "administrator"]}, {"name": "Jürgen", "roles": ["reviewer"]}]})
        self.assertTrue(is_hash_of(self.kept()["Ada B."]["password"], "wet chalk"))
        self.assertTrue(is_hash_of(self.kept()["Jürgen"]["password"], "dry chalk"))
        self.assertEqual(self.users("password", "Jürgen", password="sharp pencil\nnot this\n"), "Jürgen has a new password.\n")
        self.assertTrue(is_hash_of(self.kept()["Jürgen"]["password"], "sharp pencil"))
        self.assertEqual(self.users("remove", "Jürgen"), "Jürgen was removed.\n")
        self.assertEqual(list(self.kept()), ["Ada B."])

    def test_what_is_refused(self):
        self.add("Ada", "administrator")
        before = self.kept()
        for arguments, password, status, words in (
                (("add", "Ada", "--role", "operator"), "dry chalk\n", 1, 'somebody is named "Ada" already'),
                (("add", "Ben", "--role", "boss"), "dry chalk\n", 2, '"boss" is no role; use operator, reviewer or administrator'),
                (("add", "Ben", "--role", "operator"), "short\n", 2, "a password has at least 8 characters; this one has 5"),
                (("add", "Ben", "--role", "operator"), "12345678\n", 2, "among the first that anybody would try"),
                (("add", "Ben", "--role", "operator"), "", 2, "no password came; give it as one line on standard input"),
                (("add", "Ben", "--role", "operator"), "x" * 100000, 2, "a password has at most 256 characters"),
                (("add", " ", "--role", "operator"), "dry chalk\n", 2, "a name is empty"),
                (("remove", "Ada"), None, 1, "Ada is the last administrator; add another one first"),
                (("remove", "Ben"), None, 1, 'nobody is named "Ben" here'),
                (("password", "Ben"), "dry chalk\n", 1, 'nobody is named "Ben" here')):
            with self.subTest(words):
                said = self.users(*arguments, password=password, expect=status)
                self.assertIn("stillmark users: ", said)
                self.assertIn(words, said)
                self.assertEqual(self.kept(), before)
        self.users("add", "Ben", expect=2)
        self.users(expect=2)

    def test_a_file_that_others_may_read_is_not_touched(self):
        self.add("Ada", "administrator")
        os.chmod(self.path, 0o644)
        for arguments in (("list",), ("add", "Ben", "--role", "operator"), ("remove", "Ada"), ("password", "Ada")):
            said = self.users(*arguments, password="dry chalk\n", expect=2)
            self.assertIn(f"{self.path}: others than its owner may read or write it (mode 644); say: chmod 600 {self.path}", said)

    def test_a_file_that_is_not_there(self):
        self.assertIn("there is no such file; make it: stillmark users", self.users("list", expect=2))
        self.assertIn("there is no such file", self.users("remove", "Ada", expect=2))
        self.assertFalse(os.path.exists(self.path))

    def typed(self, *lines):
        child = pexpect.spawn(PROGRAM, ["users", self.path, "add", "Ada", "--role", "administrator"], encoding="utf-8", timeout=20)
        for prompt, line in zip((r"New password for Ada \(not shown\): ", "The same once more: "), lines):
            child.expect(prompt)
            child.waitnoecho(timeout=5)
            child.sendline(line)
        shown = child.read()
        child.close()
        for line in lines:
            self.assertNotIn(line, shown)
        return child.exitstatus, shown

    def test_on_a_terminal_it_is_asked_for_twice_and_not_shown(self):
        status, shown = self.typed("wet chalk", "wet chalk")
        self.assertEqual(status, 0, shown)
        self.assertIn("Ada was added: administrator.", shown)
        self.assertTrue(is_hash_of(self.kept()["Ada"]["password"], "wet chalk"))

    def test_on_a_terminal_two_that_differ_change_nothing(self):
        status, shown = self.typed("wet chalk", "wet chalc")
        self.assertEqual(status, 2, shown)
        self.assertIn("the two are not the same; nothing was changed, begin again", shown)
        self.assertFalse(os.path.exists(self.path))


if __name__ == "__main__":
    unittest.main()
