"""Prints the HTML sheet as PDF with a browser that is installed: the extra that this needs is the browser.

A browser was chosen over a PDF library: it prints the very page that people read, so the two cannot disagree, it
shapes every script, breaks pages and numbers them, and it is on most machines already.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
from datetime import datetime
from pathlib import Path

from planner.errors import OutputError

BROWSER_VARIABLE = "PLANNER_BROWSER"
"""Environment variable that names the browser, where it is not found by itself."""

_BY_HAND = "open round-sheet.html in any browser and print it from there"
HOW_TO_INSTALL = (
    "a PDF needs Chromium, Chrome or Edge: install one (such as: apt-get install chromium), or name it in the "
    f"environment variable {BROWSER_VARIABLE}; or {_BY_HAND}"
)

_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge", "microsoft-edge")
_TIMEOUT_S = 120
_QUIET = (
    "--headless",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-pdf-header-footer",
)
"""Nothing but the file is to be opened; the sheet has its own headers."""


def find_browser() -> str | None:
    """Return the program that prints: the one that the environment names, else the first that is installed."""
    named = os.environ.get(BROWSER_VARIABLE, "")
    return shutil.which(named) if named else next((path for name in _NAMES if (path := shutil.which(name))), None)


def page_to_pdf(page: bytes, made: datetime | None = None) -> bytes:
    """Return the page printed as PDF.

    Parameters
    ----------
    page
        The HTML file.
    made
        When the sheet was made, noted in the PDF; None leaves the browser's own time.

    Raises
    ------
    OutputError
        If no browser is installed, or it fails.
    """
    browser = find_browser()
    if browser is None:
        raise OutputError(HOW_TO_INSTALL)
    with tempfile.TemporaryDirectory(prefix="round-sheet-") as folder:
        source, target = Path(folder) / "sheet.html", Path(folder) / "sheet.pdf"
        source.write_bytes(page)
        command = [browser, *_QUIET, *_as_root(), f"--user-data-dir={folder}/profile", f"--print-to-pdf={target}"]
        try:
            done = subprocess.run([*command, source.as_uri()], capture_output=True, timeout=_TIMEOUT_S, check=False)
        except (OSError, subprocess.TimeoutExpired) as error:
            raise OutputError(
                f"{browser} could not print the sheet: {error}; print round-sheet.html by hand"
            ) from error
        if done.returncode != 0 or not target.is_file():
            raise OutputError(
                f"{browser} did not print the sheet (exit {done.returncode}); print round-sheet.html by hand"
            )
        return _noted(target.read_bytes(), made)


def _as_root() -> tuple[str, ...]:
    """Return what the browser asks for where it runs as root, as in containers."""
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    return ("--no-sandbox",) if is_root else ()


def _noted(pdf: bytes, made: datetime | None) -> bytes:
    """Return the PDF with the time of making in place of the browser's, every byte where it was."""
    if made is None:
        return pdf
    offset = made.strftime("%z") or "+0000"
    stamp = f"{made:%Y%m%d%H%M%S}{offset[:3]}'{offset[3:5]}'".encode()
    return re.sub(rb"(/(?:Creation|Mod)Date \(D:)\d{14}[+-]\d\d'\d\d'", lambda found: found[1] + stamp, pdf)
