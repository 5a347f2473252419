"""A headless Chromium spoken to over its DevTools pipe; standard library only."""

import base64
import json
import os
import subprocess
import tempfile
import time


class Chromium:
    """One browser; commands are answered in order, events are kept."""

    def __init__(self, program):
        self.profile = tempfile.TemporaryDirectory(prefix="seep-browser-")
        to_read, self.to = os.pipe()
        self.back, back_write = os.pipe()
        flags = [
            program, "--headless=new", "--remote-debugging-pipe", "--no-sandbox",
            "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run", "--no-default-browser-check",
            "--disable-background-networking", "--disable-component-update", "--disable-sync",
            "--hide-scrollbars", "--force-color-profile=srgb", f"--user-data-dir={self.profile.name}",
            "about:blank",
        ]

        def wire():
            # The pipe is expected on descriptors 3 (in) and 4 (out).
            read, write = os.dup(to_read), os.dup(back_write)
            read, write = os.dup2(read, 30), os.dup2(write, 31)
            os.dup2(read, 3)
            os.dup2(write, 4)

        self.process = subprocess.Popen(
            flags, preexec_fn=wire, pass_fds=(3, 4), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        os.close(to_read)
        os.close(back_write)
        self.number = 0
        self.rest = b""
        self.events = []
        self.session = None
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self.session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")

    def message(self, until):
        while b"\0" not in self.rest:
            if time.monotonic() > until:
                raise TimeoutError("the browser does not answer")
            piece = os.read(self.back, 1 << 16)
            if not piece:
                raise EOFError("the browser is gone")
            self.rest += piece
        line, self.rest = self.rest.split(b"\0", 1)
        return json.loads(line)

    def call(self, method, **params):
        self.number += 1
        ask = {"id": self.number, "method": method, "params": params}
        if self.session:
            ask["sessionId"] = self.session
        os.write(self.to, json.dumps(ask).encode() + b"\0")
        until = time.monotonic() + 120
        while True:
            got = self.message(until)
            if got.get("id") == self.number:
                if "error" in got:
                    raise RuntimeError(f"{method}: {got['error']}")
                return got["result"]
            self.events.append(got)

    def screen(self, width, height, dark):
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height,
                  deviceScaleFactor=1, mobile=width < 700)
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.call("Emulation.setEmulatedMedia", features=[scheme])

    def open(self, url):
        self.events.clear()
        self.call("Page.navigate", url=url)
        until = time.monotonic() + 120
        while not any(e.get("method") == "Page.loadEventFired" for e in self.events):
            self.events.append(self.message(until))

    def js(self, expression):
        got = self.call("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in got:
            raise RuntimeError(got["exceptionDetails"])
        return got["result"].get("value")

    def key(self, key, code=None, shift=False, text=None):
        for kind in ("keyDown", "keyUp"):
            params = {"type": kind, "key": key, "code": code or key, "modifiers": 8 if shift else 0}
            virtual = {"Tab": 9, "Enter": 13, " ": 32, "ArrowRight": 39, "ArrowLeft": 37, "+": 187}.get(key)
            if virtual:
                params["windowsVirtualKeyCode"] = virtual
            if kind == "keyDown" and text:
                params["text"] = text
            self.call("Input.dispatchKeyEvent", **params)

    def picture(self, path):
        size = self.call("Page.getLayoutMetrics")["cssContentSize"]
        clip = {"x": 0, "y": 0, "width": size["width"], "height": min(size["height"], 15000), "scale": 1}
        got = self.call("Page.captureScreenshot", format="png", captureBeyondViewport=True, clip=clip)
        with open(path, "wb") as out:
            out.write(base64.b64decode(got["data"]))

    def pdf(self, path):
        got = self.call("Page.printToPDF", preferCSSPageSize=True, printBackground=False)
        data = base64.b64decode(got["data"])
        with open(path, "wb") as out:
            out.write(data)
        return data

    def close(self):
        self.session = None
        try:
            self.call("Browser.close")
        except (EOFError, OSError, TimeoutError):
            pass
        self.process.wait(timeout=30)
        self.profile.cleanup()
