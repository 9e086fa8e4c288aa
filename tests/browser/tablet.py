"""A tablet at the bench: the page in Debian's Chromium, worked by taps and keys as a person works it."""
import os
import shutil
import tempfile
import time
from pathlib import Path

from selenium import webdriver
from selenium.common.exceptions import StaleElementReferenceException
from selenium.webdriver import ActionChains
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By

from whole import bench_at_work

SHOTS = Path(os.environ.get("STILLMARK_SHOTS") or Path(os.environ["STILLMARK_BUILD"]) / "screenshots")
SIZES = {"phone": (360, 740), "tablet": (1280, 800), "laptop": (1366, 768), "wall": (3840, 2160)}
# A press counts only after the step has stood so long; a person needs longer anyway.
READING_TIME_S = 0.35

# So many times longer than on an idle machine everything may take. A bound ends what hangs, it measures nothing.
PATIENCE = 6


def wait_until(condition, within_s, what):
    return bench_at_work.wait_until(condition, PATIENCE * within_s, what)


# A busy machine shows a frame late or a step changes under the finger: then a person looks and presses again.
LATE = ("What stands here is old", "The step changed as you pressed", "is still on its way", "look again and press again")

# What the page says of presses, kept in order: the words themselves go away after some seconds.
LISTEN = """
if (window.said) return;
window.said = [];
new MutationObserver(() => {
  const text = document.getElementById("message").textContent;
  if (text) window.said.push(text);
}).observe(document.getElementById("message"), {childList: true, characterData: true, subtree: true});
window.alarmsHeard = [];
new MutationObserver(() => window.alarmsHeard.push(document.getElementById("alarm-words").textContent))
  .observe(document.getElementById("alarm-words"), {childList: true, characterData: true, subtree: true});
"""


# The tests' hands state discs and float by themselves, unless they are told to spare a press.
THREE_PRESSES = """localStorage.getItem("stillmark-settings") ||
localStorage.setItem("stillmark-settings", JSON.stringify({onePress: false}));"""


# A frame passes through `window.alterFrame` where a test has set one: what no bench of a test can show by itself.
ALTERED_FRAMES = """
const Real = WebSocket;
window.WebSocket = class extends Real {
  set onmessage(heard) {
    super.onmessage = (message) => {
      const json = JSON.parse(message.data);
      if (window.alterFrame && json.frame) json.frame = window.alterFrame(json.frame) ?? json.frame;
      heard({data: JSON.stringify(json)});
    };
  }
};"""


class Tablet:
    def __init__(self, url, size="tablet", dark=False, presses=3, altered=False):
        self.folder = tempfile.mkdtemp(prefix="stillmark-chromium-")
        options = Options()
        width, height = SIZES[size]
        for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
                         "--disable-component-update", "--no-first-run", "--disable-dev-shm-usage", "--hide-scrollbars",
                         f"--window-size={width},{height}", f"--user-data-dir={self.folder}"):
            options.add_argument(argument)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        self.driver = webdriver.Chrome(service=Service("/usr/bin/chromedriver"), options=options)
        self.driver.set_script_timeout(20)
        if presses == 3:
            self.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": THREE_PRESSES})
        if altered:
            self.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": ALTERED_FRAMES})
        self.resize(size)
        if dark:
            self.go_dark()
        self.url = url
        self.console = []

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.driver.quit()
        shutil.rmtree(self.folder, ignore_errors=True)

    def resize(self, size):
        width, height = SIZES[size] if isinstance(size, str) else size
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride",
                                    {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False})

    def go_dark(self, dark=True):
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [
            {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}]})

    def open(self, view="now", live=True):
        self.driver.get(f"{self.url}/#{view}")
        self.run(LISTEN)
        if live:
            self.until_live()
        return self

    def reload(self):
        self.driver.refresh()
        self.run(LISTEN)
        self.until_live()

    def until_live(self, within_s=20):
        wait_until(self.is_live, within_s, "the page shows live readings")

    def is_live(self):
        return not self.run("return document.body.classList.contains('away')")

    def run(self, script, *arguments):
        return self.driver.execute_script(script, *arguments)

    def module(self, expression, name, *arguments):
        """What an expression over a module of the page gives: `m` is the module, `a` the arguments."""
        found = self.driver.execute_async_script(
            "const [name, a, done] = arguments;"
            "import('/page/' + name).then((m) => { done([true, (" + expression + ")]); })"
            ".catch((e) => done([false, String(e)]));", name, list(arguments))
        if not found[0]:
            raise AssertionError(f"{name}: {expression}: {found[1]}")
        return found[1]

    def text(self, element):
        return self.run("const e = document.getElementById(arguments[0]); return e && !e.hidden ? e.innerText.trim() : '';", element)

    @property
    def label(self):
        return self.run("return document.getElementById('big-label').textContent")

    @property
    def title(self):
        return self.text("step-title")

    @property
    def alarms(self):
        return self.text("alarms")

    def said(self):
        return self.run("return window.said")

    def until_label(self, *labels, within_s=10):
        """The big control means one of these at one step, and has for as long as a person needs to read it."""
        def stands():
            first = self.label, self.text("step-count"), self.title
            if first[0] not in labels:
                return None
            time.sleep(READING_TIME_S)
            return first[0] if (self.label, self.text("step-count"), self.title) == first else None
        return wait_until(stands, within_s, lambda: f"one of {labels}; it says {self.label!r} at {self.title!r}; alarms: "
                                                    f"{self.alarms!r}; last said: {self.said()[-3:]}")

    def tap(self, selector):
        """A tap where the element is, as a finger does it: what lies over it gets the tap."""
        for attempt in range(3):
            try:
                self.driver.find_element(By.CSS_SELECTOR, selector).click()
                return
            except StaleElementReferenceException:
                if attempt == 2:
                    raise

    def key(self, keys):
        ActionChains(self.driver).send_keys(keys).perform()

    #: Why this person goes on where the instruments contradict a press; None: he looks again.
    reason = None

    @property
    def contradiction(self):
        """What the instruments say against the press, as the dialog shows it; empty where none is shown."""
        return self.run("const one = document.querySelector('#dialog .contradicted'); return one ? one.closest('dialog').innerText : ''")

    def press(self, how="tap", once=False, reason=None, on_contradiction=None):
        """The big control, by a tap or by a key; gives what the page says of it. Unless `once`, it is pressed again where
        the press came late for what it was meant for, and the control still means the same. Where the instruments
        contradict it: without a `reason` the person looks again, with one goes on; `on_contradiction()` may look on."""
        label = self.label
        for _ in range(20):
            count = len(self.said())
            if how == "tap":
                self.tap("#big")
            else:
                self.key(how)
            said = self.answer(count, reason=reason or self.reason, on_contradiction=on_contradiction)
            if once or not any(words in said for words in LATE):
                return said
            self.until_live()
            time.sleep(READING_TIME_S)
            if self.label != label:
                return said
        raise AssertionError(f"{label!r} never counts: {said}")

    def answer(self, count, within_s=12, reason=None, on_contradiction=None):
        """What the page says next. It gives up by itself after 10 s and says why."""
        def words():
            return f"the page says what came of it; at {self.title!r}, {self.label!r}"
        if wait_until(lambda: self.said()[count:] or self.contradiction, within_s, words) and self.contradiction:
            if on_contradiction:
                on_contradiction()
            if reason or self.reason:
                reason = reason or self.reason
                self.tap("#dialog form input")
                self.key(reason)
                self.key("\ue007")  # Enter
            else:
                self.tap("#dialog button.first")
        return wait_until(lambda: self.said()[count:], within_s, words)[-1]

    def settled(self, still_frames=4, within_s=10):
        """Waits until the layout has been the same for some drawn frames, however long the machine takes for one."""
        self.driver.set_script_timeout(within_s)
        self.driver.execute_async_script("""
          const [wanted, done] = arguments;
          const layout = () => [innerWidth, innerHeight, getComputedStyle(document.body).color,
            ...["step", "alarms", "bar", "channels"].map((id) => JSON.stringify(document.getElementById(id).getBoundingClientRect())),
            document.getElementById("step").style.cssText].join();
          let last = "", same = 0;
          const look = () => {
            const now = layout();
            same = now === last ? same + 1 : 0;
            last = now;
            if (same >= wanted) done(); else requestAnimationFrame(look);
          };
          look();""", still_frames)
        self.driver.set_script_timeout(20)

    def shot(self, name):
        SHOTS.mkdir(parents=True, exist_ok=True)
        self.driver.save_screenshot(str(SHOTS / f"{name}.png"))

    def shots(self, name, sizes=("phone", "tablet", "wall")):
        """The page as it is now in each size, light and dark."""
        for size in sizes:
            self.resize(size)
            for dark in (False, True):
                self.go_dark(dark)
                self.settled()
                self.shot(f"{name}-{size}-{'dark' if dark else 'light'}")
        self.go_dark(False)
        self.resize("tablet")

    def console_errors(self, allowed=()):
        """What the browser complains of; a service that is away, and a refusal, are no fault of the page."""
        self.console += self.driver.get_log("browser")
        return [one["message"] for one in self.console if one["level"] in ("SEVERE", "WARNING")
                and not any(words in one["message"] for words in allowed)]


AWAY = ("WebSocket connection to", "net::ERR_", "Failed to load resource")
REFUSED = ("status of 409", "status of 400")
