"""What many tests look at: codes of findings, reasons of orders set aside, and the program run as a user runs it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from planner.domain.orders import OrderId
from planner.domain.plan import Reason
from planner.loaders import Loaded

ROOT = Path(__file__).parents[1]


def codes(loaded: Loaded) -> set[str]:
    """Return the codes of all findings."""
    return {f.code for f in loaded.findings}


def reasons(loaded: Loaded) -> dict[OrderId, Reason]:
    """Return why orders are set aside, by number."""
    assert loaded.problem is not None
    return {u.order_id: u.reason for u in loaded.problem.set_aside}


def planner(*arguments: object, cwd: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the program in its own process, as a shell would."""
    return subprocess.run(
        [sys.executable, "-m", "planner", *map(str, arguments)],
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
        capture_output=True,
        text=True,
        check=False,
    )
