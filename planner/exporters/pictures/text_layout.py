"""Estimates how wide a text prints and how many lines it takes, so that rows get the height they need."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from functools import lru_cache

_WIDTHS = (
    "278 278 355 556 556 889 667 191 333 333 389 584 278 333 278 278 556 556 556 556 556 556 556 556 556 556 278 278 "
    "584 584 584 556 1015 667 667 722 722 667 611 778 722 278 500 667 556 833 722 778 667 778 722 667 611 722 667 944 "
    "667 667 611 278 278 278 469 556 333 556 556 500 556 556 278 556 556 222 222 500 222 833 556 556 556 556 333 500 "
    "278 556 500 722 500 500 500 334 260 334 584"
)
"""Advance widths of the sans-serif text font, U+0020 to U+007E, in thousandths of its size."""

_BOLD_WIDTHS = (
    "278 333 474 556 556 889 722 238 333 333 389 584 278 333 278 278 556 556 556 556 556 556 556 556 556 556 333 333 "
    "584 584 584 611 975 722 722 722 722 667 611 778 722 278 556 722 611 833 722 778 667 778 722 667 611 722 667 944 "
    "667 667 611 333 278 333 584 556 333 556 611 556 611 556 333 611 611 278 278 556 278 889 611 611 611 611 389 556 "
    "333 611 556 778 556 556 500 389 280 389 584"
)

_ASCII = {chr(32 + i): int(width) for i, width in enumerate(_WIDTHS.split())}
_ASCII_BOLD = {chr(32 + i): int(width) for i, width in enumerate(_BOLD_WIDTHS.split())}
_ASCII["\u00a0"], _ASCII_BOLD["\u00a0"] = _ASCII[" "], _ASCII_BOLD[" "]
_OTHER, _WIDE = 720, 1050
_SAFETY = 1.01
"""Programs that show the sheet round widths to pixels, and may use another font."""

LINE = 1.28
"""Height of a line, in sizes of the font: what the common spreadsheet programs give a wrapped line."""
ONE_LINE = 1.2
"""Height of a text on one line, in the middle of its row: its letters need 1.12, with those below the line."""
_TALL_LINE = 1.6
"""For scripts whose fonts stand taller than the Latin ones."""

_LATIN_LIKE = 0x0590
"""Latin, Greek and Cyrillic lie below; what lies above may need taller lines, punctuation excepted."""


def text_width_pt(text: str, size_pt: float, *, bold: bool = False) -> float:
    """Return the estimated width of a text on one line, in points."""
    return sum(_char_width(char, bold) for char in text) * size_pt / 1000 * _SAFETY


def wrap(text: str, width_pt: float, size_pt: float, *, bold: bool | Sequence[bool] = False) -> list[str]:
    """Return the lines that a text takes in a cell of this width; words wider than the cell are broken.

    ``bold`` is said for the whole text or for each of its characters.
    """
    weights = [bold] * len(text) if isinstance(bold, bool) else bold
    lines: list[str] = []
    begin = 0
    for paragraph in text.split("\n"):
        part = weights[begin : begin + len(paragraph)]
        begin += len(paragraph) + 1
        widths = [_char_width(c, b) * size_pt / 1000 * _SAFETY for c, b in zip(paragraph, part, strict=True)]
        lines += _wrap_paragraph(paragraph, widths, width_pt)
    return lines


def height_pt(text: str, width_pt: float, size_pt: float, *, bold: bool | Sequence[bool] = False) -> float:
    """Return the estimated height of a wrapped text, in points."""
    lines = len(wrap(text, width_pt, size_pt, bold=bold))
    factor = _TALL_LINE if any(_is_tall(char) for char in text) else ONE_LINE if lines == 1 else LINE
    return lines * size_pt * factor


def _wrap_paragraph(text: str, widths: Sequence[float], room: float) -> list[str]:
    lines: list[str] = []
    begin = 0
    for first, last in _words(text):
        if sum(widths[begin:last]) <= room:
            continue
        if first > begin:
            lines.append(text[begin:first].rstrip())
        begin = first + len(text[first:last]) - len(text[first:last].lstrip())
        used = 0.0
        for at in range(begin, last):
            if at > begin and used + widths[at] > room:
                lines.append(text[begin:at])
                begin, used = at, 0.0
            used += widths[at]
    lines.append(text[begin:])
    return lines


def _words(paragraph: str) -> list[tuple[int, int]]:
    """Return the pieces between which a line may break: before a blank, after a hyphen between letters."""
    pattern = r" *[^ -]*(?:-+(?=[^\W\d])|-+[^ -]*)*"
    return [match.span() for match in re.finditer(pattern, paragraph) if match[0]]


@lru_cache(maxsize=4096)
def _char_width(char: str, bold: bool) -> int:
    known = _ASCII_BOLD if bold else _ASCII
    if char in known:
        return known[char]
    if unicodedata.combining(char):
        return 0
    base = unicodedata.normalize("NFD", char)[0]
    if base in known:
        return known[base]
    return _WIDE if unicodedata.east_asian_width(char) in "WF" else _OTHER


def _is_tall(char: str) -> bool:
    return ord(char) >= _LATIN_LIKE and not 0x1E00 <= ord(char) <= 0x27FF
