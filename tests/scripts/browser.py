# SPDX-License-Identifier: GPL-3.0-or-later
"""Chromium without a window, spoken to over a pipe in its DevTools protocol: one process and one page for
all that a check looks at. Nothing waits for a fixed time, so that a loaded machine is only slower."""
import base64
import fcntl
import json
import os
import shutil
import subprocess
import tempfile

BROWSER = shutil.which("chromium")

# Waits inside the page until an expression is true; the page answers, nobody asks it again and again.
WAIT = """new Promise(resolve => {
  const end = performance.now() + %g;
  const look = () => { if (%s) resolve(true); else if (performance.now() > end) resolve(false);
    else setTimeout(look, 10); };
  look();
})"""

# Key codes of the keys that have no letter.
KEY_CODES = {"ArrowRight": 39, "ArrowLeft": 37, "Escape": 27, "Home": 36, "End": 35}


def pipe_end(number):
    """The same pipe at a number that the shell below does not use itself."""
    high = fcntl.fcntl(number, fcntl.F_DUPFD_CLOEXEC, 40)
    os.close(number)
    return high


class Page:
    """The one page of a browser that this starts and ends."""

    def __init__(self, width=1200, height=1000):
        if not BROWSER:
            raise SystemExit("chromium is needed: scripts/install-packages installs it")
        self.folder = tempfile.TemporaryDirectory()
        its_input, to_it = (pipe_end(end) for end in os.pipe())
        from_it, its_output = (pipe_end(end) for end in os.pipe())
        command = (BROWSER, "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
                   "--no-first-run", "--disable-background-networking", "--disable-extensions",
                   f"--window-size={width},{height}", "--force-device-scale-factor=1", "--hide-scrollbars",
                   f"--user-data-dir={self.folder.name}", "--remote-debugging-pipe", "about:blank")
        self.process = subprocess.Popen(
            ("bash", "-c", f'exec "$@" 3<&{its_input} 4>&{its_output}', "bash") + command,
            pass_fds=(its_input, its_output), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        os.close(its_input)
        os.close(its_output)
        self.to_it, self.from_it = os.fdopen(to_it, "wb"), os.fdopen(from_it, "rb")
        self.count, self.rest, self.session, self.events = 0, b"", None, []
        targets = self.call("Target.getTargets")["targetInfos"]
        target = next(t["targetId"] for t in targets if t["type"] == "page")
        self.session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(domain + ".enable")
        self.call("Emulation.setFocusEmulationEnabled", enabled=True)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.to_it.close()  # The browser ends with its pipe.
        self.from_it.close()
        try:
            self.process.wait(20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        try:
            self.folder.cleanup()
        except OSError:
            pass  # A process of the browser that ends later still writes there.

    def receive(self):
        """The next message of the browser."""
        while b"\0" not in self.rest:
            block = os.read(self.from_it.fileno(), 1 << 20)
            if not block:
                raise RuntimeError("the browser ended")
            self.rest += block
        message, self.rest = self.rest.split(b"\0", 1)
        return json.loads(message)

    def call(self, method, **parameters):
        """One command and its answer; events that come in between are kept."""
        self.count += 1
        message = {"id": self.count, "method": method, "params": parameters}
        if self.session:
            message["sessionId"] = self.session
        self.to_it.write(json.dumps(message).encode() + b"\0")
        self.to_it.flush()
        while True:
            answer = self.receive()
            if answer.get("id") == self.count:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']}")
                return answer["result"]
            if "method" in answer:
                self.events.append(answer)

    def take_events(self, *methods):
        """What was told since the last look under these names; all else is forgotten."""
        taken = [event for event in self.events if event["method"] in methods]
        self.events = []
        return taken

    def load(self, path):
        """Loads a file to the end, its scripts included."""
        self.events = []
        self.call("Page.navigate", url="file://" + path)
        while not any(event["method"] == "Page.loadEventFired" for event in self.events):
            event = self.receive()
            if "method" in event:
                self.events.append(event)

    def run(self, expression):
        """Value of an expression in the page, or of the promise that it is."""
        answer = self.call("Runtime.evaluate", expression=expression, awaitPromise=True, returnByValue=True)
        if "exceptionDetails" in answer:
            raise RuntimeError(f"{expression[:200]}: {answer['exceptionDetails']}")
        return answer["result"].get("value")

    def wait(self, condition, limit_s=300.0):
        """Whether a condition came true; five minutes say that it does not."""
        return self.run(WAIT % (1000.0 * limit_s, condition))

    def hover(self, x, y):
        """Moves the pointer."""
        self.call("Input.dispatchMouseEvent", type="mouseMoved", x=x, y=y)

    def key(self, name):
        """Presses a key where the focus is."""
        key = {"key": name, "windowsVirtualKeyCode": KEY_CODES.get(name, 0)}
        if len(name) == 1:
            key["text"] = name
        self.call("Input.dispatchKeyEvent", type="keyDown", **key)
        self.call("Input.dispatchKeyEvent", type="keyUp", **key)

    def set_dark(self, dark):
        """What the reader prefers."""
        value = "dark" if dark else "light"
        self.call("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": value}])

    def set_size(self, width, height, mobile=False):
        """The window, in CSS pixels."""
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1,
                  mobile=mobile)

    def pdf(self, **options):
        """The page on paper."""
        return base64.b64decode(self.call("Page.printToPDF", printBackground=False, **options)["data"])

    def picture(self, whole=False):
        """What the window shows as a PNG, or the whole page."""
        answer = self.call("Page.captureScreenshot", captureBeyondViewport=whole)
        return base64.b64decode(answer["data"])
