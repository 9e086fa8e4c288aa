"""The console with users, on the real service over TLS: who comes in, what each may do, and when a session ends."""
import contextlib
import http.client
import json
import os
import socket
import ssl
import stat
import subprocess
import tempfile
import time
import unittest

from gateway.openapi_test import Description
from gateway.web import LiveView, ServedBench
from whole.bench_at_work import BUILD, now_us, wait_until

PEOPLE = {"Ada": ("administrator", "wet chalk"), "Ben": ("operator", "dry chalk"), "Eve": ("reviewer", "old pencil")}


class PeopleBench(ServedBench):
    """A bench that asks for a log-in, over TLS with a certificate that lives as long as the test."""

    def __init__(self):
        super().__init__()
        self.users = self.folder / "users.json"
        self.certificate, self.key = self.folder / "certificate.pem", self.folder / "key.pem"
        self.cookies = {}
        for name, (role, password) in PEOPLE.items():
            self.command("add", name, "--role", role, password=password)
        subprocess.run(["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes",
                        "-days", "1", "-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost,IP:127.0.0.1",
                        "-keyout", self.key, "-out", self.certificate], check=True, capture_output=True, timeout=60)
        self.trust = ssl.create_default_context(cafile=self.certificate)

    def command(self, *arguments, password=""):
        said = subprocess.run([BUILD / "stillmark", "users", self.users, *arguments], input=password + "\n", text=True,
                              capture_output=True, timeout=60, check=False)
        if said.returncode != 0:
            raise AssertionError(said.stderr)

    def serve(self, *options, **more):
        return super().serve("--users", self.users, "--tls-certificate", self.certificate, "--tls-key", self.key, *options,
                             **more)

    def connection(self, within_s=10, source="127.0.0.1"):
        return http.client.HTTPSConnection("127.0.0.1", self.port, timeout=within_s, context=self.trust,
                                           source_address=(source, 0))

    def try_log_in(self, name, password, source="127.0.0.1"):
        """(status, what was said, headers)"""
        with contextlib.closing(self.connection(source=source)) as connection:
            connection.request("POST", "/api/session", json.dumps({"name": name, "password": password}),
                               {"Content-Type": "application/json"})
            answer = connection.getresponse()
            return answer.status, json.loads(answer.read()), answer.headers

    def log_in(self, name):
        status, said, headers = self.try_log_in(name, PEOPLE[name][1])
        if status != 200:
            raise AssertionError(f"{name} was not let in: {said}")
        self.cookies[name] = headers["Set-Cookie"].split(";")[0]
        return headers["Set-Cookie"]

    def as_person(self, name, path, expected=200, **more):
        if name not in self.cookies:
            self.log_in(name)
        return self.json(path, expected, headers={"Cookie": self.cookies[name]}, **more)

    def live_view(self, cookie=""):
        plain = socket.create_connection(("127.0.0.1", self.port), timeout=10)
        return LiveView(self.port, connection=self.trust.wrap_socket(plain, server_hostname="localhost"), Cookie=cookie)


def closing_of(view):
    """The code and the words with which a live view ends."""
    until = time.monotonic() + 10
    while time.monotonic() < until:
        opcode, data = view.message()
        if opcode == 8:
            return int.from_bytes(data[:2], "big"), data[2:].decode()
    raise AssertionError("the live view goes on")


class People(unittest.TestCase):
    def setUp(self):
        self.bench = self.enterContext(PeopleBench()).serve()

    def test_nobody_is_somebody_without_the_password(self):
        bench = self.bench
        self.assertEqual(bench.url.scheme, "https")
        self.assertEqual(bench.json("/api/session"), {"login": "needed", "user": None})
        self.assertEqual(bench.ask("/")[0], 200, "the page itself asks for the name")
        for path in ("/api/frame", "/api/runs", "/api/users", "/metrics", "/api/balance-health"):
            self.assertEqual(bench.json(path, 401)["code"], "login_needed")
        self.assertEqual(bench.json("/api/do/lost", 401, method="POST", body={"pressed_us": now_us()})["code"], "login_needed")
        for name, password in (("Ben", "wet chalk"), ("Nobody", "wet chalk"), ("Ben", "")):
            status, said, headers = bench.try_log_in(name, password)
            self.assertEqual((status, said["code"], said["detail"]), (401, "wrong_login", "the name or the password is wrong"))
            self.assertIsNone(headers["Set-Cookie"])
        with bench.live_view() as view:
            self.assertEqual(view.status, 401)
        cookie = bench.log_in("Ben")
        for word in ("__Host-stillmark-", "; HttpOnly", "; SameSite=Strict", "; Secure", "; Path=/"):
            self.assertIn(word, cookie)
        self.assertEqual(bench.as_person("Ben", "/api/session")["user"], {"name": "Ben", "roles": ["operator"]})
        self.assertIn("run", bench.as_person("Ben", "/api/frame")["frame"])

    def guess_until_told_to_wait(self):
        """Wrong passwords of Ben at one place; how many it took, when the last was sent, and the wait that it was told."""
        for wrong in range(9):
            sent_at = time.monotonic()
            status, said, headers = self.bench.try_log_in("Ben", "guessed", "127.0.0.2")
            if status == 429:
                self.assertEqual(said["code"], "wait")
                return wrong, sent_at, int(headers["Retry-After"])
            self.assertEqual(status, 401)
        return self.fail("nine wrong passwords and nobody waits")

    def test_wrong_passwords_slow_the_place_and_not_the_name(self):
        bench = self.bench
        # The first wait is a second, which a busy machine may spend between two requests: then the right password is let
        # in rightly, which forgets the wrong ones, and all begins again.
        for _ in range(5):
            wrong, sent_at, wait_s = self.guess_until_told_to_wait()
            self.assertGreaterEqual(wrong, 3, "three are free of charge")
            self.assertLessEqual(wait_s, 2 ** (wrong - 3))
            status, said, headers = bench.try_log_in("Ben", "dry chalk", "127.0.0.2")
            if status == 429:
                break
            self.assertEqual(status, 200, said)
            self.assertGreater(time.monotonic() - sent_at, wait_s - 1, "let in before the wait was over")
        self.assertEqual((status, said["code"]), (429, "wait"), said)
        self.assertLessEqual(int(headers["Retry-After"]), wait_s)
        self.assertEqual(bench.try_log_in("Ben", "dry chalk", "127.0.0.3")[0], 200, "the owner comes in elsewhere")
        self.assertEqual(bench.try_log_in("Ada", "wet chalk", "127.0.0.2")[0], 200, "and others at the same place")
        time.sleep(wait_s + 0.1)
        self.assertEqual(bench.try_log_in("Ben", "dry chalk", "127.0.0.2")[0], 200)

    def test_each_does_what_his_role_allows(self):
        bench = self.bench
        said = bench.as_person("Eve", "/api/do/confirm", 403, method="POST", body={"range": "low", "pressed_us": now_us()})
        self.assertEqual(said["code"], "not_allowed")
        self.assertEqual(said["detail"], 'Eve may not do "confirm"; that is for: operator or administrator')
        self.assertEqual(bench.as_person("Eve", "/api/runs")["runs"], [])
        bench.as_person("Eve", "/api/do/void", 409, method="POST", body={"mark": 1, "reason": "seen", "pressed_us": now_us()})
        new = {"name": "Mallory", "roles": ["administrator"], "password": "sharp pencil"}
        for name in ("Ben", "Eve"):
            bench.as_person(name, "/api/users", 403, method="POST", body=new)
            bench.as_person(name, "/api/users/Ada", 403, method="DELETE")
            bench.as_person(name, "/api/users/Ada/password", 403, method="POST", body={"password": "sharp pencil"})
        bench.as_person("Ada", "/api/users", method="POST", body={**new, "name": "Zoë K.", "roles": ["reviewer"]})
        self.assertIn({"name": "Zoë K.", "roles": ["reviewer"]}, bench.as_person("Ada", "/api/users")["users"])
        self.assertEqual(bench.try_log_in("Zoë K.", "sharp pencil")[0], 200)
        self.assertEqual(stat.S_IMODE(os.stat(bench.users).st_mode), 0o600)
        bench.as_person("Ada", "/api/users/Zo%C3%AB%20K.", method="DELETE")
        self.assertEqual(bench.try_log_in("Zoë K.", "sharp pencil")[0], 401)
        self.assertIn("last administrator", bench.as_person("Ada", "/api/users/Ada", 409, method="DELETE")["detail"])

    def test_a_signature_has_a_password_behind_it(self):
        bench = self.bench
        body = {"certificate": "INV-2026-0001"}
        for name in ("Ben", "Ada"):
            said = bench.as_person(name, "/api/do/sign", 403, method="POST", body=body)
            self.assertIn("that is for: reviewer", said["detail"])
            bench.as_person(name, "/api/do/accept", 403, method="POST", body={"mark": 1, "reason": "seen"})
            bench.as_person(name, "/api/do/override", 403, method="POST",
                            body={"certificate": "INV-2026-0001", "code": "wrong_approach", "subject": "1", "reason": "seen"})
        self.assertIn("there is no draft", bench.as_person("Eve", "/api/do/sign", 409, method="POST", body=body)["detail"])
        bench.as_person("Eve", "/api/do/allow_expiry", 403, method="POST",
                        body={"run": "R1", "certificate": "INV-M-17", "reason": "late"})
        with bench.client() as client:
            for what, keys in (("sign", body), ("accept", {"mark": 1, "reason": "seen"}),
                               ("override", {"certificate": "INV-2026-0001", "code": "wrong_approach", "subject": "1", "reason": "seen"}),
                               ("allow_expiry", {"run": "R1", "certificate": "INV-M-17", "reason": "late"})):
                reply = client.press(what, **keys, logged_in=True)
                self.assertFalse(reply["ok"])
                self.assertIn("do it in the console", reply["error"])

    def test_what_is_said_is_described(self):
        bench = self.bench
        described = Description(bench.json("/api/openapi.json"))

        def check(path, method, expected, body=None, cookie="", filled=None):
            answer = bench.ask(filled or path, method.upper(), body, {"Cookie": cookie})
            self.assertEqual(answer[0], expected, answer)
            described.check_answer(path, method, answer, f"{method} {path}")
            return answer[1]["Set-Cookie"]

        check("/api/session", "get", 200)
        check("/api/session", "post", 400, {"name": "Ada"})
        check("/api/session", "post", 401, {"name": "Ada", "password": "guessed"})
        cookie = check("/api/session", "post", 200, {"name": "Ada", "password": "wet chalk"}).split(";")[0]
        for path in ("/api/frame", "/api/bench", "/api/users", "/api/events", "/metrics"):
            check(path, "get", 401)
        check("/api/do/lost", "post", 401, {"pressed_us": now_us()})
        check("/api/session", "get", 200, cookie=cookie)
        check("/api/users", "get", 200, cookie=cookie)
        check("/api/users", "post", 200, {"name": "Zoe", "roles": ["operator"], "password": "sharp pencil"}, cookie)
        check("/api/users", "post", 409, {"name": "Zoe", "roles": ["operator"], "password": "sharp pencil"}, cookie)
        check("/api/users/{name}/password", "post", 200, {"password": "blunt pencil"}, cookie, "/api/users/Zoe/password")
        check("/api/users/{name}/password", "post", 400, {"password": "short"}, cookie, "/api/users/Zoe/password")
        check("/api/users/{name}", "delete", 200, None, cookie, "/api/users/Zoe")
        check("/api/users/{name}", "delete", 409, None, cookie, "/api/users/Zoe")
        check("/api/session", "delete", 200, cookie=cookie)
        check("/api/users/{name}", "delete", 401, None, cookie, "/api/users/Zoe")

    def test_a_press_carries_the_name_of_who_is_logged_in(self):
        bench = self.bench
        bench.as_person("Ben", "/api/do/load", method="POST",
                        body={"range": "low", "discs": ["A1"], "pressed_us": now_us(), "by": "somebody else"})
        stated = bench.as_person("Ben", "/api/events?kind=LoadStated")["events"]
        self.assertEqual([one["fact"]["by"] for one in stated], ["Ben"])

    def test_another_page_presses_nothing(self):
        bench = self.bench
        bench.log_in("Ben")
        body = {"range": "low", "discs": [], "pressed_us": now_us()}
        for origin in ("https://evil.example", "null", f"http://127.0.0.1:{bench.port}"):
            said = bench.json("/api/do/load", 403, method="POST", body=body,
                              headers={"Cookie": bench.cookies["Ben"], "Origin": origin})
            self.assertNotEqual(said["code"], "not_allowed")
        bench.json("/api/do/load", method="POST", body=body,
                   headers={"Cookie": bench.cookies["Ben"], "Origin": f"https://127.0.0.1:{bench.port}"})

    def test_a_live_view_ends_with_its_session(self):
        bench = self.bench
        bench.log_in("Ben")
        bench.log_in("Eve")
        with bench.live_view(bench.cookies["Ben"]) as view, bench.live_view(bench.cookies["Eve"]) as other:
            self.assertEqual((view.status, other.status), (101, 101))
            self.assertIn("run", view.frame())
            self.assertEqual(bench.as_person("Ben", "/api/session", method="DELETE"), {"login": "needed", "user": None})
            self.assertEqual(closing_of(view), (1008, "this session is over; log in again"), "RFC 6455, 7.4.1: policy")
            other.frames_within(0.5)
        bench.as_person("Ben", "/api/frame", 401)

    def test_what_the_command_changes_is_taken_up_and_ends_sessions(self):
        bench = self.bench
        bench.log_in("Ben")
        bench.log_in("Eve")
        with bench.live_view(bench.cookies["Ben"]) as view:
            bench.command("password", "Ben", password="sharp pencil")
            self.assertEqual(closing_of(view)[0], 1008)
        bench.as_person("Ben", "/api/frame", 401)
        bench.as_person("Eve", "/api/frame")
        self.assertEqual(bench.try_log_in("Ben", "dry chalk")[0], 401)
        self.assertEqual(bench.try_log_in("Ben", "sharp pencil")[0], 200)
        bench.command("add", "Zoe", "--role", "operator", password="blunt pencil")
        wait_until(lambda: bench.try_log_in("Zoe", "blunt pencil", "127.0.0.9")[0] == 200, 20, "the new one is let in")

    def test_a_restart_ends_sessions_and_loses_no_user(self):
        bench = self.bench
        bench.log_in("Ben")
        bench.end(bench.service)
        bench.service_log.write_text("", encoding="utf-8")
        bench.serve()
        bench.as_person("Ben", "/api/frame", 401)
        bench.log_in("Ben")
        bench.as_person("Ben", "/api/frame")

    def test_many_log_ins_at_a_time_leave_the_bench_alone(self):
        bench = self.bench
        bench.log_in("Ben")
        connections = [bench.connection() for _ in range(20)]
        for i, connection in enumerate(connections):
            connection.request("POST", "/api/session", json.dumps({"name": f"name {i}", "password": "guessed"}),
                               {"Content-Type": "application/json"})
        began = time.monotonic()
        bench.as_person("Ben", "/api/frame")
        self.assertLess(time.monotonic() - began, 2)
        statuses = []
        for connection in connections:
            with contextlib.closing(connection):
                statuses.append(connection.getresponse().status)
        self.assertTrue(set(statuses) <= {401, 429, 503}, statuses)
        self.assertIn(503, statuses, "of one address four wait at most")


class Start(unittest.TestCase):
    def refused(self, words, *options):
        bench = self.enterContext(ServedBench())
        service = bench.start_service(*options)
        service.wait(timeout=20)
        said = bench.service_log.read_text(encoding="utf-8")
        self.assertEqual(service.returncode, 2, said)
        self.assertIn(words, said)

    def test_a_users_file_that_will_not_do_is_refused(self):
        folder = self.enterContext(tempfile.TemporaryDirectory(prefix="stillmark-people-"))
        path = os.path.join(folder, "users.json")
        http_options = ("--http", "127.0.0.1:0", "--users", path)
        self.refused("there is no such file; make it: stillmark users", *http_options)
        with open(path, "w", encoding="utf-8") as file:
            file.write('{"users": []}')
        os.chmod(path, 0o600)
        self.refused("nobody stands in it", *http_options)
        os.chmod(path, 0o640)
        self.refused("others than its owner may read or write it (mode 640)", *http_options)

    def test_users_are_of_no_use_without_the_console(self):
        self.refused("--users", "--users", "/nonexistent/users.json")


if __name__ == "__main__":
    unittest.main()
