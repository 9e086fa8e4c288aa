"""The one-shot commands against a scripted service: what they ask, what they print, how they exit."""

import json
import os
import socket
import subprocess
import tempfile
import time
import unittest

from fake_service import FakeService, at_present, frame_of_test, now_us

PROGRAM = os.path.join(os.environ["STILLMARK_BUILD"], "stillmark")


def stillmark(*arguments, service=None, environment=None):
    socket_path = service.path if service is not None else "/nonexistent/socket"
    return subprocess.run([PROGRAM, "--socket", socket_path, *arguments], capture_output=True, text=True, timeout=30,
                          env={**os.environ, "USER": "invented person", **(environment or {})}, check=False)


class Asking(unittest.TestCase):
    def ask(self, *arguments, answer=None):
        with FakeService(answer=answer) as service:
            result = stillmark(*arguments, service=service)
            return result, service.requests, service.heard_us

    def test_run_start(self):
        result, requests, heard_us = self.ask(
            "run", "start", "--instruments", "transmitter A,dial gauge D", "demo", "--condition", "as left", "--by", "Ada (invented)",
            answer=lambda request: {"ok": True, "run": {"id": "R1", "sequence": "demo"}})
        self.assertEqual(result.returncode, 0, result.stderr)
        self.assertEqual(result.stdout, "Run R1 has begun: demo, as left. Go on with: stillmark follow\n")
        request = requests[0]
        self.assertLess(heard_us[0] - request.pop("pressed_us"), 2_000_000)
        request.pop("id")
        self.assertEqual(request, {"do": "run_start", "sequence": "demo", "condition": "as left", "by": "Ada (invented)",
                                   "instruments": ["transmitter A", "dial gauge D"]})

    def test_the_login_name_stands_for_the_person(self):
        _, requests, _ = self.ask("run", "stop", "--reason", "invented reason")
        self.assertEqual(requests[0]["by"], "invented person")
        self.assertEqual(requests[0]["reason"], "invented reason")

    def test_void_redo_load_surroundings(self):
        for arguments, expected, told in (
                (("void", "12", "--reason", "the hose was touched"), {"do": "void", "mark": 12, "reason": "the hose was touched"},
                 "Mark 12 is void.\n"),
                (("redo", "12"), {"do": "redo", "mark": 12}, "The point of mark 12 is taken again.\n"),
                (("load", "--range", "low", "--discs", "A1,B1"), {"do": "load", "range": "low", "discs": ["A1", "B1"]},
                 "Load stated: low range, A1, B1.\n"),
                (("load", "--range", "low"), {"do": "load", "range": "low", "discs": []}, "Load stated: low range, no discs.\n"),
                (("surroundings", "--air-temperature", "21.5 degC", "--humidity", "45 %"),
                 {"do": "surroundings", "air_temperature": "21.5 degC", "humidity": "45 %"},
                 "Surroundings entered: 21.5 degC, 45 %.\n")):
            with self.subTest(arguments[0]):
                result, requests, _ = self.ask(*arguments)
                self.assertEqual((result.returncode, result.stdout), (0, told), result.stderr)
                self.assertLessEqual(expected.items(), requests[0].items())
                self.assertIn("pressed_us", requests[0])

    def test_status_in_words_and_as_json(self):
        frame = frame_of_test("read")
        result, _, _ = self.ask("status", answer=lambda request: {"ok": True, "frame": at_present(frame)})
        self.assertEqual(result.returncode, 0, result.stderr)
        for words in ("Step 15 of 57: Point 3 of 11, rising: 40 bar, low range", "40.0123 bar", "settling",
                      "confirmed, low range", "journal recording"):
            self.assertIn(words, result.stdout)
        self.assertLessEqual(max(map(len, result.stdout.splitlines())), 100)
        result, _, _ = self.ask("status", "--json", answer=lambda request: {"ok": True, "frame": frame})
        self.assertEqual(json.loads(result.stdout), frame)

    def test_run_list(self):
        runs = [{"id": "R1", "sequence": "demo", "condition": "as found", "state": "stopped", "step": 3, "steps": 57}]
        result, _, _ = self.ask("run", "list", answer=lambda request: {"ok": True, "runs": runs})
        self.assertEqual(result.stdout, "run  sequence  condition  state    steps done\nR1   demo      as found   stopped     3 of 57\n")
        result, _, _ = self.ask("run", "list", "--json", answer=lambda request: {"ok": True, "runs": runs})
        self.assertEqual(json.loads(result.stdout), runs)
        result, _, _ = self.ask("run", "list", answer=lambda request: {"ok": True, "runs": []})
        self.assertEqual(result.stdout, "No run yet.\n")

    def test_results(self):
        marks = frame_of_test("read")["marks"]
        result, requests, _ = self.ask("results", "R1", answer=lambda request: {"ok": True, "results": marks})
        self.assertEqual(requests[0]["run"], "R1")
        self.assertEqual(result.returncode, 0, result.stderr)
        self.assertIn("transmitter A: pressures in bar, U for 95.45 % (Student's t), of one reading each", result.stdout)
        self.assertIn("+0.0151", result.stdout)
        self.assertIn("mark 12: provisional: no sighting after it yet", result.stdout)
        self.assertIn("Float intervals", result.stdout)
        self.assertLessEqual(max(map(len, result.stdout.splitlines())), 100)
        result, _, _ = self.ask("results", "--json", answer=lambda request: {"ok": True, "results": marks})
        self.assertEqual(json.loads(result.stdout), marks)


class Failing(unittest.TestCase):
    def test_a_refusal_is_no_1_a_bad_request_2_an_unwritten_disk_4(self):
        for word, code in (("refused", 1), ("bad_request", 2), ("not_recorded", 4), ("another", 4)):
            with FakeService(answer=lambda request, word=word: {"ok": False, "error": "In words.", "code": word}) as service:
                result = stillmark("redo", "1", service=service)
                self.assertEqual((result.returncode, result.stdout, result.stderr), (code, "", "stillmark: In words.\n"))
                result = stillmark("redo", "1", "--json", service=service)
                self.assertEqual(json.loads(result.stdout), {"ok": False, "error": "In words.", "code": word})
                self.assertEqual(result.returncode, code)

    def test_no_service_is_3(self):
        result = stillmark("status")
        self.assertEqual(result.returncode, 3)
        self.assertEqual(result.stderr, "stillmark: socket /nonexistent/socket: there is no such socket; is stillmarkd running?\n")
        result = stillmark("status", "--json")
        self.assertEqual(json.loads(result.stdout)["code"], "unreachable")

    def test_a_socket_that_nobody_listens_on_is_3(self):
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "socket")
            listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
            listener.bind(path)
            listener.close()
            result = subprocess.run([PROGRAM, "status"], capture_output=True, text=True, timeout=30,
                                    env={**os.environ, "STILLMARK_SOCKET": path}, check=False)
            self.assertEqual(result.returncode, 3)
            self.assertIn("nobody listens there", result.stderr)

    def test_wrong_use_is_2(self):
        for arguments in ((), ("fly",), ("run",), ("run", "start"), ("run", "stop"), ("void", "x", "--reason", "y"), ("void", "1"),
                          ("run", "start", "demo", "--condition", "as new"), ("surroundings",), ("status", "--colour")):
            with self.subTest(arguments):
                result = stillmark(*arguments)
                self.assertEqual(result.returncode, 2, result.stdout)
                self.assertNotEqual(result.stderr, "")
        self.assertEqual(stillmark("--help").returncode, 0)

    def test_garbage_is_3_in_words(self):
        for answer, words in ((b"Welcome!\n", "not a line of JSON"), (b"\x00\xff\xfe\n", "not a line of JSON"),
                              (b"[" * 100000 + b"\n", "not a line of JSON"), ("close", "closed the connection")):
            with FakeService(answer=lambda request, answer=answer: answer) as service:
                result = stillmark("status", service=service)
                self.assertEqual(result.returncode, 3)
                self.assertIn(words, result.stderr)

    def test_a_line_without_end_is_given_up(self):
        with FakeService(greeting=b"x" * (18 << 20)) as service:
            result = stillmark("status", service=service)
            self.assertEqual(result.returncode, 3)
            self.assertIn("a line of over 16 MiB", result.stderr)

    def test_a_reply_of_the_wrong_shape_is_told(self):
        for answer in ({"ok": True}, {"ok": True, "frame": 7}, {"ok": True, "frame": {"at_us": "now"}}, {"ok": "yes"}, {}):
            with FakeService(answer=lambda request, answer=answer: answer) as service:
                result = stillmark("status", service=service)
                self.assertEqual(result.returncode, 3, answer)
                self.assertNotEqual(result.stderr, "")

    def test_other_lines_before_the_reply_are_passed_over(self):
        def answer(request):
            late = {"id": request["id"] + 100, "ok": False, "error": "of another request", "code": "refused"}
            return (json.dumps({"frame": {}}) + "\n" + json.dumps(late) + "\n" +
                    json.dumps({"id": request["id"], "ok": True}) + "\n").encode()
        with FakeService(answer=answer) as service:
            self.assertEqual(stillmark("redo", "1", service=service).returncode, 0)

    def test_a_slow_service_is_waited_for_but_not_forever(self):
        def slow(request):
            time.sleep(1.0)
            return {"ok": True}
        with FakeService(answer=slow) as service:
            self.assertEqual(stillmark("redo", "1", service=service).returncode, 0)
        with FakeService(answer=lambda request: None) as service:
            began = now_us()
            result = stillmark("redo", "1", service=service)
            self.assertEqual(result.returncode, 3)
            self.assertIn("no answer came within", result.stderr)
            self.assertLess(now_us() - began, 15_000_000)


if __name__ == "__main__":
    unittest.main()
