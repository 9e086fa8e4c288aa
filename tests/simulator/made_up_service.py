"""What made-up services for the scripted operator have in common: a socket, and one thread a client."""
import json
import socket
import threading
import time


class MadeUpService:
    """A derived class gives `frame()` and `answer(request)`."""

    def __init__(self, path):
        self.told, self.started = [], False
        self.listening = socket.socket(socket.AF_UNIX)
        self.listening.bind(path)
        self.listening.listen()
        threading.Thread(target=self.accept, daemon=True).start()

    def accept(self):
        while True:
            try:
                client = self.listening.accept()[0]
            except OSError:
                return
            threading.Thread(target=self.serve, args=(client,), daemon=True).start()

    def close(self):
        self.listening.shutdown(socket.SHUT_RDWR)
        self.listening.close()

    def serve(self, client):
        try:
            with client, client.makefile("rw") as lines:
                self.converse(lines)
        except (OSError, ValueError):
            pass

    def converse(self, lines):
        for line in lines:
            request = json.loads(line)
            while request["do"] == "subscribe":
                lines.write(json.dumps({"frame": self.frame()}) + "\n")
                lines.flush()
                time.sleep(0.05)
            lines.write(json.dumps({"id": request["id"], **self.answer(request)}) + "\n")
            lines.flush()

    def of(self, what):
        return [request for request in self.told if request["do"] == what]
