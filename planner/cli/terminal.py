"""What is printed on a terminal: findings, JSON, and how wide it may be; a telephone is half as wide as a desk."""

from __future__ import annotations

import json
import os
import shutil
import sys
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from planner.findings import Finding

MAX_SHOWN = 40
"""Findings printed on the terminal; the plan keeps them all."""

WIDEST = 80
"""Columns of a text, however wide the terminal; of a file or a pipe, whose width nobody knows, too."""

NARROWEST = 30
"""Below that a line would hold two or three words."""

BOXES_FROM = 72
"""Columns from which on the help's boxes cut no words off."""


def text_width() -> int:
    """Return the columns that a text may take."""
    if not sys.stdout.isatty() and "COLUMNS" not in os.environ:
        return WIDEST
    return min(WIDEST, max(NARROWEST, shutil.get_terminal_size().columns))


def has_room_for_boxes() -> bool:
    """Return whether help in boxes can be read on this terminal."""
    return shutil.get_terminal_size().columns >= BOXES_FROM


def json_text(data: Any) -> str:
    """Return data as JSON that standard output can hold: with escapes where it is of another code page than UTF-8."""
    is_utf8 = (sys.stdout.encoding or "").lower().replace("-", "").startswith("utf8")
    return json.dumps(data, indent=2, ensure_ascii=not is_utf8)


def print_findings(
    findings: Iterable[Finding],
    *,
    with_notes: bool = False,
    hidden_are: str = "planner check shows them",
    limit: int | None = MAX_SHOWN,
) -> None:
    """Print findings to standard error, errors first; notes only counted unless asked for, long lists cut short.

    ``hidden_are`` says where the notes are that are only counted, ``limit`` how many are printed; None: all.
    """
    from planner.findings import Severity

    ranked = sorted(findings, key=lambda f: list(Severity).index(f.severity))
    shown = [f for f in ranked if with_notes or f.severity is not Severity.NOTE]
    for finding in shown[:limit]:
        print(finding, file=sys.stderr)
    if limit is not None and len(shown) > limit:
        print(f"... and {len(shown) - limit} more findings; the plan file holds them all", file=sys.stderr)
    if hidden := len(ranked) - len(shown):
        notes = "1 note" if hidden == 1 else f"{hidden} notes"
        print(f"{notes} on how files were read: {hidden_are}", file=sys.stderr)
