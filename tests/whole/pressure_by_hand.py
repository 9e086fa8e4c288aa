"""Gauges on a network line whose pressure a test sets: no piston and no oil, so that any gross error can be made."""
import contextlib
import select
import socket
import threading


class GaugeByHand:
    """Answers as the house's invented digital gauge does; shows `bar`."""

    def __init__(self, port):
        self.bar = 0.0
        self.over = threading.Event()
        self.listener = socket.create_server(("127.0.0.1", port))
        self.thread = threading.Thread(target=self.work, daemon=True)

    def __enter__(self):
        self.thread.start()
        return self

    def __exit__(self, *_):
        self.over.set()
        self.thread.join(10)

    def answer(self, request):
        return b"Invented digital gauge DG-1000\r\n" if request == b"MODEL?" else f"{self.bar:9.2f} bar\r\n".encode()

    def work(self):
        kept = {}
        while not self.over.is_set():
            for ready in select.select([self.listener, *kept], [], [], 0.05)[0]:
                if ready is self.listener:
                    kept[self.listener.accept()[0]] = b""
                    continue
                with contextlib.suppress(OSError):
                    more = ready.recv(4096)
                    if more:
                        *whole, kept[ready] = (kept[ready] + more).split(b"\r\n")
                        for request in whole:
                            ready.sendall(self.answer(request))
                        continue
                del kept[ready]
                ready.close()
        for connection in (self.listener, *kept):
            connection.close()


def bench_by_hand(bench):
    """The bench with its digital gauge twice, each on a port of its own. Gives their ports."""
    gauge = next(one for one in bench["instruments"] if one["name"] == "digital gauge C")
    bus = next(one for one in bench["buses"] if one["name"] == gauge["bus"])
    from whole.bench_at_work import free_port
    bus["port"] = free_port()
    other = {**bus, "name": bus["name"] + " again", "port": free_port()}
    bench["buses"].append(other)
    bench["instruments"].append({**gauge, "name": "digital gauge E", "serial": "INV-E-505", "bus": other["name"]})
    return bus["port"], other["port"]
