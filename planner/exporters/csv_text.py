"""A table as CSV text for spreadsheets, without live formulas from data."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

_CONTROL = re.compile(r"[\x00-\x1f\x7f]")
_FORMULA = ("=", "+", "-", "@")


def csv_bytes(rows: Iterable[Sequence[str]]) -> bytes:
    """Return rows of text as CSV (UTF-8 with a byte-order mark, so that spreadsheets read it).

    Text that a spreadsheet would take for a formula gets an apostrophe in front; our reader takes it away again.
    """
    text = io.StringIO()
    csv.writer(text, lineterminator="\r\n").writerows([_cell(cell) for cell in row] for row in rows)
    return text.getvalue().encode("utf-8-sig")


def _cell(text: str) -> str:
    cleaned = _CONTROL.sub(" ", text)
    return f"'{cleaned}" if cleaned.startswith(_FORMULA) else cleaned
