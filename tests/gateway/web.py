"""The service with its console, and a browser's end of HTTP and WebSockets, by Python's own library."""
import base64
import contextlib
import http.client
import json
import os
import re
import socket
import struct
import time
from urllib.parse import urlsplit

from whole.bench_at_work import BenchAtWork, small_bench, wait_until


class ServedBench(BenchAtWork):
    """A quiet bench, whose service answers browsers too."""

    def __init__(self, bench=None, scenario=None):
        super().__init__(bench or small_bench(instruments="D"), scenario)
        self.url = None

    def serve(self, *options, address="127.0.0.1:0", simulator=False):
        if simulator:
            self.start_simulator(operator=False)
        self.start_service("--http", address, *options)

        def address_in_log():
            if self.service.poll() is not None:
                raise AssertionError("the service ended: " + self.service_log.read_text(encoding="utf-8"))
            return re.findall(r"the console is at (\S+)", self.service_log.read_text(encoding="utf-8"))

        self.url = urlsplit(wait_until(address_in_log, 20, "the service says where its console is")[-1])
        return self

    @property
    def port(self):
        return self.url.port

    def connection(self, within_s=10):
        return http.client.HTTPConnection("127.0.0.1", self.port, timeout=within_s)

    def ask(self, path, method="GET", body=None, headers=None, within_s=10):
        """(status, headers, bytes)"""
        with contextlib.closing(self.connection(within_s)) as connection:
            given = {"Content-Type": "application/json"} if body is not None else {}
            if body is not None and not isinstance(body, (bytes, str)):
                body = json.dumps(body)
            connection.request(method, path, body, {**given, **(headers or {})})
            answer = connection.getresponse()
            return answer.status, answer.headers, answer.read()

    def json(self, path, expected=200, **more):
        status, headers, body = self.ask(path, **more)
        if status != expected:
            raise AssertionError(f"{path}: {status} {body[:500]}")
        kind = "application/json" if status < 400 else "application/problem+json"
        if headers["Content-Type"] != kind:
            raise AssertionError(f"{path}: {headers['Content-Type']}")
        return json.loads(body)

    def do(self, what, expected=200, **keys):
        return self.json("/api/do/" + what, expected, method="POST", body=keys)

    def raw(self, within_s=10):
        return socket.create_connection(("127.0.0.1", self.port), timeout=within_s)

    def metric(self, name):
        text = self.ask("/metrics")[2].decode()
        return float(re.search(rf"^{re.escape(name)} (\S+)$", text, re.MULTILINE).group(1))


def read_all(connection):
    """Whatever comes until the other end closes, or resets, the connection."""
    data = b""
    with contextlib.suppress(ConnectionError):
        while more := connection.recv(65536):
            data += more
    return data


class LiveView:
    """A WebSocket (RFC 6455) as a browser opens it."""

    def __init__(self, port, path="/api/live?hz=20", within_s=10, connection=None, **headers):
        self.connection = connection or socket.create_connection(("127.0.0.1", port), timeout=within_s)
        lines = {"Host": f"127.0.0.1:{port}", "Upgrade": "websocket", "Connection": "Upgrade",
                 "Sec-WebSocket-Key": base64.b64encode(os.urandom(16)).decode(), "Sec-WebSocket-Version": "13",
                 **{name.replace("_", "-"): value for name, value in headers.items()}}
        self.connection.sendall((f"GET {path} HTTP/1.1\r\n" + "".join(f"{k}: {v}\r\n" for k, v in lines.items() if v)
                                 + "\r\n").encode())
        self.stream = self.connection.makefile("rb")
        self.status = int(self.stream.readline().split()[1])
        while self.stream.readline() not in (b"\r\n", b""):
            pass

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.stream.close()
        self.connection.close()

    def message(self):
        """(opcode, bytes), or nothing at the end of the connection."""
        head = self.stream.read(2)
        if len(head) < 2:
            return None
        length = head[1] & 127
        if length >= 126:
            length = struct.unpack(">H", self.stream.read(2))[0] if length == 126 else struct.unpack(">Q", self.stream.read(8))[0]
        return head[0] & 15, self.stream.read(length)

    def frame(self):
        opcode, text = self.message()
        if opcode != 1:
            raise AssertionError(f"no text: {opcode} {text}")
        return json.loads(text)["frame"]

    def send(self, opcode, data):
        mask = os.urandom(4)
        self.connection.sendall(bytes([0x80 | opcode, 0x80 | len(data)]) + mask
                                + bytes(b ^ mask[i % 4] for i, b in enumerate(data)))

    def frames_within(self, seconds):
        until, count = time.monotonic() + seconds, 0
        while time.monotonic() < until:
            self.frame()
            count += 1
        return count
