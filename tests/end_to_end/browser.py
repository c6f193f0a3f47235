"""Drives an installed Chromium through its debugging pipe, so that tests need no library and no network."""

from __future__ import annotations

import itertools
import json
import os
import subprocess
import tempfile
import time
from pathlib import Path
from typing import Any

from planner.exporters.page.pdf import find_browser

FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--remote-debugging-pipe",
)


class Browser:
    """One browser with one page; use it with ``with``. Downloads go to ``folder``."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._profile = tempfile.TemporaryDirectory(ignore_cleanup_errors=True)  # the browser may still write there
        to_browser, self._from_browser = os.pipe(), os.pipe()
        command = [find_browser() or "", *FLAGS, f"--user-data-dir={self._profile.name}"]
        reads, writes = to_browser[0], self._from_browser[1]
        # The browser reads commands from descriptor 3 and answers on descriptor 4.
        script = f'exec "$@" 3<&{reads} 4>&{writes}'
        self._process = subprocess.Popen(
            ["bash", "-c", script, "browser", *command],
            pass_fds=(reads, writes),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(reads)
        os.close(writes)
        self._to = to_browser[1]
        self._buffer = b""
        self._numbers = itertools.count(1)
        self.events: list[dict[str, Any]] = []
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.call(f"{domain}.enable")
        self.call("Browser.setDownloadBehavior", behavior="allow", downloadPath=str(folder))

    def __enter__(self) -> Browser:
        return self

    def __exit__(self, *_: object) -> None:
        os.close(self._to)
        self._process.terminate()
        self._process.wait(timeout=20)
        os.close(self._from_browser[0])
        self._profile.cleanup()

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        """Send a command and return its result; events that come in between are kept."""
        number = next(self._numbers)
        message: dict[str, Any] = {"id": number, "method": method, "params": params}
        if hasattr(self, "_session") and not method.startswith(("Target.", "Browser.")):
            message["sessionId"] = self._session
        os.write(self._to, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._receive()
            if answer.get("id") == number:
                assert "error" not in answer, answer
                return answer["result"]
            self.events.append(answer)

    def _receive(self) -> dict[str, Any]:
        while b"\0" not in self._buffer:
            data = os.read(self._from_browser[0], 1 << 16)
            assert data, "the browser has ended"
            self._buffer += data
        text, _, self._buffer = self._buffer.partition(b"\0")
        return json.loads(text)

    def open(self, page: Path, *, width: int = 390, height: int = 844, scripts: bool = True) -> None:
        """Open a page as a phone shows it."""
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=True)
        self.call("Emulation.setScriptExecutionDisabled", value=not scripts)
        self.call("Page.navigate", url=page.as_uri())
        self._settle()

    def reload(self) -> None:
        """Load the page again."""
        self.call("Page.reload")
        self._settle()

    def _settle(self) -> None:
        deadline_s = time.monotonic() + 60
        while not any(event.get("method") == "Page.loadEventFired" for event in self.events):
            assert time.monotonic() < deadline_s, "the page did not load"
            self.events.append(self._receive())
        self.seen = [event for event in self.events if event.get("method") != "Page.loadEventFired"]
        self.events = list(self.seen)

    def run(self, script: str) -> Any:
        """Return the value of a script, promises awaited."""
        done = self.call("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in done, done["exceptionDetails"]
        return done["result"].get("value")

    def requests(self) -> list[str]:
        """Return every address that was asked for."""
        return [e["params"]["request"]["url"] for e in self.events if e.get("method") == "Network.requestWillBeSent"]
