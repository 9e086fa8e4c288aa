"""A scripted stand-in for the service: one Unix stream socket, one JSON object a line, as DEVELOPERS.md says."""

import json
import os
import socket
import tempfile
import threading
import time


def now_us():
    return time.clock_gettime_ns(time.CLOCK_BOOTTIME) // 1000


def frame_of_test(name):
    folder = os.path.join(os.path.dirname(os.path.abspath(__file__)), "frames")
    with open(os.path.join(folder, name + ".json"), encoding="utf-8") as file:
        return json.load(file)


def at_present(frame):
    """The frame moved to this instant."""
    moved = json.loads(json.dumps(frame))
    shift = now_us() - moved["at_us"]
    moved["at_us"] += shift
    for key in ("since_us", "expires_us"):
        if moved["float"].get(key) is not None:
            moved["float"][key] += shift
    return moved


class FakeService:
    """Answers each request by `answer(request)`: a dict to send (`id` is added), bytes to send as they are, None for
    no answer, or "close" to hang up. Subscribers get `frame` ten times a second."""

    def __init__(self, frame=None, answer=None, greeting=None, path=None):
        self.frame = frame
        self.answer = answer or (lambda request: {"ok": True})
        self.greeting = greeting
        self.requests = []
        self.heard_us = []
        self.folder = tempfile.TemporaryDirectory(prefix="stillmark-cli-")
        self.path = path or os.path.join(self.folder.name, "socket")
        self.lock = threading.Lock()
        self.threads = []
        self.connections = []
        self.going = False
        self.start()

    def start(self):
        self.listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self.listener.bind(self.path)
        self.listener.listen(16)
        self.listener.settimeout(0.05)
        self.going = True
        self.threads = [threading.Thread(target=self._accept)]
        self.threads[0].start()

    def stop(self):
        """Hangs up on everybody and takes the socket away."""
        self.going = False
        for thread in list(self.threads):
            thread.join()
        self.listener.close()
        if os.path.exists(self.path):
            os.unlink(self.path)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        if self.going:
            self.stop()
        self.folder.cleanup()

    def commands(self):
        """What was asked beside status and subscribe."""
        with self.lock:
            return [request for request in self.requests if request.get("do") not in ("status", "subscribe")]

    def wait_for_commands(self, count, within_s=5.0):
        end = time.monotonic() + within_s
        while time.monotonic() < end and len(self.commands()) < count:
            time.sleep(0.01)
        return self.commands()

    def _accept(self):
        while self.going:
            try:
                connection, _ = self.listener.accept()
            except socket.timeout:
                continue
            thread = threading.Thread(target=self._serve, args=(connection,))
            self.threads.append(thread)
            thread.start()

    def _serve(self, connection):
        received, subscribed, next_frame = b"", False, 0.0
        try:
            if self.greeting is not None:
                connection.settimeout(10)
                connection.sendall(self.greeting)
            connection.settimeout(0.02)
            while self.going:
                if subscribed and self.frame is not None and time.monotonic() >= next_frame:
                    next_frame = time.monotonic() + 0.1
                    frame = self.frame
                    line = frame if isinstance(frame, bytes) else json.dumps({"frame": at_present(frame)}).encode() + b"\n"
                    connection.sendall(line)
                try:
                    piece = connection.recv(65536)
                except socket.timeout:
                    continue
                if not piece:
                    return
                received += piece
                while b"\n" in received:
                    line, received = received.split(b"\n", 1)
                    request = json.loads(line)
                    with self.lock:
                        self.requests.append(request)
                        self.heard_us.append(now_us())
                    if request.get("do") == "subscribe":
                        subscribed = True
                    reply = self.answer(request)
                    if reply == "close":
                        return
                    if isinstance(reply, bytes):
                        connection.sendall(reply)
                    elif reply is not None:
                        connection.sendall(json.dumps({"id": request["id"], **reply}).encode() + b"\n")
        except OSError:
            return
        finally:
            connection.close()
