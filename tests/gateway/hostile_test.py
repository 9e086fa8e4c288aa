"""What a hostile or broken client may send: a clear refusal each time, and the service goes on."""
import json
import socket
import time
import unittest

from gateway.web import LiveView, ServedBench, read_all
from whole.bench_at_work import small_bench, wait_until

LIMIT = 256


class Hostile(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        # All instruments of the demo, none of which answers: frames are then as large as at work.
        cls.bench = cls.enterClassContext(ServedBench(small_bench())).serve()

    def setUp(self):
        # What the last test left must have gone: limits are counted from none.
        wait_until(lambda: self.bench.metric("stillmark_http_connections") == 1, 10, "the last test's connections ended")

    def exchange(self, data, within_s=20):
        """(status, problem, seconds) of what comes back to these bytes."""
        began = time.monotonic()
        with self.bench.raw(within_s) as connection:
            try:
                connection.sendall(data)
            except ConnectionError:
                pass
            said = read_all(connection)
        head, _, body = said.partition(b"\r\n\r\n")
        status = int(head.split()[1]) if head else None
        return status, json.loads(body) if b"problem+json" in head else body, time.monotonic() - began

    def request(self, path="/api/frame", method="GET", body=b"", **headers):
        lines = {"Host": f"127.0.0.1:{self.bench.port}", "Connection": "close",
                 **({"Content-Type": "application/json", "Content-Length": str(len(body))} if method == "POST" else {}),
                 **{name.replace("_", "-"): value for name, value in headers.items()}}
        text = "".join(f"{name}: {value}\r\n" for name, value in lines.items() if value is not None)
        return f"{method} {path} HTTP/1.1\r\n{text}\r\n".encode("latin-1") + body

    def refused(self, status, code, data):
        said = self.exchange(data)
        self.assertEqual((said[0], said[1]["code"]), (status, code), said)
        self.assertTrue(said[1]["detail"])
        return said

    def still_good(self):
        self.assertEqual(self.bench.json("/api/frame")["ok"], True)

    def test_what_is_no_http(self):
        for data in (b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + bytes(100), b"hello\r\n\r\n", b"GET /\r\n\r\n",
                     b"GET / HTTP/9.9\r\n\r\n", b"GET / HTTP/1.1\r\nHost 127.0.0.1\r\n\r\n",
                     b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n folded: x\r\n\x00\r\n\r\n",
                     b"POST /api/do/lost HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: -1\r\n\r\n",
                     b"POST /api/do/lost HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\nxx",
                     b"POST /api/do/lost HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n"
                     b"0\r\n\r\n",
                     b"POST /api/do/lost HTTP/1.1\r\nHost: 127.0.0.1\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n"):
            self.refused(400, "bad_request", data)
        self.still_good()

    def test_malformed_json(self):
        for body in (b"", b"{", b"[]", b"null", b"{}x", b'{"a":1,}', b"\xff\xfe{}", b'{"a":"\xc3"}', b"[" * 60000,
                     b'{"a":' * 10000 + b"1" + b"}" * 10000, b'{"range": 1e999, "pressed_us": 0}'):
            self.refused(400, "bad_request", self.request("/api/do/confirm", "POST", body))
        self.still_good()

    def test_too_much_at_once(self):
        self.assertEqual(self.exchange(self.request("/api/do/lost", "POST", b" " * 65534 + b"{}"))[0], 400,
                         "64 KiB are read")
        self.refused(413, "too_large", self.request("/api/do/lost", "POST", b" " * 65537))
        self.refused(413, "too_large", self.request("/api/do/lost", "POST", Content_Length=str(10**15)))
        chunked = self.request("/api/do/lost", "POST", Content_Length=None, Transfer_Encoding="chunked")
        self.refused(413, "too_large", chunked + b"4000\r\n" + b" " * 0x4000 + (b"\r\n4000\r\n" + b" " * 0x4000) * 6)
        self.refused(431, "too_large", self.request(X_Long="x" * 9000))
        self.refused(431, "too_large", self.request(**{f"X_{i}": "x" * 50 for i in range(200)}))
        self.refused(431, "too_large", self.request(Connection=None)[:-2] + b"X: y\r\n" * 20_000)
        self.refused(431, "too_large", b"GET /" + b"a" * 100_000)
        self.refused(413, "too_large", chunked + b"1\r\n{\r\n0\r\n" + b"X: y\r\n" * 20_000)
        self.refused(413, "too_large", chunked + b"1;name=value\r\n \r\n" * 20_000)
        self.refused(400, "bad_request", self.request("/" + "a" * 3000))
        self.still_good()

    def test_slow_senders(self):
        """A byte now and then keeps no connection open for longer than a request may take."""
        slow = [self.bench.raw(25) for _ in range(20)]
        try:
            began = time.monotonic()
            whole = self.request()
            said = {}
            for i in range(len(whole)):
                if len(said) == len(slow) or time.monotonic() - began > 18:
                    break
                for connection in slow:
                    if connection in said:
                        continue
                    try:
                        connection.sendall(whole[i:i + 1])
                        connection.setblocking(False)
                        said[connection] = connection.recv(65536)
                    except BlockingIOError:
                        pass
                    except ConnectionError:
                        said[connection] = b""
                    finally:
                        connection.settimeout(25)
                time.sleep(0.5)
            took = time.monotonic() - began
            self.assertEqual(len(said), len(slow))
            self.assertTrue(9 < took < 14, took)
            told = [one for one in said.values() if one.startswith(b"HTTP/1.1 408 ")]
            self.assertEqual(len(told), len(slow))
            self.assertIn(b"within 10 s", told[0])
        finally:
            for connection in slow:
                connection.close()
        self.still_good()

    def test_pages_of_others(self):
        here = f"http://127.0.0.1:{self.bench.port}"
        for origin in ("http://evil.example", "null", here + "0", here.replace("http", "https"), "http://localhost"):
            self.refused(403, "wrong_origin", self.request("/api/do/lost", "POST", b"{}", Origin=origin))
            with LiveView(self.bench.port, Origin=origin) as view:
                self.assertEqual(view.status, 403, origin)
        with LiveView(self.bench.port, Origin=here) as view:
            self.assertEqual(view.status, 101)
        for host in ("evil.example", f"evil.example:{self.bench.port}", "localhost.evil.example"):
            self.refused(421, "wrong_host", self.request(Host=host))
            with LiveView(self.bench.port, Host=host) as view:
                self.assertEqual(view.status, 421, host)
        self.refused(400, "bad_request", self.request(Host=None))
        self.refused(415, "bad_request", self.request("/api/do/lost", "POST", b"{}", Content_Type="text/plain"))
        self.still_good()

    def test_path_tricks(self):
        for path in ("/page/../../etc/passwd", "/page/..%2f..%2fetc%2fpasswd", "/page/%2e%2e/x", "/page/index.html%00.js",
                     "//evil.example/", "/page//x", "/.", "/%c0%ae%c0%ae/x", "http://evil.example/", "/page\\..\\x", "*"):
            self.refused(400, "bad_request", self.request(path))
        for path in ("/etc/passwd", "/page/stillmarkd", "/api/do", "/.git/config", "/page/openapi.json/x"):
            self.refused(404, "not_found", self.request(path))
        self.still_good()

    def test_two_thousand_connections(self):
        """256 are taken; who comes next is told so or closed at once; a view that was open goes on."""
        with LiveView(self.bench.port) as view:
            self.assertEqual(view.status, 101)
            taken, told, closed, flood = 0, 0, 0, []
            try:
                for _ in range(2000):
                    connection = self.bench.raw(5)
                    flood.append(connection)
                time.sleep(0.5)
                for connection in flood:
                    connection.setblocking(False)
                    try:
                        said = connection.recv(65536)
                        if said.startswith(b"HTTP/1.1 503 "):
                            told += 1
                            self.assertIn(f"{LIMIT} connections are open already".encode(), said)
                            self.assertIn(b"application/problem+json", said)
                        else:
                            self.assertEqual(said, b"")
                            closed += 1
                    except BlockingIOError:
                        taken += 1
                    except ConnectionError:
                        closed += 1
                self.assertEqual(taken, LIMIT - 1)
                self.assertEqual(taken + told + closed, 2000)
                self.assertGreater(told, 0)
                self.assertGreater(view.frames_within(1), 8, "frames go on meanwhile")
                self.assertIsNone(self.bench.service.poll())
            finally:
                for connection in flood:
                    connection.close()
            wait_until(lambda: self.bench.ask("/api/session")[0] == 200, 5, "there is room again")

    def test_a_slow_view_is_dropped_and_others_go_on(self):
        with socket.socket() as connection:
            connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            connection.settimeout(10)
            connection.connect(("127.0.0.1", self.bench.port))
            with LiveView(self.bench.port, connection=connection) as slow, LiveView(self.bench.port) as good:
                self.assertEqual((slow.status, good.status), (101, 101))
                before = self.bench.metric("stillmark_http_slow_views_dropped_total")
                count, began = 0, time.monotonic()
                # The kernel holds many frames before the view is stuck.
                while self.bench.metric("stillmark_http_slow_views_dropped_total") == before:
                    self.assertLess(time.monotonic() - began, 100)
                    count += good.frames_within(1)
                self.assertGreater(count, 8 * (time.monotonic() - began))
                self.assertGreater(self.bench.metric("stillmark_http_frames_missed_total"), 0)
                self.assertEqual(self.bench.metric("stillmark_http_live_views"), 1)

    def test_views_leave_room_for_presses(self):
        views = []
        try:
            for _ in range(192):
                views.append(LiveView(self.bench.port))
                self.assertEqual(views[-1].status, 101)
            with LiveView(self.bench.port) as one_more:
                self.assertEqual(one_more.status, 503)
            self.assertEqual(self.bench.ask("/api/do/undo", "POST", {"pressed_us": 1})[0], 409)
        finally:
            for view in views:
                view.__exit__()


if __name__ == "__main__":
    unittest.main()
