"""Instruments that answer with the number of the exchange, so that an answer tells which request it belongs to.

Each notes when a request was complete and when its answer began to leave. `late_s(number)` says how much later than at
once an answer leaves; None keeps it away altogether. On a network connection later answers may overtake a late one; a
serial instrument answers one request after the other, and what came meanwhile follows at once.
"""
import os
import select
import socket
import struct
import threading
import time
import tty

from bench_at_work import now_us


def crc_of(frame):
    """The check of serial Modbus (MODBUS over Serial Line V1.02, 6.2.2)."""
    crc = 0xFFFF
    for byte in frame:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
    return struct.pack("<H", crc)


class Counting:
    """Answers requests one by one on a thread of its own, until it is closed."""

    one_after_the_other = False

    def __init__(self, late_s=lambda number: 0.0):
        self.late_s = late_s
        self.last_due = 0.0
        self.exchanges = {}  # number: (request complete, answer begun), us
        self.waiting = []  # (when, number, channel, bytes)
        self.over = threading.Event()
        self.thread = threading.Thread(target=self.work, daemon=True)

    def __enter__(self):
        self.thread.start()
        return self

    def __exit__(self, *_):
        self.over.set()
        self.thread.join(10)

    def asked(self, channel, make_answer):
        number = len(self.exchanges) + 1
        late_s = self.late_s(number)
        self.exchanges[number] = (now_us(), None)
        if late_s is None:
            return
        due = time.monotonic() + late_s
        if self.one_after_the_other:
            due = max(due, self.last_due + 0.005)
            self.last_due = due
        self.waiting.append((due, number, channel, make_answer(number)))

    def send_what_is_due(self):
        """Gives how long nothing more is due."""
        now = time.monotonic()
        for entry in sorted(self.waiting, key=lambda one: one[0]):
            due, number, channel, answer = entry
            if due > now:
                return due - now
            self.waiting.remove(entry)
            if number:
                self.exchanges[number] = (self.exchanges[number][0], now_us())
            try:
                self.write(channel, answer)
            except OSError:
                pass  # the service gave this connection up
        return 0.05

    def write(self, channel, answer):
        channel.sendall(answer)


class ByTcp(Counting):
    """Serves connections to one port; `take` finds whole requests in what came."""

    def __init__(self, port, late_s=lambda number: 0.0):
        super().__init__(late_s)
        self.listener = socket.create_server(("127.0.0.1", port))

    def work(self):
        kept = {}
        while not self.over.is_set():
            pause_s = self.send_what_is_due()
            for ready in select.select([self.listener, *kept], [], [], min(pause_s, 0.05))[0]:
                if ready is self.listener:
                    kept[self.listener.accept()[0]] = b""
                    continue
                try:
                    more = ready.recv(4096)
                except OSError:
                    more = b""
                if not more:
                    del kept[ready]
                    ready.close()
                    continue
                kept[ready] = self.take(ready, kept[ready] + more)
        for connection in (self.listener, *kept):
            connection.close()


class ModbusTcp(ByTcp):
    """Two registers: the number as a signed 32-bit integer, big end first."""

    def take(self, connection, data):
        while len(data) >= 12:
            request, data = data[:12], data[12:]
            self.asked(connection, lambda number, request=request:
                       request[:4] + struct.pack(">HBBB", 7, request[6], request[7], 4) + struct.pack(">i", number))
        return data


class OfText:
    """One line: the number in hundredths. Asked for its model it names that, and counts nothing."""

    def bar(self, number):
        return f"{number / 100:.2f}"

    def take(self, channel, data):
        while b"\r\n" in data:
            line, data = data.split(b"\r\n", 1)
            if line == b"MODEL?":
                due = max(time.monotonic(), self.last_due) if self.one_after_the_other else time.monotonic()
                self.waiting.append((due, 0, channel, b"Invented digital gauge DG-1000\r\n"))
            else:
                self.asked(channel, lambda number: f"  {self.bar(number)} bar\r\n".encode())
        return data


class TextLine(OfText, ByTcp):
    pass


class OnTerminal(Counting):
    """Serves a pseudo-terminal behind a link."""

    one_after_the_other = True

    def __init__(self, link, late_s=lambda number: 0.0):
        super().__init__(late_s)
        self.near, self.far = os.openpty()
        tty.setraw(self.far)
        link.parent.mkdir(exist_ok=True)
        link.symlink_to(os.ttyname(self.far))

    def work(self):
        kept = b""
        while not self.over.is_set():
            pause_s = self.send_what_is_due()
            if select.select([self.near], [], [], min(pause_s, 0.05))[0]:
                kept = self.take(self.near, kept + os.read(self.near, 4096))
        os.close(self.near)
        os.close(self.far)

    def write(self, channel, answer):
        os.write(channel, answer)


class TextSerial(OfText, OnTerminal):
    pass


class ModbusRtu(OnTerminal):
    """The number as a float in 1/128, low word first, then registers without anything to report."""

    def take(self, channel, data):
        while len(data) >= 8:
            request, data = data[:8], data[8:]
            if crc_of(request[:6]) != request[6:]:
                return b""
            self.asked(channel, lambda number, request=request: self.answer(request, number))
        return data

    def bar(self, number):
        return number / 128

    def answer(self, request, number):
        address, count = struct.unpack(">HH", request[2:6])
        high, low = struct.unpack(">HH", struct.pack(">f", self.bar(number)))
        registers = {0: low, 1: high}
        words = [registers.get(address + i, 0) for i in range(count)]
        body = request[:2] + bytes([2 * count]) + struct.pack(f">{count}H", *words)
        return body + crc_of(body)
