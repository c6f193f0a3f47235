"""Runs the accessibility checker on a page that a browser shows."""

from __future__ import annotations

import os
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from tests.end_to_end.browser import Browser

WHERE = "axe-core is not there: pip install axe-core-python, or set AXE_SCRIPT to its file"


def _script() -> Path | None:
    """Return the checker: the file that AXE_SCRIPT names, else the one that comes with the test extra."""
    if "AXE_SCRIPT" in os.environ:
        return Path(os.environ["AXE_SCRIPT"])
    spec = find_spec("axe_core_python")
    folders = spec.submodule_search_locations if spec else None
    return next((path for path in (Path(f) / "axe.min.js" for f in folders or ()) if path.is_file()), None)


AXE = _script()


def faults(browser: Browser) -> list[Any]:
    """Return what the checker complains about: rule, weight, the beginning of the first element."""
    assert AXE is not None
    browser.run(AXE.read_text(encoding="utf-8"))
    return browser.run(
        "axe.run().then(r => r.violations.map(v => `${v.id} ${v.impact} ${v.nodes[0].html.slice(0, 200)}`))"
    )
