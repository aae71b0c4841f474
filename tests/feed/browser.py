"""Drives a headless Chromium through its debugging pipe (Chrome DevTools Protocol)."""
import base64
import json
import os
import select
import shutil
import subprocess
import tempfile
import time

FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync",
         "--disable-extensions", "--hide-scrollbars", "--remote-debugging-pipe", "about:blank"]


def find():
    """The browser's path, or None."""
    return shutil.which("chromium")


class Browser:
    def __init__(self):
        self.folder = tempfile.mkdtemp()
        there, self.out = os.pipe()
        self.back, here = os.pipe()

        def place():
            os.dup2(there, 13)
            os.dup2(here, 14)
            os.dup2(13, 3)
            os.dup2(14, 4)

        self.process = subprocess.Popen(
            [find(), *FLAGS, f"--user-data-dir={self.folder}"], close_fds=False, preexec_fn=place,
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        os.close(there)
        os.close(here)
        self.number = 0
        self.pending = b""
        self.events = []
        target = self.send("Target.createTarget", {"url": "about:blank"}, None)["targetId"]
        self.session = None
        self.session = self.send("Target.attachToTarget", {"targetId": target, "flatten": True},
                                 None)["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log", "Accessibility"):
            self.send(f"{domain}.enable")

    def receive(self, deadline):
        while b"\0" not in self.pending:
            left = deadline - time.monotonic()
            if left <= 0 or not select.select([self.back], [], [], left)[0]:
                raise TimeoutError("the browser does not answer")
            got = os.read(self.back, 1 << 20)
            if not got:
                raise EOFError("the browser has ended")
            self.pending += got
        line, self.pending = self.pending.split(b"\0", 1)
        return json.loads(line)

    def send(self, method, params=None, session=""):
        self.number += 1
        message = {"id": self.number, "method": method, "params": params or {}}
        if session is not None and self.session:
            message["sessionId"] = self.session
        os.write(self.out, json.dumps(message).encode() + b"\0")
        deadline = time.monotonic() + 60
        while True:
            answer = self.receive(deadline)
            if answer.get("id") == self.number:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']}")
                return answer["result"]
            self.events.append(answer)

    def open(self, url, width=1440, height=900, scheme="dark"):
        self.send("Emulation.setDeviceMetricsOverride",
                  {"width": width, "height": height, "deviceScaleFactor": 1,
                   "mobile": width < 600})
        self.send("Emulation.setEmulatedMedia",
                  {"features": [{"name": "prefers-color-scheme", "value": scheme}]})
        self.send("Page.navigate", {"url": url})

    def value(self, expression):
        result = self.send("Runtime.evaluate", {"expression": expression, "returnByValue": True,
                                                "awaitPromise": True})
        if "exceptionDetails" in result:
            raise RuntimeError(result["exceptionDetails"])
        return result["result"].get("value")

    def wait(self, expression, seconds=20):
        """Until the expression is true; its value."""
        deadline = time.monotonic() + seconds
        while True:
            try:
                value = self.value(expression)
            except RuntimeError:
                value = None
            if value:
                return value
            if time.monotonic() > deadline:
                raise TimeoutError(f"never true: {expression}\n{self.value('document.body.innerText')}")
            select.select([], [], [], 0.02)

    def picture(self, path, full=False):
        data = self.send("Page.captureScreenshot", {"captureBeyondViewport": full, "format": "png"} | (
            {"clip": {**self.size(), "scale": 1}} if full else {}))["data"]
        with open(path, "wb") as file:
            file.write(base64.b64decode(data))

    def size(self):
        size = self.send("Page.getLayoutMetrics")["cssContentSize"]
        return {"x": 0, "y": 0, "width": size["width"], "height": size["height"]}

    def close(self):
        try:
            self.send("Browser.close", None, None)
            self.process.wait(10)
        except (EOFError, TimeoutError, OSError, RuntimeError, subprocess.TimeoutExpired):
            self.process.kill()
            self.process.wait()
        os.close(self.out)
        os.close(self.back)
        shutil.rmtree(self.folder, ignore_errors=True)
