"""A headless Chromium for looking at pages: told over two pipes, offline, with a profile that is thrown away."""

from __future__ import annotations

import base64
import json
import os
import shutil
import subprocess
import tempfile
import threading
from pathlib import Path
from types import TracebackType
from typing import Any

import pytest

LONGEST_S = 60.0
PROGRAM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage", "--remote-debugging-pipe", "about:blank",
)  # fmt: skip


class Browser:
    """One page. ``requests`` are the addresses it asked for, ``complaints`` what its console and its errors said."""

    def __init__(self) -> None:
        if PROGRAM is None:
            pytest.skip("chromium is not installed (apt-get install chromium)")
        self._folder = tempfile.mkdtemp(prefix="browser-")
        told_r, self._told = os.pipe()
        heard_r, heard_w = os.pipe()
        os.set_inheritable(told_r, True)
        os.set_inheritable(heard_w, True)
        # Chromium reads its orders from descriptor 3 and answers on 4.
        script = f'exec "$@" 3<&{told_r} 4>&{heard_w}'
        self._process = subprocess.Popen(
            ["bash", "-c", script, "bash", PROGRAM, f"--user-data-dir={self._folder}", *FLAGS],
            pass_fds=(told_r, heard_w), stderr=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(told_r)
        os.close(heard_w)
        self._heard = os.fdopen(heard_r, "rb", buffering=0)
        self._watchdog = threading.Timer(LONGEST_S, self._process.kill)
        self._watchdog.start()
        self._rest, self._number, self._session = b"", 0, ""
        self.requests: list[str] = []
        self.complaints: list[str] = []
        target = next(t for t in self.ask("Target.getTargets")["targetInfos"] if t["type"] == "page")
        self._session = self.ask("Target.attachToTarget", targetId=target["targetId"], flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.ask(f"{domain}.enable")

    def __enter__(self) -> Browser:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._watchdog.cancel()
        try:
            if kind is None:
                self.ask("Browser.close")
                self._process.wait(10.0)
        finally:
            self._process.kill()
            self._process.wait(10.0)
            os.close(self._told)
            self._heard.close()
            self._watchdog.join()
            shutil.rmtree(self._folder, ignore_errors=True)

    def ask(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Send one order and return its answer; what happens meanwhile is noted."""
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": parameters}
        if self._session and not method.startswith(("Target.", "Browser.")):
            message["sessionId"] = self._session
        os.write(self._told, json.dumps(message).encode() + b"\0")
        while True:
            told = self._next()
            if told.get("id") == self._number:
                assert "error" not in told, told
                found: dict[str, Any] = told["result"]
                return found

    def open(
        self, path: Path, *, width: int = 1100, height: int = 900, dark: bool = False, touch: bool = False
    ) -> None:
        """Show a file at a size, in light or dark."""
        self.ask("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=touch)
        self.ask("Emulation.setTouchEmulationEnabled", enabled=touch)
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.ask("Emulation.setEmulatedMedia", features=[scheme])
        self.requests.clear()
        self.complaints.clear()
        self.ask("Page.navigate", url=path.absolute().as_uri())
        while self.run("document.readyState") != "complete":
            pass

    def run(self, script: str) -> Any:
        """Return the value of an expression in the page."""
        answer = self.ask("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in answer, answer
        return answer["result"].get("value")

    def key(self, name: str) -> None:
        """Press and release a key."""
        for kind in ("keyDown", "keyUp"):
            self.ask("Input.dispatchKeyEvent", type=kind, key=name, code=name)

    def picture(self, path: Path, *, whole: bool = True) -> None:
        """Write what is seen as PNG."""
        answer = self.ask("Page.captureScreenshot", format="png", captureBeyondViewport=whole)
        path.write_bytes(base64.b64decode(answer["data"]))

    def paper(self) -> bytes:
        """Return the page printed as PDF, in the size it asks for."""
        answer = self.ask("Page.printToPDF", preferCSSPageSize=True, printBackground=True)
        return base64.b64decode(answer["data"])

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._rest:
            more = self._heard.read(1 << 20)
            if not more:
                raise AssertionError("the browser has ended")
            self._rest += more
        line, _, self._rest = self._rest.partition(b"\0")
        told: dict[str, Any] = json.loads(line)
        about = told.get("params", {})
        match told.get("method"):
            case "Network.requestWillBeSent":
                self.requests.append(about["request"]["url"])
            case "Runtime.consoleAPICalled" | "Runtime.exceptionThrown" | "Log.entryAdded":
                self.complaints.append(json.dumps(about))
            case _:
                pass
        return told
