"""How wide what is printed may be: a telephone's terminal is half as wide as a desk's."""

from __future__ import annotations

import json
import os
import shutil
import sys
from typing import Any

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
