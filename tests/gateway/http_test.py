"""The API of the console, on the real service: what it answers, and what it refuses."""
import re
import unittest

from gateway.web import LiveView, ServedBench, read_all
from whole.bench_at_work import now_us


class Http(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.bench = cls.enterClassContext(ServedBench()).serve()

    def problem(self, status, code, path, **more):
        said = self.bench.json(path, status, **more)
        self.assertEqual((said["type"], said["status"], said["code"]), ("about:blank", status, code))
        self.assertTrue(said["title"] and said["detail"], said)
        return said["detail"]

    def test_frames_are_those_of_the_local_socket(self):
        with self.bench.client() as client:
            said, asked = client.frame(), self.bench.json("/api/frame")["frame"]
        for one in (said, asked):
            one.pop("at_us")
        self.assertEqual(said, asked)

    def test_a_live_view_gets_frames_and_sends_nothing(self):
        with LiveView(self.bench.port) as view:
            self.assertEqual(view.status, 101)
            self.assertAlmostEqual(view.frames_within(3), 60, delta=6)
            self.assertLess(abs(view.frame()["at_us"] - now_us()), 500_000)
            view.send(1, b"hello")
            while (message := view.message())[0] == 1:
                pass
            self.assertEqual((message[0], message[1][:2]), (8, b"\x03\xf0"), "RFC 6455, 7.4.1: 1008, policy")
        with LiveView(self.bench.port, "/api/live?hz=2") as view:
            self.assertLess(view.frames_within(2), 7)
        self.assertEqual(self.bench.metric("stillmark_http_live_views"), 0)

    def test_a_press_does_what_it_does_at_the_local_socket(self):
        detail = self.problem(409, "refused", "/api/do/confirm", method="POST", body={"range": "low", "pressed_us": now_us()})
        self.assertIn("nobody stated the load", detail)
        detail = self.problem(409, "refused", "/api/do/load", method="POST",
                              body={"range": "low", "discs": [], "pressed_us": now_us() - 3_000_000})
        self.assertIn("press", detail)
        self.problem(400, "bad_request", "/api/do/confirm", method="POST", body={"range": 5, "pressed_us": now_us()})
        self.assertEqual(self.bench.do("load", range="low", discs=["A1"], pressed_us=now_us(), by="test"), {"ok": True})
        self.assertEqual(self.bench.json("/api/frame")["frame"]["load"], {"range": "low", "discs": ["A1"]})

    def test_runs_and_health(self):
        self.assertEqual(self.bench.json("/api/balance-health")["health"], [])
        self.problem(404, "refused", "/api/runs/R99")
        run = self.bench.do("run_start", sequence="demo", pressed_us=now_us())["run"]
        try:
            self.assertIn(run, [one["id"] for one in self.bench.json("/api/runs")["runs"]])
            self.assertEqual(self.bench.json("/api/runs/" + run)["results"]["run"]["id"], run)
        finally:
            self.bench.do("run_stop", reason="the test is over")

    def test_no_login_is_needed_and_it_says_so(self):
        self.assertEqual(self.bench.json("/api/session"), {"login": "not needed", "user": None})

    def test_the_page_and_all_its_parts_are_here(self):
        status, headers, page = self.bench.ask("/")
        self.assertEqual((status, headers["Content-Type"]), (200, "text/html; charset=utf-8"))
        wanted, parts = {"/"}, {}
        for _ in range(1000):
            missing = sorted(wanted - set(parts))
            if not missing:
                break
            status, headers, parts[missing[0]] = self.bench.ask(missing[0])
            self.assertEqual(status, 200, missing[0])
            text = parts[missing[0]].decode("utf-8")
            wanted |= set(re.findall(r"(?:src|href)=\"(/page/[^\"]+)\"", text))
            wanted |= {"/page/" + name for name in re.findall(r"(?:from|import)\s*\(?\"\./([\w.]+)\"", text)}
        self.assertEqual(wanted, set(parts))
        self.assertGreater(len(parts), 10)
        self.assertLess(sum(map(len, parts.values())), 300_000, "with the plots, unpacked")
        status, headers, body = self.bench.ask("/", headers={"If-None-Match": self.bench.ask("/")[1]["ETag"]})
        self.assertEqual((status, body), (304, b""))

    def test_every_answer_is_guarded(self):
        for path in ("/api/frame", "/page/style.css", "/no/such/path"):
            headers = self.bench.ask(path)[1]
            self.assertIn("default-src 'self'", headers["Content-Security-Policy"])
            self.assertIn("frame-ancestors 'none'", headers["Content-Security-Policy"])
            self.assertNotIn("unsafe", headers["Content-Security-Policy"])
            self.assertEqual(headers["X-Content-Type-Options"], "nosniff")
            self.assertEqual(headers["Referrer-Policy"], "no-referrer")

    def test_a_connection_takes_one_request_after_the_other(self):
        with self.bench.raw() as connection:
            ask = f"GET /api/session HTTP/1.1\r\nHost: 127.0.0.1:{self.bench.port}\r\n".encode()
            connection.sendall((ask + b"\r\n") * 3 + ask + b"Connection: close\r\n\r\n")
            self.assertEqual(read_all(connection).count(b'"not needed"'), 4)

    def test_head_says_how_long_the_answer_would_be(self):
        status, headers, body = self.bench.ask("/page/dygraph.min.js", "HEAD")
        self.assertEqual((status, body), (200, b""))
        self.assertEqual(int(headers["Content-Length"]), len(self.bench.ask("/page/dygraph.min.js")[2]))


if __name__ == "__main__":
    unittest.main()
