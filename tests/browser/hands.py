"""The simulator's person works the bench, and presses on the page: what he would tell the service goes through a tablet.

He connects to a socket of this module in place of the service's. Frames and questions pass through as they are; a press is
done on the page by the test's own thread, and he is told what the page said of it.
"""
import contextlib
import json
import queue
import re
import socket
import threading

from browser.tablet import wait_until
from gateway.web import ServedBench

PASSED_ON = ("status", "subscribe", "results", "run_list", "health_list", "surroundings", "health")
# So long the person waits for a reply. It bounds what hangs: a press on the page takes as long as the machine needs.
PATIENCE_S = 180
REPLY_WITHIN_S = PATIENCE_S - 10


class Lines:
    def __init__(self, connection):
        self.connection = connection
        self.stream = connection.makefile("rb")

    def __iter__(self):
        with contextlib.suppress(OSError, ValueError):
            yield from self.stream

    def send(self, line):
        with contextlib.suppress(OSError):
            self.connection.sendall(line)

    def close(self):
        with contextlib.suppress(OSError):
            self.connection.shutdown(socket.SHUT_RDWR)
        self.stream.close()
        self.connection.close()


class PageBench(ServedBench):
    """A bench at work whose person has only the page."""

    def __init__(self, bench, scenario=None):
        if scenario:
            scenario["operator"]["patience"] = f"{PATIENCE_S} s"
        super().__init__(bench, scenario)
        self.hands = self.folder / "hands"
        self.presses = queue.Queue()
        self.listener = None
        self.open = []

    def __exit__(self, *failure):
        if self.listener:
            self.listener.close()
        for lines in self.open:
            lines.close()
        super().__exit__(*failure)

    def start_person(self, **more):
        self.listener = socket.socket(socket.AF_UNIX)
        self.listener.bind(str(self.hands))
        self.listener.listen(8)
        threading.Thread(target=self._accept, daemon=True).start()
        real, self.socket = self.socket, self.hands
        try:
            return self.start_simulator(**more)
        finally:
            self.socket = real

    def _accept(self):
        with contextlib.suppress(OSError):
            while True:
                person = Lines(self.listener.accept()[0])
                self.open.append(person)
                threading.Thread(target=self._serve, args=(person,), daemon=True).start()

    def _serve(self, person):
        service = None
        try:
            for line in person:
                request = json.loads(line)
                if request["do"] not in PASSED_ON:
                    answer = queue.Queue()
                    self.presses.put((request, answer))
                    try:
                        reply = answer.get(timeout=REPLY_WITHIN_S)
                    except queue.Empty:
                        reply = {"ok": False, "code": "refused", "error": "nobody pressed on the page in time"}
                    person.send(json.dumps({**reply, "id": request["id"]}).encode() + b"\n")
                    continue
                if service is None:
                    connection = socket.socket(socket.AF_UNIX)
                    connection.connect(str(self.socket))
                    service = Lines(connection)
                    self.open.append(service)
                    threading.Thread(target=self._pass_back, args=(service, person), daemon=True).start()
                service.send(line)
        except OSError:
            pass
        finally:
            person.close()
            if service:
                service.close()

    @staticmethod
    def _pass_back(service, person):
        for line in service:
            person.send(line)
        person.close()

    def work(self, tablet, within_s, on_press=None, until=None):
        """Does on the page what the person wants, until his run is over (or `until()` holds). Gives the taps and keys by
        kind. `on_press(request)` may look on, or do something in between."""
        done = {}
        presser = Presser(tablet, self)

        def over():
            if until and until():
                return True
            if self.simulator.poll() is not None:
                return True
            with contextlib.suppress(queue.Empty):
                request, answer = self.presses.get(timeout=0.1)
                if on_press:
                    on_press(request)
                answer.put(presser.press(request))
                done[request["do"]] = done.get(request["do"], 0) + 1
            return False

        wait_until(over, within_s, lambda: f"the run goes on at {tablet.title!r}: {tablet.text('step-waits')!r}; {tablet.said()[-3:]}")
        return {"asked": done, "pressed": presser.pressed}


class Presser:
    """One wish of the person, as taps and keys on the page."""

    def __init__(self, tablet, bench):
        self.tablet = tablet
        self.bench = bench
        self.pressed = {}
        self.turn = 0
        self.reason, self.contradicted = None, False

    def count(self, what):
        self.pressed[what] = self.pressed.get(what, 0) + 1

    def how(self):
        """Taps, the space bar and the foot switch in turn: all must do."""
        self.turn += 1
        return ("tap", " ", "\ue00f")[self.turn % 3]  # U+E00F: page down, as WebDriver writes it

    def big(self, *labels):
        self.tablet.until_label(*labels)
        self.count(labels[0])
        return self.tablet.press(self.how(), reason=self.reason, on_contradiction=self.note_contradiction)

    def note_contradiction(self):
        self.contradicted = True

    def press(self, request):
        """He says why it holds all the same in the same way as a press that nothing contradicts: on the page."""
        self.reason, self.contradicted = request.get("reason") if request.get("despite") else None, False
        try:
            said = getattr(self, "do_" + request["do"])(request)
        except AssertionError as failure:
            return {"ok": False, "code": "refused", "error": str(failure)}
        if said.startswith("Recorded"):
            return {"ok": True}
        return {"ok": False, "code": "contradicted" if self.contradicted and not self.reason else "refused", "error": said}

    def do_run_start(self, _):
        return self.big("Start the run")

    def do_step_done(self, _):
        return self.big("Done")

    def do_load(self, _):
        return self.big("Discs are on")

    def do_confirm(self, _):
        return self.big("It floats")

    def do_vented(self, _):
        return self.big("The line is open")

    def do_sighted(self, _):
        return self.big("Still floats")

    def do_lost(self, _):
        count = len(self.tablet.said())
        self.count("Float lost")
        self.tablet.tap("#lost")
        return self.tablet.answer(count)

    def do_check(self, request):
        if "value" not in request:
            return self.big("Begin the check", "Check again")
        self.tablet.until_label("Type what you found")
        self.tablet.key(re.sub(r"[^-0-9.].*", "", request["value"]))
        return self.big("State it")

    def do_go_on(self, request):
        self.tablet.tap(".entry button")
        self.tablet.until_label("Type the reason")
        self.tablet.key(request["reason"])
        self.tablet.until_label("Go on")
        return self.tablet.press("tap")

    def do_enter(self, request):
        """A dial: the keypad for what it shows, one part up and down for what tapping does."""
        number = {key: re.sub(r"\s.*", "", request[key]) for key in ("untapped", "tapped")}
        self.tablet.until_label("Enter the reading")
        self.tablet.key(number["untapped"])
        self.tablet.until_label("Now tap it")
        self.tablet.tap("#big")
        self.tablet.until_label("Send the reading")
        if number["tapped"] != number["untapped"]:
            self.tablet.key(number["tapped"])
        self.count("Send the reading")
        return self.tablet.press("\ue007", reason=self.reason, on_contradiction=self.note_contradiction)  # Enter

    def do_void(self, request):
        """On the page of the marks: the mark by its number, why, and back to the step."""
        tablet = self.tablet
        tablet.tap("nav a[data-view=run]")
        number = f"button[aria-label='mark {request['mark']}, more']"
        wait_until(lambda: tablet.run("return !!document.querySelector(arguments[0])", number), 10, "the mark is in the table")
        tablet.tap(number)
        wait_until(lambda: "Void it" in tablet.text("dialog"), 10, "the mark is shown")
        tablet.run("[...document.querySelectorAll('#dialog button')].find((one) => one.textContent === 'Void it').click()")
        wait_until(lambda: tablet.run("return !!document.querySelector('#dialog input')"), 10, "the reason is asked for")
        count = len(tablet.said())
        tablet.key(request["reason"])
        tablet.key("\ue007")
        said = tablet.answer(count)
        tablet.tap("nav a[data-view=now]")
        return said
